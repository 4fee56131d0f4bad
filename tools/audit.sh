#!/bin/sh
# Ask whether a weakness is known of a package that users get, in the version of the constraints; $1 holds Python, $2 is
# for the program that asks. Where nobody can be asked that is said, and is no failure.
set -eu
tools=$1
folder=$2

[ -d "$folder/pip_audit" ] || "${tools}python" -m pip install --quiet --disable-pip-version-check --target "$folder" 'pip-audit>=2.7,<3' \
    2>/dev/null || {
    echo "known weaknesses: NOT CHECKED, pip-audit cannot be installed here"
    exit 0
}
PYTHONPATH=. "${tools}python" -m tools.audit "$folder"

#!/bin/sh
# Make the virtual environment $2 with the Python $1, and install this checkout into it with what its tests use.
# Debian's Python comes without venv: where it is missing and we may, install it.
set -eu
python=$1
venv=$2

"$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
    echo "wirecue needs Python 3.11 or newer; this is $("$python" --version 2>&1). PYTHON=... names another." >&2
    exit 1
}

make_venv() {
    "$python" -m venv --clear "$venv" >/dev/null 2>&1
}

# One that works is kept: only what it holds is brought up to date.
if ! { "$venv/bin/python" -m pip --version >/dev/null 2>&1 || make_venv; }; then
    echo "python3-venv is missing; installing it ..."
    sh "$(dirname "$0")/as_root.sh" apt-get update -qq
    sh "$(dirname "$0")/as_root.sh" apt-get install -y -qq python3-venv >/dev/null
    make_venv
fi

echo "installing wirecue and its tools into $venv ..."
# The versions that were tested, so that a fresh clone gets those.
"$venv/bin/pip" install --quiet --disable-pip-version-check --constraint requirements/constraints.txt --editable '.[dev,docs]'

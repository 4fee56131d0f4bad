#!/bin/sh
# Test with the least version of every package that a user may have, in the environment $2; $1 holds the usual tools.
# The page is left out: it is tested with the versions of the constraints only. So is what needs a compiler.
set -eu
tools=$1
venv=$2
jobs=$3

"${tools}python" -m venv --clear "$venv"
"${tools}python" tools/write_constraints.py --lowest >"$venv/lowest.txt"
"$venv/bin/pip" install --quiet --disable-pip-version-check --constraint "$venv/lowest.txt" --editable . \
    build editables eseries hatchling hypothesis jsonschema packaging pexpect pillow pint pytest pytest-xdist pyvisa \
    pyvisa-py scipy
"$venv/bin/pytest" -n "$jobs" --dist worksteal -p no:cacheprovider -m "not debian" --ignore tests/wirecue/page tests/timing \
    tests/codegen tests/bench tests/wirecue

#!/bin/sh
# Install the Debian packages that the tests use, where they are missing and where we may.
# Without them the tests that need them say so and skip; with CI=true that is a failure.
set -eu
packages="gcc libc6-dev clang libclang-rt-dev gcc-avr avr-libc arduino-core-avr arduino-builder avrdude libsimavr-dev
          libelf-dev cppcheck frama-c-base ngspice sigrok-cli chromium poppler-utils gcc-arm-none-eabi libnewlib-arm-none-eabi
          libstdc++-arm-none-eabi-newlib git"
# The simulator of a 32-bit chip comes from npm, by whichever package npm is here already.
command -v npm >/dev/null 2>&1 || packages="$packages nodejs npm"

if ! command -v dpkg-query >/dev/null 2>&1; then
    echo "not a Debian-like machine: tests that need a compiler or simulator may skip"
    exit 0
fi
missing=""
for package in $packages; do
    state=$(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null || true)
    [ "$state" = installed ] || missing="$missing $package"
done
[ -n "$missing" ] || exit 0

echo "installing Debian packages:$missing ..."
as_root="sh $(dirname "$0")/as_root.sh"
if ! { $as_root apt-get update -qq && $as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null; }; then
    echo "WARNING: could not install$missing: tests that need them will skip"
    [ "${CI:-}" != true ]
fi

#!/bin/sh
# Run a command as root: directly, or through sudo where that asks nothing. Exit code 77 where neither is allowed.
set -eu
export DEBIAN_FRONTEND=noninteractive
if [ "$(id -u)" = 0 ]; then
    exec "$@"
fi
if command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
    exec sudo -n DEBIAN_FRONTEND=noninteractive "$@"
fi
echo "not allowed to run as root: $*" >&2
exit 77

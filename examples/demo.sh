#!/usr/bin/env bash
# Installs what is missing, builds, and runs the main job on the built-in simulated vehicle.
#   bash examples/demo.sh            the dashboard when on a terminal, plain lines otherwise
#   bash examples/demo.sh --scenario aged --rate 4
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/setup.sh"

# shellcheck disable=SC2086
oxl_install $oxl_packages_build
oxl_build "$oxl_root/build" -DOXL_TESTS=OFF >/dev/null

# On a terminal the cautions are acknowledged with a key; without one there is nobody to ask, and
# nothing but a simulation runs.
if [ -t 0 ] && [ -t 1 ]; then
  exec "$oxl_root/build/oxylag" demo "$@"
fi
exec "$oxl_root/build/oxylag" demo --accept-cautions --virtual-time "$@"

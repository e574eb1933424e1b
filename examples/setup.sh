# Installs what is missing (Debian, as root) and builds oxylag. Sourced by demo.sh and tests/run.sh.
# shellcheck shell=bash
set -euo pipefail

oxl_root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)

oxl_packages_build="gcc libc6-dev cmake ninja-build pkg-config libserialport-dev libncurses-dev
  libjansson-dev libinih-dev nettle-dev libsqlite3-dev libcairo2-dev libpango1.0-dev fonts-dejavu-core
  portaudio19-dev libespeak-ng-dev"
oxl_packages_test="libcmocka-dev libgsl-dev tshark tmux jq clang libclang-rt-14-dev
  clang-format-14 clang-tidy-14 cppcheck socat iproute2 util-linux coreutils poppler-utils libxml2-utils python3 chromium
  groff-base dpkg-dev ncurses-term lintian desktop-file-utils appstream librsvg2-bin xvfb xterm libglib2.0-bin
  sox gzip procps"

# oxl_install PACKAGE...: only those that are missing, so that a second run needs no network.
oxl_install() {
  local missing=()
  local p
  for p in "$@"; do
    dpkg-query -W -f '${Status}' "$p" 2>/dev/null | grep -q 'install ok installed' ||
      missing+=("$p")
  done
  [ ${#missing[@]} -eq 0 ] && return 0
  if [ "$(id -u)" -ne 0 ]; then
    echo "Missing packages: ${missing[*]}" >&2
    echo "Run this once as root, or: sudo apt-get install ${missing[*]}" >&2
    return 1
  fi
  echo "Installing: ${missing[*]}"
  apt-get update -qq || echo "Not every package index could be fetched: trying with those that there are." >&2
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
    "${missing[@]}" >/dev/null
}

# oxl_build DIRECTORY [cmake options]
oxl_build() {
  local dir=$1
  shift
  cmake -S "$oxl_root" -B "$dir" -G Ninja "$@" >/dev/null
  cmake --build "$dir" -- -k 0
}

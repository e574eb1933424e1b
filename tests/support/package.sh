#!/usr/bin/env bash
# Does the package install on a Debian that has nothing else, and run the main job there? Makes a
# Debian 12 in a temporary folder (debootstrap, needs root and a mirror), installs the package with
# its dependencies, runs the demo, the report, the page of the manual's file and the removal.
#   bash tests/support/package.sh [BUILD]
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
build=$(realpath "${1:-build}")
[ "$(id -u)" -eq 0 ] || { echo "package.sh: needs root for the chroot" >&2; exit 1; }
for tool in cpack debootstrap dpkg-shlibdeps; do
  command -v $tool >/dev/null || { echo "package.sh: $tool is missing: apt-get install cmake debootstrap dpkg-dev" >&2; exit 1; }
done
work=$(mktemp -d)
trap 'rm -rf --one-file-system "$work"' EXIT
cpack -G DEB --config "$build/CPackConfig.cmake" -B "$work/pack" >/dev/null
mirror=$(awk '/^URIs:/ { print $2; exit } /^deb / { for (i = 2; i <= NF; i++) if ($i ~ /^http/) { print $i; exit } }' \
  /etc/apt/sources.list.d/debian.sources /etc/apt/sources.list 2>/dev/null | head -1)
[ -n "$mirror" ] || { echo "package.sh: no mirror in /etc/apt: where does this machine get its packages?" >&2; exit 1; }
root=$work/root
debootstrap --variant=minbase bookworm "$root" "$mirror" >"$work/debootstrap.log" 2>&1 ||
  { tail -5 "$work/debootstrap.log" >&2; exit 1; }
cp -r /etc/apt/apt.conf.d/. "$root/etc/apt/apt.conf.d/"
cp /etc/resolv.conf "$root/etc/resolv.conf"
cp "$work"/pack/oxylag_*.deb "$root/tmp/oxylag.deb"
inside() { chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root TERM=dumb DEBIAN_FRONTEND=noninteractive "$@"; }
inside apt-get update -qq
inside apt-get install -y -qq --no-install-recommends /tmp/oxylag.deb >"$work/apt.log" 2>&1 ||
  { tail -5 "$work/apt.log" >&2; exit 1; }
echo "installed, with $(grep -c '^Setting up' "$work/apt.log") packages"
inside oxylag demo -y --plain --virtual-time --scenario dead --out /tmp/dead.rec | grep RESULT
inside oxylag report /tmp/dead.rec -f pdf -O /tmp/dead.pdf
inside oxylag report /tmp/dead.rec -f html -O /tmp/dead.html
inside oxylag replay /tmp/dead.rec --plain --virtual-time | tail -1
if command -v pdffonts >/dev/null; then pdffonts "$root/tmp/dead.pdf" | awk 'NR > 2 { print "font", $1 }'; fi
inside test -s /usr/share/doc/oxylag/copyright
inside test -s /usr/share/applications/oxylag.desktop
grep -q 'group dialout' "$work/apt.log" || { echo "package.sh: the installation does not name the group" >&2; exit 1; }
inside apt-get remove -y -qq oxylag >/dev/null 2>&1
[ ! -e "$root/usr/bin/oxylag" ] || { echo "package.sh: it stays after removal" >&2; exit 1; }
echo "the package installs, works and goes"

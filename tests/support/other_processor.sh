#!/usr/bin/env bash
# Do the recordings say the same on another processor? Builds the core and the player for it, with Debian's
# cross compilers and libraries, runs them under qemu-user and compares every event with this machine's.
#   bash tests/support/other_processor.sh i386|arm64|armhf...
# Words, verdicts and reasons must be the same, numbers within 1e-9 of each other (i386 counts as 32 bits; it is
# built with SSE2, as the x87's extra bits give other last digits). As root it installs what is missing, and adds
# the processor to dpkg's for that. docs/testing.md
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/../../examples/setup.sh"
cd "$oxl_root"
arch=${1:?say the processor, as Debian names it: i386, arm64}
case $arch in
i386) triplet=i686-linux-gnu libs=i386-linux-gnu more='-msse2 -mfpmath=sse' emulator=qemu-i386-static ;;
arm64) triplet=aarch64-linux-gnu libs=aarch64-linux-gnu more='' emulator=qemu-aarch64-static ;;
armhf) triplet=arm-linux-gnueabihf libs=arm-linux-gnueabihf more='' emulator=qemu-arm-static ;;
*)
  echo "No compiler is known here for $arch: i386, arm64 or armhf." >&2
  exit 2
  ;;
esac
added=
if ! dpkg --print-foreign-architectures | grep -qx "$arch"; then
  dpkg --add-architecture "$arch"
  added=$arch
fi
if ! oxl_install "gcc-$triplet" "libc6-dev-$arch-cross" "libjansson-dev:$arch" "libinih-dev:$arch" "nettle-dev:$arch" \
  python3 qemu-user-static; then
  [ -z "$added" ] || dpkg --remove-architecture "$added" || true # an index that is broken would stop others
  echo "The libraries for $arch cannot be installed now: nothing was compared." >&2
  exit 1
fi
out=${OXL_CROSS:-$(mktemp -d)}
mkdir -p "$out/generated"
cmake -S . -B "$out/native" -G Ninja -DOXL_TESTS=OFF >/dev/null
ninja -C "$out/native" generated/profile_files.h generated/scenario_files.h >/dev/null # the built-in ones

# What a replay needs: the pure rooms, the player, the files that it reads.
sources=(src/{base,wire,vehicle,poll,grade,profile,measure,proc,record,import,sim}/*.c
  src/app/{core,player,progress,recording_writer,clock,json_memory}.c src/link/{file_recording,file_recorder,file_sync,input_file,sha256}.c
  src/out/*.c tests/support/replay_events.c)
build() { # COMPILER DIRECTORY [options]
  local cc=$1 dir=$2
  shift 2
  mkdir -p "$dir"
  printf '%s\n' "${sources[@]}" | xargs -P "$(nproc)" -I{} sh -c '
    cc=$1 dir=$2 file=$3; shift 3
    $cc -std=c17 -O2 -ffp-contract=off -Wall -Wextra -Wconversion -Werror -D_GNU_SOURCE -D_FILE_OFFSET_BITS=64 \
      -DOXL_VERSION="\"cross\"" -Iinclude -Isrc -I"$OXL_GENERATED" "$@" -c "$file" -o "$dir/$(echo "$file" | tr / _).o"' \
    sh "$cc" "$dir" {} "$@"
}
export OXL_GENERATED=$out/native/generated
build cc "$out/here" && cc "$out"/here/*.o -o "$out/here/replay" -ljansson -linih -lnettle -lm -pthread
# shellcheck disable=SC2086
build "$triplet-gcc" "$out/there" $more -isystem /usr/include &&
  "$triplet-gcc" "$out"/there/*.o -o "$out/there/replay" -L"/usr/lib/$libs" -Wl,-rpath-link,"/usr/lib/$libs" -ljansson -linih -lnettle -lm -pthread
recordings=(examples/*.jsonl tests/data/recordings/*.jsonl)
"$out/here/replay" "${recordings[@]}" >"$out/here.jsonl"
"$emulator" "$out/there/replay" "${recordings[@]}" >"$out/there.jsonl"
python3 tests/support/same_events.py "$out/here.jsonl" "$out/there.jsonl"

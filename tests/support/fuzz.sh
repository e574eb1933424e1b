#!/usr/bin/env bash
# Builds the fuzzers with libFuzzer and runs each, two at a time, from its kept corpus until COUNT
# inputs or SECONDS are reached, whichever comes first.
#   bash tests/support/fuzz.sh [COUNT] [SECONDS] [NAME...]
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/../../examples/setup.sh"
cd "$oxl_root"
export count=${1:-20000} seconds=${2:-15}
shift $(($# < 2 ? $# : 2))
CC=clang oxl_build build-fuzz -DOXL_TESTS=ON -DOXL_FUZZ=ON -DOXL_SANITIZE=OFF -DOXL_COVERAGE=OFF \
  -DCMAKE_BUILD_TYPE=RelWithDebInfo | tail -1

one() {
  local what=$1 scratch
  scratch=$(mktemp -d)
  # New finds go to the scratch folder: the kept corpus changes only by hand.
  if ! ./build-fuzz/tests/"fuzz_$what" -runs="$count" -max_total_time="$seconds" -seed=1 \
    -timeout=60 -artifact_prefix="$scratch/" "$scratch" "tests/fuzz/corpus/$what" \
    >"$scratch.log" 2>&1; then
    tail -40 "$scratch.log"
    echo "fuzz_$what: FAILED, input kept in $scratch"
    return 1
  fi
  printf '%-14s %s\n' "$what" "$(grep -E '^(Done|#[0-9]+.*DONE)' "$scratch.log" | tail -1)"
  rm -rf "$scratch" "$scratch.log"
}
export -f one
names=("$@")
[ ${#names[@]} -gt 0 ] || names=($(basename -as .c tests/fuzz/fuzz_*.c | sed 's/^fuzz_//'))
printf '%s\n' "${names[@]}" | xargs -P 2 -I{} bash -c 'one {}'

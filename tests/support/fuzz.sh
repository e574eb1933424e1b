#!/usr/bin/env bash
# Builds the fuzzers with libFuzzer and runs each for a fixed count from its kept corpus.
#   bash tests/support/fuzz.sh [COUNT] [SECONDS]
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/../../examples/setup.sh"
cd "$oxl_root"
count=${1:-20000}
seconds=${2:-60}
targets=()
for f in tests/fuzz/fuzz_*.c; do targets+=("$(basename "$f" .c)"); done
CC=clang cmake -S . -B build-fuzz -G Ninja -DOXL_FUZZ=ON -DCMAKE_BUILD_TYPE=RelWithDebInfo >/dev/null
cmake --build build-fuzz --target "${targets[@]}" | tail -1
for f in tests/fuzz/fuzz_*.c; do
  name=$(basename "$f" .c)
  scratch=$(mktemp -d)
  # New finds go to the scratch folder: the kept corpus changes only by hand.
  if ! ./build-fuzz/tests/"$name" -runs="$count" -max_total_time="$seconds" -seed=1 -timeout=10 \
    -artifact_prefix="$scratch/" "$scratch" "tests/fuzz/corpus/${name#fuzz_}" \
    >"$scratch.log" 2>&1; then
    tail -40 "$scratch.log"
    echo "$name: FAILED, input kept in $scratch"
    exit 1
  fi
  printf '%-18s %s\n' "$name" "$(grep -E '^(Done|#[0-9]+.*DONE)' "$scratch.log" | tail -1)"
  rm -rf "$scratch" "$scratch.log"
done

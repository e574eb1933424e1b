#!/usr/bin/env bash
# Does every kind of build compile without a warning, and replay the examples to the same figures? gcc and
# clang, each Debug, Release, RelWithDebInfo and MinSizeRel: the program and the unit tests of the core are built,
# these and the test of the examples run. About two minutes each on two processors. docs/testing.md
#   bash tests/support/builds.sh                 all eight
#   bash tests/support/builds.sh clang Release   one
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/../../examples/setup.sh"
cd "$oxl_root"
compilers=${1:-gcc clang} types=${2:-Debug Release RelWithDebInfo MinSizeRel}
chosen='^(e2e_test_examples|app_test_replayed|(base|wire|vehicle|measure|proc)_test_)'
dir=${OXL_BUILDS:-build-type}

# Quiet when all is well; else what the compiler said.
build() { # TARGET...
  cmake --build "$dir" --target "$@" -- -k 0 >build-type.log 2>&1 || {
    grep -E -A6 '^FAILED|error:' build-type.log | head -60
    return 1
  }
}

for compiler in $compilers; do
  for type in $types; do
    from=$SECONDS
    rm -rf "$dir"
    CC=$compiler cmake -S . -B "$dir" -G Ninja -DOXL_TESTS=ON "-DCMAKE_BUILD_TYPE=$type" >/dev/null
    # shellcheck disable=SC2046
    build oxylag relay $(ctest --test-dir "$dir" -N -R "$chosen" | sed -nE 's/^ *Test +#[0-9]+: //p' | grep -v ^e2e_)
    ctest --test-dir "$dir" --output-on-failure --no-tests=error -j "$(nproc)" -R "$chosen" >build-type.log 2>&1 || {
      cat build-type.log
      exit 1
    }
    printf '%-5s %-14s %s, %d s\n' "$compiler" "$type" "$(grep 'tests passed' build-type.log)" $((SECONDS - from))
  done
done
rm -rf "$dir" build-type.log

#!/usr/bin/env bash
# Installs what is missing, builds with and without sanitizers, runs the tests. docs/testing.md
#   bash tests/run.sh               what every change must pass: some 15 minutes on two processors
#   bash tests/run.sh --long        every case of every test, long fuzzing, every kind of build
#   OXL_QUICK=1 bash tests/run.sh   without clang-tidy and static analysis
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/../examples/setup.sh"
cd "$oxl_root"
# Neither more nor less, and nothing accepted, because of what a shell happens to have set.
unset OXL_LONG OXL_ACCEPT OXL_ONLY OXL_FIELD OXL_MASK_SEED OXL_GRAPH_SEEDS OXL_VERDICT_SEEDS OXL_VERDICT_FIRST OXL_VERDICT_ONLY
case "$*" in
'') ;;
--long) export OXL_LONG=1 ;;
*)
  sed -n '2,5s/^# //p' "${BASH_SOURCE[0]}" >&2
  exit 2
  ;;
esac

# tshark asks a question at installation unless told not to.
export DEBIAN_FRONTEND=noninteractive
# shellcheck disable=SC2086
oxl_install $oxl_packages_build $oxl_packages_test
export LC_ALL=C.UTF-8

# The builds of this script are its own, with every option said, so that neither the demo's build nor
# one that was configured by hand decides which tests there are.
own_build() { # DIRECTORY [cmake options]
  local dir=$1
  shift
  ! [ -e "$dir/CMakeCache.txt" ] || grep -q '^CMAKE_GENERATOR:INTERNAL=Ninja$' "$dir/CMakeCache.txt" || rm -rf "$dir"
  mkdir -p "$dir"
  oxl_build "$dir" -DOXL_TESTS=ON -DOXL_FUZZ=OFF -DOXL_COVERAGE=OFF -DOXL_TEST_PLACES=6 -DCMAKE_C_FLAGS= "$@" >"$dir/own_build.log" 2>&1 || {
    grep -E -A6 '^FAILED|error:' "$dir/own_build.log" || tail -40 "$dir/own_build.log"
    return 1
  }
  tail -1 "$dir/own_build.log"
  rm -f "$dir/own_build.log"
}

stages=()
step() {
  local took
  if [ -n "${stage:-}" ]; then
    took=$((SECONDS - stage_from))
    stages+=("$(printf '%3d:%02d  %s' $((took / 60)) $((took % 60)) "$stage")")
    printf '   %s\n' "${stages[-1]}"
  fi
  stage=$*
  stage_from=$SECONDS
  printf '\n== %s\n' "$*"
}
# Eight places for each processor, of which a test that computes takes six (tests/CMakeLists.txt).
run_tests() { # BUILD [ctest options]
  local dir=$1
  shift
  [ -n "${OXL_LONG:-}" ] || set -- -LE '^long$' "$@"
  ctest --test-dir "$dir" --output-on-failure --no-tests=error -j $((8 * $(nproc))) "$@"
}

step "style: clang-format"
find src include tests -name '*.[ch]' -print0 | xargs -0 clang-format-14 --dry-run -Werror

step "house: top level, file sizes, banned words and calls"
bash tests/support/house.sh

step "build: release"
own_build build-test -DOXL_SANITIZE=OFF -DCMAKE_BUILD_TYPE=RelWithDebInfo '-DCMAKE_C_FLAGS_RELWITHDEBINFO=-O2 -g1 -DNDEBUG'
step "build: ASan and UBSan"
# -O1: half the time of -O0, and what the sanitizers see is the same source; -g1: lines of a trace are all that is read.
own_build build-test-asan -DOXL_SANITIZE=ON -DCMAKE_BUILD_TYPE=Debug '-DCMAKE_C_FLAGS_DEBUG=-O1 -g1'

step "tests: release build"
run_tests build-test
step "tests: under ASan and UBSan"
run_tests build-test-asan

if [ -z "${OXL_QUICK:-}" ]; then
  if [ -n "${OXL_LONG:-}" ]; then
    step "fuzzers: five minutes each"
    bash tests/support/fuzz.sh 100000000 300
  fi
  step "clang-tidy and clang's warnings"
  bash tests/support/tidy.sh build-test
  step "cppcheck and gcc -fanalyzer"
  bash tests/support/analyze.sh build-test
fi

if [ -n "${OXL_LONG:-}" ]; then
  step "builds: gcc and clang, every type, no warning, the examples as they were"
  bash tests/support/builds.sh
  step "mutants: the guards that are named"
  bash tests/support/mutants.sh --named
  step "other processors: the recordings say the same"
  for arch in arm64 i386; do bash tests/support/other_processor.sh "$arch"; done
fi
step "all passed"
printf '%s\n' "${stages[@]}"
printf '%3d:%02d  in all\n' $((SECONDS / 60)) $((SECONDS % 60))

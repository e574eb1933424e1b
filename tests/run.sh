#!/usr/bin/env bash
# Installs what is missing, builds with and without sanitizers, runs every test.
#   bash tests/run.sh           everything
#   OXL_QUICK=1 bash tests/run.sh   without clang-tidy and the fuzzers
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/../examples/setup.sh"
cd "$oxl_root"

# tshark asks a question at installation unless told not to.
export DEBIAN_FRONTEND=noninteractive
# shellcheck disable=SC2086
oxl_install $oxl_packages_build $oxl_packages_test
export LC_ALL=C.UTF-8

# The builds of this script are its own, with every option said, so that neither the demo's build nor
# one that was configured by hand decides which tests there are.
options="-DOXL_TESTS=ON -DOXL_FUZZ=OFF -DOXL_COVERAGE=OFF"

step() {
  [ -z "${stage:-}" ] || printf '   %s: %d s\n' "$stage" $((SECONDS - stage_from))
  stage=$*
  stage_from=$SECONDS
  printf '\n== %s\n' "$*"
}
run_tests() {
  ctest --test-dir "$1" --output-on-failure --no-tests=error -j 2
}

step "style: clang-format"
find src include tests -name '*.[ch]' -print0 | xargs -0 clang-format-14 --dry-run -Werror

step "house: top level, file sizes, banned words and calls"
bash tests/support/house.sh

step "build: release"
# shellcheck disable=SC2086
oxl_build build-test $options -DOXL_SANITIZE=OFF -DCMAKE_BUILD_TYPE=RelWithDebInfo | tail -1
step "build: ASan and UBSan"
# shellcheck disable=SC2086
oxl_build build-test-asan $options -DOXL_SANITIZE=ON -DCMAKE_BUILD_TYPE=Debug | tail -1

step "tests: release build"
run_tests build-test
step "tests: under ASan and UBSan"
run_tests build-test-asan

if [ -z "${OXL_QUICK:-}" ]; then
  step "fuzzers: a short fixed count each"
  bash tests/support/fuzz.sh 20000 15
  step "clang-tidy"
  bash tests/support/tidy.sh build-test
  step "cppcheck and gcc -fanalyzer"
  bash tests/support/analyze.sh build-test
fi
step "all passed"

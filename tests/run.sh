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

step() { printf '\n== %s\n' "$*"; }

step "style: clang-format"
find src include tests -name '*.[ch]' -print0 | xargs -0 clang-format-14 --dry-run -Werror

step "house: top level, file sizes, banned words and calls"
bash tests/support/house.sh

step "build: release"
oxl_build build -DCMAKE_BUILD_TYPE=RelWithDebInfo | tail -1
step "build: ASan and UBSan"
oxl_build build-asan -DOXL_SANITIZE=ON -DCMAKE_BUILD_TYPE=Debug | tail -1

step "tests: release build"
ctest --test-dir build --output-on-failure -j 2
step "tests: under ASan and UBSan"
ctest --test-dir build-asan --output-on-failure -j 2

if [ -z "${OXL_QUICK:-}" ]; then
  step "fuzzers: a short fixed count each"
  bash tests/support/fuzz.sh 20000 15
  step "clang-tidy"
  bash tests/support/tidy.sh build
  step "cppcheck and gcc -fanalyzer"
  bash tests/support/analyze.sh build
fi
step "all passed"

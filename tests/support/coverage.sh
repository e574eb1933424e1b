#!/usr/bin/env bash
# Line and branch coverage of every room by the tests, and of the core as one figure. Fails when a room of the
# core has less than 95 % of lines or 90 % of branches.
#   bash tests/support/coverage.sh [CTEST-OPTIONS]
# Branches that only the compiler makes (asserts, unreachable) are left out by gcovr's own rules;
# nothing else is.
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/../../examples/setup.sh"
cd "$oxl_root"
command -v gcovr >/dev/null || oxl_install gcovr
oxl_build build-cov -DOXL_COVERAGE=ON -DCMAKE_BUILD_TYPE=Debug | tail -1
find build-cov -name '*.gcda' -delete
# Kills, hang-ups and injected faults leave no counters behind; they are not run for coverage.
ctest --test-dir build-cov -j 2 -E 'kill|terminal|serve|fault_|long_' "$@" | tail -8 ||
  echo "(a file-size limit in e2e_test_bad_input hits the counters' own files too: not counted)"
report() { # NAME FILTER...
  local name=$1 filters=()
  shift
  for f in "$@"; do filters+=(--filter "src/$f/"); done
  gcovr --root . --object-directory build-cov "${filters[@]}" --exclude-unreachable-branches \
    --exclude-throw-branches --gcov-ignore-parse-errors --json-summary -o build-cov/summary.json build-cov >/dev/null 2>&1
  jq -r --arg n "$name" '[$n, .line_percent, .branch_percent, .line_covered, .line_total] |
    "\(.[0]) lines \(.[1]) % (\(.[3]) of \(.[4])), branches \(.[2]) %"' build-cov/summary.json
  case " $core " in *" $name "*)
    jq -e '.line_percent >= 95 and .branch_percent >= 90' build-cov/summary.json >/dev/null || short+=" $name" ;;
  esac
}
core="base wire vehicle grade poll profile measure proc record import sim"
short=""
for room in $core link page set ui app; do report "$room" "$room"; done
# shellcheck disable=SC2086
report CORE $core
[ -z "$short" ] || { echo "Less than 95 % of lines or 90 % of branches:$short" >&2; exit 1; }

#!/usr/bin/env bash
# clang-tidy over every source of the program, and clang's own warnings over those of the tests. Its path
# analysis takes ten times as long as all else: only on what changed (changed.sh), on all of it with OXL_LONG=1.
#   bash tests/support/tidy.sh [BUILD]
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
build=${1:-build}
tidy() { # OPTION...: the sources on standard input
  xargs -r -P "$(nproc)" -n 4 clang-tidy-14 -p "$build" --quiet "$@" 2>/dev/null
}
closely=$(mktemp)
trap 'rm -f "$closely"' EXIT
bash tests/support/changed.sh >"$closely"
find src -name '*.c' | sort | comm -23 - "$closely" | tidy '--checks=-clang-analyzer-*'
tidy <"$closely"
find tests -name '*.c' | sort | grep -F -f <(jq -r '.[].file' "$build/compile_commands.json" | sed -n "s|^$PWD/\(tests/.*\)|\1|p") |
  tidy '--checks=-*,clang-diagnostic-*,misc-misplaced-const' # warnings alone are no check to it
echo "clang-tidy: $(find src -name '*.c' | wc -l) sources, $(wc -l <"$closely") of them with path analysis"

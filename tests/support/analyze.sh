#!/usr/bin/env bash
# cppcheck over every source of the program, gcc -fanalyzer over those that changed (changed.sh; over all
# with OXL_LONG=1); findings are errors. What is known to be none is listed here with its reason, so that
# only something new stops the run.
#   bash tests/support/analyze.sh [BUILD]
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
build=${1:-build}
fail=0

if command -v cppcheck >/dev/null; then
  # lean.c: a trace is passed by value, but its points are the caller's and outlive the call.
  # delay.c: a[] is filled up to `used`, and read up to it.
  # json_out.c: the text was written by the call in the same line.
  # wav.c: the sink that is handed out frees it (wav_close).
  # vin.c: what is no letter or digit was refused before (oxl_vin_check_digit).
  cppcheck --enable=warning,portability,performance --std=c11 --quiet -j "$(nproc)" \
    --suppress=missingIncludeSystem \
    --suppress=returnDanglingLifetime:src/measure/lean.c \
    --suppress=uninitvar:src/measure/delay.c \
    --suppress=uninitvar:src/record/json_out.c \
    --suppress=memleak:src/sound/wav.c \
    --suppress=negativeIndex:src/vehicle/vin.c \
    --error-exitcode=1 -Iinclude -Isrc -I"$build/generated" -D_POSIX_C_SOURCE=200809L \
    '-DOXL_VERSION="x"' -DSIZE_MAX=18446744073709551615UL src || fail=1
  echo "cppcheck ($(cppcheck --version)): $( ((fail)) && echo findings || echo clean)"
else
  echo "cppcheck is not installed: left out"
fi

# gcc 12 does not see that a loop of fixed length fills an array (run_target.c), that the address of
# a struct's first member is the struct (link_sim.c), that a row found by name is not NULL (opts.c),
# and that what a table points to is its own until oxl_table_free (table.c). Nor what a function with
# variable arguments writes into the struct that it returns (oxl_grade_line; it names no file).
known='cc1: .*offsetof\(struct oxl_check, grade\).*analyzer-use-of-uninitialized-value
src/measure/run_target.c:.*analyzer-use-of-uninitialized-value
src/link/link_sim.c:.*analyzer-malloc-leak
src/app/opts.c:.*analyzer-null-dereference
src/import/table.c:.*analyzer-malloc-leak'
out=$(mktemp)
trap 'rm -f "$out" "$out.files"' EXIT
bash tests/support/changed.sh >"$out.files"
jq -r --arg here "$PWD/" --rawfile files "$out.files" '($files | split("\n")) as $close
  | .[] | select(.file | ltrimstr($here) | IN($close[])) | .directory + "\u0000" + .command + "\u0000"' \
  "$build/compile_commands.json" | tr -d '\n' |
  xargs -r -0 -n 2 -P "$(nproc)" bash -c 'cd "$0" && $(sed "s/ -o [^ ]*//; s/ -M[DTF] *[^ ]*\.[od]//g; s/ -MD//; s/-Werror//; s/\\\\\"/\"/g" <<<"$1") \
    -fanalyzer -o /dev/null' 2>"$out" || fail=1
if grep -E 'warning: .*\[-Wanalyzer|error:' "$out" | sed "s|$PWD/||" | grep -vE "$known"; then
  fail=1
fi
echo "gcc -fanalyzer ($(gcc -dumpfullversion)), $(wc -l <"$out.files") sources: $(grep -c 'Wanalyzer' "$out" || true) remarks," \
  "$( ((fail)) && echo "new findings" || echo "all known and explained")"
exit $fail

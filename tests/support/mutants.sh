#!/usr/bin/env bash
# Does a test notice? Breaks one line of a room at a time, runs the unit tests of that room and prints the
# changes that none of them noticed. docs/testing.md
#   bash tests/support/mutants.sh ROOM [COUNT] [SEED]     drawn by mutants.py; 50 from seed 1 when not said
#   bash tests/support/mutants.sh --named                 the guards of mutants_named.txt, each by its room's tests
# Works in a copy of the tree in $OXL_MUTANTS (a new folder under /tmp when not set). Fails when a named guard
# lives or when fewer than nine of ten are noticed. Changes that alter nothing are listed in mutants_equal.txt.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
room=${1:?say the room, such as measure, or --named}
count=${2:-50} seed=${3:-1}
work=${OXL_MUTANTS:-$(mktemp -d)}
mkdir -p "$work"
cd "$root"
[ "$room" = --named ] || [ -d "src/$room" ] || {
  echo "There is no room $room: say a folder of src." >&2
  exit 2
}

[ ! -d "$work/mutants" ] || rm -rf "$work/src" "$work/include" "$work/tests" # what is no longer there
git ls-files -z --cached --others --exclude-standard | xargs -0 cp --parents -pt "$work" 2>/dev/null || true
cd "$work"
find src -name '*.c' -exec touch {} + # a folder used before has built what was broken last
launcher=$(command -v ccache >/dev/null && echo -DCMAKE_C_COMPILER_LAUNCHER=ccache || true)
# shellcheck disable=SC2086
cmake -S . -B mutants -G Ninja -DOXL_TESTS=ON -DCMAKE_BUILD_TYPE=Debug -DCMAKE_C_FLAGS='-O1 -g0' $launcher >/dev/null

# The room's unit tests, quickest first, as the last run of them took. The replay of the examples is a test of
# all these rooms.
tests_of() {
  ctest --test-dir mutants -N -R "^$1_|^app_test_replayed$" | sed -nE 's/^ *Test +#[0-9]+: //p'
}
declare -A ordered may_take_s
prepare() { # ROOM: built, and green before anything is broken
  local t from took
  [ -z "${ordered[$1]:-}" ] || return 0
  # shellcheck disable=SC2046
  ninja -C mutants $(tests_of "$1") >mutants/build.log 2>&1 || { tail -20 mutants/build.log; exit 1; }
  for t in $(tests_of "$1"); do
    from=$(date +%s%N)
    (cd mutants && timeout 900 "tests/$t" >/dev/null 2>&1) || t=BROKEN-$t
    took=$((($(date +%s%N) - from) / 1000000))
    may_take_s[$t]=$((30 + took / 20)) # fifty times as long, and a machine that is busy: it does not end
    ordered[$1]+="$took $t"$'\n'
  done
  ordered[$1]=$(sort -n <<<"${ordered[$1]}" | awk '{print $2}')
  case ${ordered[$1]} in *BROKEN-*)
    echo "These fail before anything is changed: $(grep -o 'BROKEN-.*' <<<"${ordered[$1]}" | tr '\n' ' ')" >&2
    exit 1
    ;;
  esac
}
# Prints what noticed: the compiler, a test, or a test that did not end; nothing when it lives. Most changes are
# noticed by a quick test, so that the others, and the sweeps of whole tests, need not even be linked.
noticed() { # ROOM
  local t
  for t in ${ordered[$1]}; do
    ninja -C mutants "$t" >mutants/build.log 2>&1 || { echo compiler; return; }
    (cd mutants && ulimit -v 4000000 && timeout "${may_take_s[$t]}" "tests/$t" >/dev/null 2>&1) || { echo "$t"; return; }
  done
}
equal() { # FILE LINE-TEXT NEW
  awk -F'\t' -v f="$1" -v a="$2" -v b="$3" '
    { gsub(/^ +/, "", $2); gsub(/^ +/, "", $3) } $1 == f && $2 == a && $3 == b { e = 1 } END { exit !e }' "$here/mutants_equal.txt"
}
strip() { sed 's/^ *//' <<<"$1"; }

killed=0 lived=0 same=0 refused=0
try() { # ROOM FILE LINE NEW WHAT
  local file=$2 line=$3 new=$4 old by
  old=$(sed -n "${line}p" "$file")
  cp -p "$file" mutants/kept.c
  awk -v n="$line" -v new="${new//\\/\\\\}" 'NR == n { print new; next } { print }' mutants/kept.c >"$file"
  by=$(noticed "$1")
  cp mutants/kept.c "$file"
  case $by in
  compiler) refused=$((refused + 1)) ;; # nobody can commit that
  '')
    if equal "$file" "$(strip "$old")" "$(strip "$new")"; then
      same=$((same + 1))
    else
      lived=$((lived + 1))
      printf 'LIVES  %s:%s  %s\n   was %s\n   now %s\n' "$file" "$line" "$5" "$(strip "$old")" "$(strip "$new")"
    fi
    ;;
  *) killed=$((killed + 1)) ;;
  esac
}

if [ "$room" = --named ]; then
  while IFS=$'\t' read -r what file old new; do
    case $what in '' | '#'*) continue ;; esac
    at=$(grep -nF -- "$old" "$file" | cut -d: -f1 || true)
    case $at in '' | *$'\n'*)
      echo "mutants_named.txt: \"$old\" stands not once in $file: correct the line." >&2
      exit 2
      ;;
    esac
    whole=$(sed -n "${at}p" "$file")
    r=${file#src/}
    prepare "${r%%/*}"
    try "${r%%/*}" "$file" "$at" "${whole/"$old"/"$new"}" "$what"
  done <"$here/mutants_named.txt"
else
  prepare "$room"
  while IFS=$'\t' read -r file line kind new; do
    try "$room" "$file" "$line" "$new" "$kind"
  done < <(python3 "$here/mutants.py" "src/$room" "$count" "$seed")
fi

told=$((killed + lived))
printf '%s: %d noticed, %d live, %d of no effect (listed), %d that do not compile\n' "$room" "$killed" "$lived" "$same" "$refused"
[ "$told" -gt 0 ] || { echo "Nothing was changed." >&2; exit 1; }
# A named change that does not compile proves nothing.
if [ "$room" = --named ]; then [ $((lived + refused)) -eq 0 ]; else [ $((killed * 10)) -ge $((told * 9)) ]; fi

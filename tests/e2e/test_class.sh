#!/usr/bin/env bash
# The class: results of several trainees are kept and shown a table a lesson; the instructor's key
# shows the answer on a second run, and on no first one. The lessons are there and are taught.
. "$(dirname "$0")/lib.sh"
root=$here/../..
export XDG_DATA_HOME=$work/data
kept=$XDG_DATA_HOME/oxylag/class.txt
good=$root/examples/good.jsonl aged=$root/examples/aged.jsonl

# Twelve lessons, each a recording, a section of docs/training.md in the same order, and a row there.
check "lessons" "$oxylag" lessons --json
cp check.out lessons.json
checks=$((checks + 2))
jq -es 'map(.lesson) == [range(1; 13)]' lessons.json >/dev/null || fail "not twelve: $(cat lessons.json)"
jq -r '"### \(.lesson). `\(.name)`"' lessons.json >wanted.txt
grep -o '^### [0-9]*\. `[a-z-]*`' "$root/docs/training.md" | cmp -s - wanted.txt ||
  fail "docs/training.md has other sections"
for name in $(jq -r .name lessons.json); do
  checks=$((checks + 1))
  [ -f "$root/examples/$name.jsonl" ] || fail "no recording of lesson $name"
done

check "an empty class" "$oxylag" lessons --class
checks=$((checks + 1))
grep -q '^No results yet' check.out || fail "empty: $(cat check.out)"
quiz() { # FILE TRAINEE LINES...
  local file=$1 who=$2
  shift 2
  printf '%s\n' "$@" >keys.txt
  check "quiz of $who" "$oxylag" replay "$file" --quiz --answers keys.txt --trainee "$who"
}
at() { "$oxylag" replay "$1" --virtual-time --json | jq -s "map(select(.event == \"run\"))[-1].$2"; }
front=$(at "$aged" front_lean_t_s) rear=$(at "$aged" rear_lean_t_s)
late() { awk "BEGIN { printf \"%.6f space\", $1 + $2 }"; }
quiz "$aged" Ada "$(late "$front" 0.2)" "$(late "$rear" -0.1)" "verdict q"
quiz "$aged" Ben "$(late "$front" 0.9)" "verdict b"
quiz "$aged" Ben "$(late "$front" 0.1)" "$(late "$rear" 0.1)" "verdict q"
quiz "$good" Ben "verdict g"
quiz "$aged" "$(printf '=x\033[31m')" "verdict q"
checks=$((checks + 1))
[ "$(stat -c %a "$kept")" = 600 ] || fail "the results can be read by others"
check "the class" "$oxylag" lessons --class
cp check.out table.txt
row() {
  checks=$((checks + 1))
  grep -qE "$1" table.txt || fail "no row \"$1\": $(cat -v table.txt)"
}
row '^Lesson 1, good: '
row '^Lesson 3, aged: '
row '^  Ada +12 of 12  right +200 +100 +1 +12 of 12$'
row '^  Ben +1 of 12  wrong +900 +-- +2 +12 of 12$'
row '^  Ben +6 of 12  right +-- +-- +1 +6 of 12$'
row '^  =x\?\[31m +6 of 12'
checks=$((checks + 2))
[ "$(grep -n '^Lesson' table.txt | head -1 | grep -c good)" = 1 ] || fail "order: $(cat table.txt)"
LC_ALL=C grep -q $'[\x01-\x09\x0b-\x1f]' table.txt && fail "controls in the table"
check "as csv" "$oxylag" lessons --class --csv
checks=$((checks + 1))
python3 - check.out <<'PY' || fail "csv: $(cat check.out)"
import csv, sys
rows = list(csv.DictReader(open(sys.argv[1], newline="")))
assert [r["trainee"] for r in rows] == ["Ada", "Ben", "Ben", "Ben", "'=x?[31m"], rows
assert [float(r["score"]) for r in rows] == [12, 1, 12, 6, 6]
PY
check "as JSON" "$oxylag" lessons --class --json
checks=$((checks + 1))
jq -es 'length == 5 and (.[1] | .verdict == "bad" and .answer == "questionable" and .rear_ms == null)' \
  check.out >/dev/null || fail "json: $(cat check.out)"

# A damaged line is left out and said; a full disk loses that result and no other.
printf 'junk\n{"trainee":"half' >>"$kept"
quiz "$good" Cleo "verdict b"
"$oxylag" lessons --class --json >class.json 2>class.err
checks=$((checks + 2))
[ "$(jq -s 'map(select(.trainee == "Cleo")) | length' class.json)" = 1 ] || fail "Cleo is lost: $(cat class.json)"
grep -q '^oxylag: 2 lines' class.err || fail "damaged lines: $(cat class.err)"
cp "$kept" before.txt
(
  ulimit -f 0
  "$oxylag" replay "$good" --quiz --answers keys.txt --trainee Dan 2>full.err | cat >/dev/null
  exit "${PIPESTATUS[0]}"
) 2>/dev/null
code=$?
checks=$((checks + 1))
{ cmp -s "$kept" before.txt && [ "$code" = 2 ]; } || fail "full disk: exit $code"
refuse 2 'goes with --quiz' "$oxylag" replay "$good" --trainee Ada
refuse 2 'goes with --class' "$oxylag" lessons --csv

# In a terminal: A does nothing on a first run; on a second it shows the answer, and nothing is kept.
export TERM=xterm-256color LC_ALL=C.UTF-8
. "$here/tmux.sh"
wait_for() {
  checks=$((checks + 1))
  for _ in $(seq $(($2 * 40))); do
    tm capture-pane -p >screen.txt
    grep -qE "$1" screen.txt && return 0
    sleep 0.1
  done
  fail "the screen never showed \"$1\": $(cat screen.txt)"
}
lines=$(wc -l <"$kept")
tm new-session -d -x 80 -y 24 "$oxylag replay $aged --quiz --rate 2 --from 41 --trainee Eve; echo exit \$?; sleep 60"
wait_for 'Space when the front' 10
tm send-keys A
sleep 3
tm capture-pane -p >screen.txt
checks=$((checks + 1))
grep -qE 'TIMING|ENRICHMENT|RELEASE' screen.txt && fail "a first run shows the answer: $(cat screen.txt)"
tm send-keys x
wait_for 'not answered to its end' 10
tm_end
tm new-session -d -x 80 -y 24 "$oxylag replay $aged --quiz --rate 2 --from 41 --trainee Ada; echo exit \$?; sleep 60"
wait_for 'Space when the front' 10
sleep 1.5
tm send-keys A
wait_for 'TIMING|RELEASE|RECOVERY' 10
tm send-keys q
wait_for 'this try is not kept' 10
checks=$((checks + 1))
[ "$(wc -l <"$kept")" = "$lines" ] || fail "a try that was not answered is kept"
tm_end
done_testing

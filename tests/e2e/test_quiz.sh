#!/usr/bin/env bash
# replay --quiz: errors against the simulator's answer, in a file's keys and in a real terminal; and
# replay's own jumps.
. "$(dirname "$0")/lib.sh"

"$oxylag" demo --scenario aged --seed 5 -y --virtual-time --runs 2 --json --out aged.rec >aged.events 2>/dev/null
at() { jq -s "map(select(.event == \"run\"))[$1].$2" aged.events; }
{
  echo "# late by 0.1 and 0.2 s; the second run's rear is missed"
  awk "BEGIN { printf \"%.6f space\n\", $(at 0 front_lean_t_s) + 0.1 }"
  awk "BEGIN { printf \"%.6f space  # rear\n\", $(at 0 rear_lean_t_s) + 0.2 }"
  awk "BEGIN { printf \"%.6f space\n\", $(at 1 front_lean_t_s) - 9 }"
  awk "BEGIN { printf \"%.6f u\n\", $(at 1 front_lean_t_s) - 8 }"
  awk "BEGIN { printf \"%.6f space\n\", $(at 1 front_lean_t_s) - 0.05 }"
  echo "verdict q"
} >keys.txt
check "quiz by file" "$oxylag" replay aged.rec --quiz --answers keys.txt --json
cp check.out quiz.json
is() {
  checks=$((checks + 1))
  jq -es "$2" quiz.json >/dev/null || fail "quiz: $1: $(cat quiz.json)"
}
is "three lines, no other event" 'map(.event) == ["quiz-run", "quiz-run", "quiz"]'
is "errors" '((.[0].front_error_ms - 100 | fabs) < 0.01) and ((.[0].rear_error_ms - 200 | fabs) < 0.01)
  and ((.[1].front_error_ms + 50 | fabs) < 0.01) and .[1].rear_error_ms == null'
is "points" '.[0].points == 6 and .[1].points == 3 and .[2].score == 15 and .[2].of == 18'
is "verdict" '.[2].verdict == "questionable" and .[2].answer == "questionable"'
: >none.txt
check "quiz without a verdict" "$oxylag" replay aged.rec --quiz --answers none.txt --json
checks=$((checks + 1))
grep -q '"answer":null' check.out || fail "the answer was told without a question: $(cat check.out)"
grep -v verdict keys.txt >some.txt
check "quiz in words" "$oxylag" replay aged.rec --quiz --answers some.txt
checks=$((checks + 1))
grep -q '^Score: 9 of 12$' check.out || fail "score: $(cat check.out)"

refuse 2 'needs the dashboard' "$oxylag" replay aged.rec --quiz
refuse 2 'goes with --quiz' "$oxylag" replay aged.rec --answers keys.txt
echo "5 space" >bad.txt; echo "4 space" >>bad.txt
refuse 3 'bad.txt line 2' "$oxylag" replay aged.rec --quiz --answers bad.txt
echo "verdict x" >bad.txt
refuse 3 'bad.txt line 1' "$oxylag" replay aged.rec --quiz --answers bad.txt
refuse 3 'nothere' "$oxylag" replay aged.rec --quiz --answers nothere

# In a terminal: the answer stays hidden until both marks are made.
export TERM=xterm-256color LC_ALL=C.UTF-8
. "$here/tmux.sh"
screen() { tm capture-pane -p >screen.txt; }
wait_for() {
  local i
  checks=$((checks + 1))
  for i in $(seq $(($2 * 40))); do
    screen
    grep -qE "$1" screen.txt && return 0
    sleep 0.1
  done
  fail "the screen never showed \"$1\":"
  cat screen.txt
}
tm new-session -d -x 80 -y 24 "$oxylag replay aged.rec --quiz --rate 4 --from 38; echo exit \$?; sleep 30"
wait_for 'Space when the front' 10
checks=$((checks + 1))
grep -qE 'TIMING|ENRICHMENT|CUT THE GAS|LEAN$' screen.txt && fail "the quiz shows the answer: $(cat screen.txt)"
sleep 1
tm send-keys Space
wait_for 'Space when the rear' 5
tm send-keys Space
wait_for 'error  *points' 20
tm send-keys Space
tm send-keys + + + +
wait_for 'error  *points' 30
tm send-keys Space
wait_for 'g good' 10
tm send-keys q
wait_for 'points' 5
wait_for 'answer questionable' 5
tm send-keys x
wait_for 'exit 0' 10
tm_end

# Jumps: ten seconds on, ten back; the clock says so, and the traces are still there.
tm new-session -d -x 80 -y 24 "$oxylag replay aged.rec --from 20; echo exit \$?; sleep 30"
wait_for 'replay 2[0-2]\.' 10
tm send-keys p
wait_for 'PAUSED' 5
tm send-keys Right Right
wait_for 'replay 4[0-3]\..*PAUSED' 10
tm send-keys Left
wait_for 'replay 3[0-3]\..*PAUSED' 10
checks=$((checks + 1))
grep -q '⠉' screen.txt || fail "no traces after a jump: $(cat screen.txt)"
tm send-keys Left Left Left Left Left
wait_for 'replay 0\.0 s.*PAUSED' 10
tm send-keys q
wait_for 'exit 0' 10
done_testing

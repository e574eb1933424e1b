#!/usr/bin/env bash
# The dashboard in a real terminal (tmux) at 80x24 and 120x40: cautions, every state, the result,
# resizing, leaving. No key but the acknowledgement is needed for a verdict.
. "$(dirname "$0")/lib.sh"
export TERM=xterm-256color LC_ALL=C.UTF-8
. "$here/tmux.sh"

# wait_for PATTERN SECONDS: until the screen shows it
wait_for() {
  local i
  for i in $(seq $(($2 * 40))); do
    tm capture-pane -p >screen.txt 2>/dev/null
    grep -qiE "$1" screen.txt && return 0
    sleep 0.1
  done
  fail "the screen never showed \"$1\":"
  cat screen.txt
  return 1
}

for size in 80x24 120x40; do
  cols=${size%x*} rows=${size#*x}
  tm new-session -d -x "$cols" -y "$rows" \
    "$oxylag demo --scenario aged --rate 4 --runs 1 --out $size.rec; echo exit \$? | tee $size.exit; sleep 30"
  checks=$((checks + 1))
  wait_for 'propane' 10 || { tm_end; continue; }
  tm send-keys Enter Enter # two parts at 80x24
  for word in '\[BASELINE\]' '\[ENRICHMENT\]' '\[TIMING\]' 'runs count'; do
    checks=$((checks + 1))
    wait_for "$word" 60 || break
  done
  # Nothing may be wider than the terminal or torn: every line fits.
  while IFS= read -r line; do
    [ ${#line} -le "$cols" ] || fail "$size: a line is wider than the screen: $line"
  done <screen.txt
  tm resize-window -x 60 -y 20
  wait_for 'runs count' 5
  tm send-keys q
  wait_for 'exit 0' 10
  checks=$((checks + 2))
  for i in $(seq 1200); do [ -s $size.exit ] && break || sleep 0.1; done # the screen has it first
  [ "$(cat $size.exit)" = "exit 0" ] || fail "$size: $(cat $size.exit)"
  # The last lines: verdict with its figure, the next step, the recording and how to print the page.
  grep -v '^$' screen.txt | tail -8 >last.txt
  for line in '^Verdict QUESTIONABLE: ' '^Next: ' '^Recording: .*Page: oxylag report' '^exit 0'; do
    grep -q "$line" last.txt || fail "$size: the last lines lack \"$line\": $(cat last.txt)"
  done
  tm_end
done

# Enter accepts nothing that was not shown, and a stop says what was kept.
tm new-session -d -x 80 -y 24 \
  "$oxylag demo --scenario aged --rate 8 --out kept.rec; echo exit \$?; sleep 30"
wait_for 'part 1 of 2' 10 && tm send-keys Enter && wait_for 'part 2 of 2' 5
checks=$((checks + 5))
[ ! -s kept.rec ] || fail "one Enter began the test: $(head -c 200 kept.rec)"
tm send-keys Enter
wait_for '\[ENRICHMENT\]' 60
tm send-keys a a # in a run it is asked for once more; together, as at this rate the question is short
wait_for 'Enter what next' 20
tm send-keys q
wait_for 'exit 6' 10
grep -q '^No verdict. Kept: 0 finished runs and the recording' screen.txt ||
  fail "a stopped test does not say what was kept: $(cat screen.txt)"
grep -q '^Recording: kept.rec   Page: oxylag report kept.rec' screen.txt ||
  fail "the recording of a stopped test is not named: $(cat screen.txt)"
tm_end
done_testing

#!/usr/bin/env bash
# The home screen on a vehicle: `oxylag simulate` on a pseudo-terminal, from `oxylag` alone over the link
# check and an inspection to the page as PDF.
. "$(dirname "$0")/lib.sh"
. "$here/home.sh"

# ---- a vehicle: `simulate` on a pseudo-terminal, the link check, an inspection, one run ----
"$oxylag" simulate --listen pty --symlink "$work/adapter" --scenario good >serve.txt 2>&1 &
cleanup_pids+=($!)
for _ in $(seq 1200); do [ -e adapter ] && break || sleep 0.1; done
rm -rf data
open 80 24
wait_for 'want to do' 10
keys 2
wait_for 'Test the link' 5
keys Up Enter # Begin
[ -e /dev/ttyUSB0 ] || [ -e /dev/ttyACM0 ] || wait_for 'No adapter is chosen' 5
keys Down && tm send-keys "$work/adapter" && keys Down Enter
wait_for 'The link works: go back' 60
for line in 'pass +adapter' 'pass +speed' 'pass +vehicle' 'pass +sensors' 'readings a second'; do
  checks=$((checks + 1))
  grep -qE "$line" screen.txt || fail "the link check lacks \"$line\": $(cat screen.txt)"
done
keys Escape
wait_for 'The link works\.' 5
checks=$((checks + 1))
grep -q 'Bank' screen.txt && fail "this engine has one bank, and is asked for it: $(cat screen.txt)"
tm send-keys 815 && keys Up Up Up Up Enter # the link works: on to the order
wait_for 'twenty on K-line. Now: ' 10 # watched on the screen, and stopped there
keys Escape
wait_for 'Fill in what you know' 15
keys Enter
wait_for 'twenty on K-line. Now: ' 10
wait_for 'Test this vehicle' 90
keys 4 # what was typed stays
wait_for 'oxylag run --port .*adapter --order 815' 10
keys Up Enter
wait_for 'part 1 of 2' 10
keys Enter && sleep 0.3 && keys Enter
wait_for '(run 2 of 3|RECOVERY)' 150
# Asked for once more during a run; at the result the same key leaves.
for _ in 1 2 3 4; do
  tm capture-pane -p | saw 'Same vehicle again' && break
  keys a
  sleep 1.5
done
wait_for 'Same vehicle again' 20
keys 2
wait_for '^ Written: .*pdf' 30
checks=$((checks + 2))
last=$(recordings | tail -1)
[ "$(recordings | wc -l)" = 3 ] && head -c 300 "$(recordings | head -1)" | saw '"port":".*adapter"' ||
  fail "a stopped inspection, an inspection and a test left $(recordings)"
[ "$(head -c 4 "${last%.jsonl}.pdf")" = %PDF ] || fail "there is no PDF beside $last"
keys C-c
leave 0
done_testing

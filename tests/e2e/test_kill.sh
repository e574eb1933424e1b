#!/usr/bin/env bash
# kill -9 at odd moments: at most the last second is lost, and what is left replays.
. "$(dirname "$0")/lib.sh"
for i in 1 2 3 4 5 6; do
  "$oxylag" demo -y --plain --rate 1 --scenario aged --out "k$i.rec" >/dev/null 2>&1 &
  pid=$!
  # disown: the shell need not tell of the kill
  disown $pid
  sleep "$((1 + i / 2)).$((i * 13 % 10))"
  last=$(date +%s.%N)
  kill -9 $pid
  checks=$((checks + 1))
  [ -s "k$i.rec" ] || {
    fail "kill $i: nothing was recorded"
    continue
  }
  started=$(stat -c %W "k$i.rec")
  "$oxylag" replay "k$i.rec" --virtual-time --json --samples >k.events 2>k.err
  [ $? = 6 ] || fail "kill $i: replay: $(cat k.err)"
  end=$(jq -s 'map(.t_s) | max' k.events)
  # The file's birth is the test's start to within the start-up.
  ran=$(echo "$last $(stat -c %.W "k$i.rec" 2>/dev/null || echo "$started")" | awk '{print $1-$2}')
  awk -v a="$ran" -v b="$end" 'BEGIN { exit !(a - b < 1.5) }' ||
    fail "kill $i: ran $ran s but only $end s are left"
done
# An orderly end by a signal keeps everything and says so.
"$oxylag" demo -y --plain --scenario aged --out term.rec >term.out 2>term.err &
pid=$!
sleep 2
kill -TERM $pid
wait $pid
rc=$?
checks=$((checks + 1))
[ $rc = 6 ] || fail "SIGTERM: exit $rc, expected 6"
grep -q 'Recorded in term.rec' term.out || fail "SIGTERM: the recording is not named"
tail -1 term.rec | grep -q '"end"' || fail "SIGTERM: no orderly end in the recording"
done_testing

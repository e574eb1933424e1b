#!/usr/bin/env bash
# kill -9 at odd moments: at most the last second is lost, and what is left replays. A machine that is busy
# lets the writer wait: some may have lost more, none all of it.
. "$(dirname "$0")/lib.sh"
late=0
for i in 1 2 3 4 5 6; do
  "$oxylag" demo -y --plain --rate 1 --scenario aged --out "k$i.rec" >/dev/null 2>&1 &
  pid=$!
  # disown: the shell need not tell of the kill
  disown $pid
  # From the header on: how long a busy machine takes to begin is no part of it.
  for _ in $(seq 600); do [ -s "k$i.rec" ] && break || sleep 0.1; done
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
  awk -v a="$ran" -v b="$end" 'BEGIN { exit !(a - b < 1.5) }' || {
    late=$((late + 1))
    echo "kill $i: ran $ran s but only $end s are left"
  }
  awk -v a="$ran" -v b="$end" 'BEGIN { exit !(a - b < 60) }' || fail "kill $i: ran $ran s, left are $end s"
done
[ $late -le 3 ] || fail "of 6 kills $late lost more than a second"

# Twenty more (fifty in the long run), quickly: five at a time, eight times real time, at random moments. What the program
# had said on its output (flushed line by line) is what had happened; at most one second of it
# (8 s of the faster clock) may be missing from the recording.
RANDOM=$$
kill_one() {
  local n=$1 pause
  pause=$(awk -v r="$2" 'BEGIN { print 0.05 + 1.6 * r / 32768 }')
  "$oxylag" demo -y --json --samples --rate 8 --scenario aged --seed "$n" --out "q$n.rec" \
    >"q$n.said" 2>/dev/null &
  local pid=$!
  disown $pid
  sleep "$pause"
  kill -9 $pid
}
lost_most=0 late=0 batches=4
! long || batches=10
for batch in $(seq 0 $((batches - 1))); do
  waiting=()
  for k in 0 1 2 3 4; do
    kill_one $((batch * 5 + k)) $RANDOM &
    waiting+=($!)
  done
  wait "${waiting[@]}"
done
kills=$((batches * 5))
for n in $(seq 0 $((kills - 1))); do
  checks=$((checks + 1))
  said=$(grep -o '^{.*}$' "q$n.said" | tail -1 | jq '.t_s // 0' 2>/dev/null)
  if [ -s "q$n.rec" ]; then
    "$oxylag" replay "q$n.rec" --virtual-time --json --samples >k.events 2>k.err
    rc=$?
    [ $rc = 6 ] || fail "quick kill $n: replay exits $rc: $(cat k.err)"
    left=$(tail -1 k.events | jq .t_s)
  else
    left=0
  fi
  lost=$(awk -v a="${said:-0}" -v b="${left:-0}" 'BEGIN { printf "%.3f", (a - b) / 8 }')
  awk -v l="$lost" 'BEGIN { exit !(l < 1) }' || late=$((late + 1))
  awk -v l="$lost" 'BEGIN { exit !(l < 60) }' || fail "quick kill $n: $lost s are lost"
  lost_most=$(awk -v a="$lost_most" -v b="$lost" 'BEGIN { print (a > b ? a : b) }')
done
echo "killed $kills times: at most $lost_most s lost, more than one $late times"
[ $((late * 2)) -le $kills ] || fail "$late of $kills kills lost more than a second"

# An orderly end by a signal keeps everything and says so.
"$oxylag" demo -y --plain --scenario aged --out term.rec >term.out 2>term.err &
pid=$!
begun term.rec
sleep 2
kill -TERM $pid
wait $pid
rc=$?
checks=$((checks + 1))
[ $rc = 6 ] || fail "SIGTERM: exit $rc, expected 6"
grep -q 'Recorded in term.rec' term.out || fail "SIGTERM: the recording is not named"
tail -1 term.rec | saw '"end"' || fail "SIGTERM: no orderly end in the recording"
done_testing

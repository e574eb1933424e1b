#!/usr/bin/env bash
# A test that is ended after counted runs is judged by them, and every output says so; the cause is
# the one there was; what is recorded plays again to the same events.
. "$(dirname "$0")/lib.sh"

# In real time over a pipe: a signal once run 2 has begun its enrichment.
end_by() { # signal name
  rm -f live.rec live.events
  "$oxylag" demo --scenario dead --seed 3 -y --json --rate 8 --out live.rec >live.events 2>live.err &
  pid=$!
  for _ in $(seq 600); do
    grep -q '"state":"enrichment","run":2' live.events 2>/dev/null && break
    kill -0 $pid 2>/dev/null || break
    sleep 0.1
  done
  kill -"$1" $pid
  wait $pid
  rc=$?
}

end_by TERM
checks=$((checks + 6))
[ $rc = 0 ] || fail "a result, so exit 0: $rc $(cat live.err)"
jq -es 'map(select(.event == "result"))[0] | .ended_early == true and .runs_wanted == 3 and .valid_runs == 1' \
  live.events >/dev/null || fail "the result: $(grep '"result"' live.events | cut -c1-200)"
jq -es 'map(select(.id == "ended-early"))[0] | (.found == "ended early, 1 of 3 runs") and
  (.advice | test("SIGTERM|signal|terminated"; "i")) and (.advice | test("technician") | not)' \
  live.events >/dev/null || fail "its cause: $(grep ended-early live.events)"
# Gas had been asked for: shut comes before the result.
jq -es '(map(.code // "") | rindex("shut-valve")) as $shut | (map(.event) | index("result")) as $r |
  $shut != null and $shut < $r' live.events >/dev/null || fail "shut-valve does not come before the result"
"$oxylag" replay live.rec --virtual-time --json >again.events 2>again.err || fail "replay: exit $?"
cmp -s live.events again.events || fail "the replay differs: $(diff live.events again.events | head -3)"
for format in text html; do
  checks=$((checks + 1))
  "$oxylag" report live.rec --format $format | tr '\n' ' ' >page
  grep -q '1 of 1.*ended early, 3 were wanted' page ||
    fail "report $format does not say it"
done
checks=$((checks + 1))
"$oxylag" replay live.rec --virtual-time --plain >plain.txt
grep -q 'RESULT.*ended early (3 were wanted)' plain.txt ||
  fail "the plain line does not say it"

# With nothing counted there is no result, and the signal is the cause.
rm -f none.rec
"$oxylag" demo --scenario dead --seed 3 -y --json --out none.rec >none.events 2>none.err &
pid=$!
begun none.rec
sleep 4
kill -TERM $pid
wait $pid
rc=$?
checks=$((checks + 2))
[ $rc = 6 ] || fail "without a result: exit $rc"
grep -qi technician none.err none.events && fail "the technician is blamed: $(cat none.err)"
done_testing

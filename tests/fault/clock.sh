#!/usr/bin/env bash
# The machine sleeps for half a minute in the middle of a test: CLOCK_BOOTTIME leaps, the other
# clocks do not. The gap is on record as a sleep, no more than the run that it touched is void, the test
# goes on and its recording plays to the same end. A machine that has too much to do is not called
# asleep. clock.sh OXYLAG SHIM
set -uo pipefail
oxylag=$(realpath "$1") shim=$(realpath "$2")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
failures=0
fail() {
  echo "FAILED: $*"
  failures=$((failures + 1))
}
noticed=0
for at in 1.0 3.5; do
  rm -f sleep.rec
  timeout 900 env LD_PRELOAD="$shim" OXL_FAULT_CLOCK=$at:30 "$oxylag" demo -y --json --rate 8 --runs 1 \
    --no-deeper --scenario aged --out sleep.rec >sleep.events 2>sleep.err || fail "$at: exit $?: $(cat sleep.err)"
  grep -q '"note":"the program stood still for 3[0-9.]* s: the computer was asleep"' sleep.rec || fail "$at: the gap is not recorded"
  # (Where the test stands at that moment depends on the machine: a question need not be open in both.)
  ! grep -q '"state":"lost"' sleep.events || noticed=$((noticed + 1))
  jq -e -s '[.[] | select(.event == "run")] | (map(select(.valid)) | length == 1) and
    (map(select(.valid | not)) | length <= 1)' sleep.events >/dev/null || fail "$at: runs: $(grep '"run"' sleep.events)"
  "$oxylag" replay sleep.rec --virtual-time --json >again 2>again.err
  cmp -s again sleep.events || fail "$at: replay differs: $(cat again.err)"
done
[ $noticed -ge 1 ] || fail "the vehicle's silence went unnoticed in both gaps"
# Held up for 1.3 s: no sleep, and nobody stopped it.
rm -f held.rec
timeout 900 env LD_PRELOAD="$shim" OXL_FAULT_HOLD=1.5:1.3 "$oxylag" demo -y --json --rate 8 --runs 1 \
  --no-deeper --scenario aged --out held.rec >held.events 2>held.err || fail "held up: exit $?: $(cat held.err)"
grep -q '"note":"the program stood still for [1-9][0-9.]* s: it was held up"' held.rec ||
  fail "held up: $(grep -h '"note"' held.rec || echo "the gap is not recorded")"
echo "two sleeps, one delay, $failures failures"
[ $failures = 0 ]

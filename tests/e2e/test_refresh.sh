#!/usr/bin/env bash
# An ECU that takes new values twice a second: it is found and said, and the intervals hold the
# truth. Without that they are narrower than those of a quick one and miss it.
. "$(dirname "$0")/lib.sh"

for seed in 1 2 3 4 5; do
  checks=$((checks + 1))
  timeout 900 "$oxylag" demo --scenario slow-refresh --seed "$seed" -y --virtual-time --json \
    --out "$seed.rec" --truth "$seed.truth" >"$seed.events" 2>err || fail "seed $seed: $(tail -1 err)"
  # Each run's interval against the pulse whose front-lean is nearest.
  jq -n --slurpfile truth "$seed.truth" --slurpfile events "$seed.events" '
    ($truth | map(select(.pulse != null))) as $pulses
    | [$events[] | select(.event == "run" and .valid and .dropped)]
    | map(. as $r | ($pulses | min_by(.front_lean_t_s - $r.front_lean_t_s | fabs)).delay_s
          | {truth: ., low: $r.delay_low_s, high: $r.delay_high_s,
             inside: (. >= $r.delay_low_s and . <= $r.delay_high_s)})
    | .[]' >>compared
  # The last word on it comes with the result.
  jq -r 'select(.event == "check" and .id == "refresh") | .found' "$seed.events" | tail -1 >>said
done

checks=$((checks + 3))
runs=$(jq -s length compared) held=$(jq -s 'map(select(.inside)) | length' compared)
[ "$runs" -ge 10 ] || fail "only $runs runs were compared"
[ "$held" -ge $((runs - 1)) ] || fail "$held of $runs intervals hold the truth: $(jq -c . compared)"
[ "$(jq -s 'map(.high - .low) | min > 0.4' compared)" = true ] ||
  fail "narrower than what half a second leaves open: $(jq -c . compared)"
checks=$((checks + 1))
[ "$(grep -cE 'front every 0\.5 s.* rear every 0\.5 s' said)" = 5 ] || fail "said: $(cat said)"
check "report" bash -c "'$oxylag' report 1.rec | grep -F 'every 0.5 s'"

# Before any gas, in the inspection.
checks=$((checks + 1))
timeout 900 "$oxylag" inspect --port sim:slow-refresh --virtual-time >inspect.out 2>err
grep -E 'refresh.* (rear every 0\.5 s|not known)' inspect.out >/dev/null || fail "inspect: $(cat inspect.out err)"
done_testing

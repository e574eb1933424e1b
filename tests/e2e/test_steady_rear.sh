#!/usr/bin/env bash
# A healthy rear sensor that stands at 0.8 V at idle and in rich gas is not called dead: the sound
# converter ahead of it is called good, and the dead one bad. That the rear switches at idle as the front
# does is no evidence, and not said.
. "$(dirname "$0")/lib.sh"

car() { # FRONT CAPACITY
  cat <<END
[scenario]
title = A rear that rests at 0.8 V
[ecu]
front = $1
[plant]
rear_trim_v = 0.80
rear_top_v = 0.81
rear_noise_v = 0.003
slip_pct = 8
reoxidation_pct_s = 0.4
start_fill_pct = 0
capacity_mg = $2
END
}

while read -r front capacity want; do
  car "$front" "$capacity" >car.ini
  for seed in 1 2 3; do
    out=$front.$want.$seed.events
    timeout 900 "$oxylag" demo --scenario "$PWD/car.ini" --seed $seed -y --virtual-time --json \
      >"$out" 2>"$out.err"
    checks=$((checks + 3))
    verdict=$(jq -r 'select(.event == "result") | .verdict' "$out")
    [ "$verdict" = "$want" ] || fail "$front, $capacity mg, seed $seed: \"$verdict\", not $want"
    jq -e -s 'any(.[]; .event == "result" and (.reasons | index("rear-stuck")))' "$out" >/dev/null &&
      fail "$front, $capacity mg, seed $seed: the rear is called stuck"
    grep -q rear-follows-front "$out" && fail "$front, $capacity mg, seed $seed: the rear follows the front"
  done
done <<END
switching 1400 good
switching 60 bad
wide-current 1400 good
wide-current 60 bad
END
done_testing

#!/usr/bin/env bash
# Makes the simulated recordings of this folder anew, over pseudo-terminals and in real time, all
# beside each other (five minutes):   bash tests/field/make_simulated.sh build/oxylag
# What is there is replaced.
set -uo pipefail
oxylag=$(realpath "$1")
cd "$(dirname "$0")" || exit 1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# make NAME CONVERTER VEHICLE ADAPTER BEFORE ECU ADAPTER-SETTINGS PLANT
make() {
  local name=simulated-$1 ini=$work/$1.ini port=$work/$1.port truth=$work/$1.truth server
  printf '[ecu]\n%b\n[adapter]\n%b\n[plant]\n%b\n' "$6" "$7" "$8" >"$ini"
  "$oxylag" simulate --listen pty --scenario "$ini" --truth "$truth" >"$port" &
  server=$!
  until [ -s "$port" ]; do sleep 0.1; done
  rm -f "$name.jsonl" "$name.truth.json"
  timeout 500 "$oxylag" run --port "$(cat "$port")" -y --plain --mask-vin --runs 1 --no-deeper \
    --out "$name.jsonl" >"$work/$1.out" 2>&1
  echo "$name: exit $? $(tail -1 "$work/$1.out")"
  sleep 40 # a pulse's truth is complete when the trims are back
  kill $server
  jq -s --arg sum "$(sha256sum <"$name.jsonl" | cut -d' ' -f1)" --arg converter "$2" --arg vehicle "$3" \
    --arg adapter "$4" --arg before "$5" '
    {simulated: true, sha256: $sum, vehicle: $vehicle, adapter: $adapter,
     known: {converter: $converter, delay_s: (map(.delay_s // empty) | if length > 0 then [min, max] else null end)},
     how: "the delays of all pulses that the simulated vehicle made meanwhile, least and most",
     by: "the simulator"} + (if $before == "" then {} else {after: $before} end)' "$truth" >"$name.truth.json"
}

# A slow link keeps the files small.
link='wireless, 80 ms' slow='baud = 500000\nlatency_ms = 80\njitter_ms = 8'
make refresh-500ms worn 'every value refreshed each 0.5 s; wide-range front' "$link" '' \
  'front = wide-current\ncalc_ms = 500\nrefresh_phase_random = yes' "$slow" 'capacity_mg = 600' &
make refresh-unequal sound 'front each 0.1 s, rear each 0.25 s, trims each 0.5 s; switching front' "$link" '' \
  'refresh_front_ms = 100\nrefresh_rear_ms = 250\nrefresh_trims_ms = 500\nrefresh_phase_random = yes' "$slow" \
  'capacity_mg = 800' &
make mask-lies worn 'the masks announce PID 25, only 15 answers' "$link" '' \
  'front = wide-current\nannounces = 25\nhides = 15' "$slow" 'capacity_mg = 600' &
make kline-refresh-250ms worn 'ISO 9141-2, every value refreshed each 0.25 s' 'serial, 115200 baud' '' \
  'calc_ms = 250\nrefresh_phase_random = yes' 'protocol = 3' 'capacity_mg = 700' &
make slow-adapter worn 'wide-range front' \
  'searches for 16 s, cannot be interrupted, asleep at first, wireless' '' \
  'front = wide-current' 'search_ms = 16000\nbusy_chars = lost\nwake_ms = 1500\nbaud = 500000\nlatency_ms = 80\njitter_ms = 8' \
  'capacity_mg = 600' &
make before dead 'values refreshed each 0.1 s' "$link" '' 'calc_ms = 100' "$slow" 'capacity_mg = 15' &
make after sound 'values refreshed each 0.1 s' "$link" simulated-before.jsonl 'calc_ms = 100' "$slow" \
  'capacity_mg = 800' &
wait
du -bc simulated-*.jsonl | tail -1

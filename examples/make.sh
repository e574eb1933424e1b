#!/usr/bin/env bash
# Makes the example sessions of docs/training.md again, from fixed seeds: simulated, and they say so.
#   bash examples/make.sh [OXYLAG [FOLDER]]      build/oxylag and examples/ when not given
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
oxylag=$(realpath "${1:-$here/../build/oxylag}")
out=${2:-$here}

# scenario seed
sessions="good:1 aged:17 dead:1 over-propane:1 leak-before-rear:1 slow-rear:1 dead-rear:1
residual-propane:1 cool-converter:1 switching-front:1 kline:1 unplugged:5 deeper-dead:1"

: >"$out/expected.txt"
for s in $sessions; do
  name=${s%%:*} seed=${s#*:} file=$out/${s%%:*}.jsonl
  rm -f "$file" "$file.events"
  deeper=--no-deeper
  case $name in deeper-*) deeper=--deeper ;; esac
  # A test that ends without a result is an example too.
  "$oxylag" demo --accept-cautions --virtual-time --json --quiet --runs 1 $deeper --packets 16 \
    --scenario "$name" --seed "$seed" --order "Training example (simulated)" \
    --out "$file" >"$file.events" || true
  # The hour at which it was made would be the only thing that differs.
  sed -i '1s/"started":"[^"]*"/"started":"2026-01-01T12:00:00+00:00"/' "$file"
  jq -rs --arg name "$name" '(map(select(.event == "result"))[0] // {}) as $r
    | def n: if . == null then "--" else (. * 100 | round / 100 | tostring) end;
      "\($name): \($r.verdict // "no result"), delay \($r.delay_s | n) (\($r.delay_low_s | n) to " +
      "\($r.delay_high_s | n)) s; \(($r.reasons // []) | join(" "))"' \
    "$file.events" >>"$out/expected.txt"
  rm -f "$file.events"
  chmod 644 "$file"
done

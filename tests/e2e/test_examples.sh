#!/usr/bin/env bash
# The example sessions for trainers: small, said to be simulated, replayed without a difference, as
# expected.txt says, named in docs/training.md, and made again bit for bit from their seeds.
. "$(dirname "$0")/lib.sh"
root=$here/../..

bash "$root/examples/make.sh" "$oxylag" "$work" >make.out 2>&1 || fail "make.sh: $(tail -3 make.out)"
check "expected.txt is that of this program" cmp "$root/examples/expected.txt" expected.txt
n=0
for f in "$root"/examples/*.jsonl; do
  name=$(basename "$f" .jsonl)
  n=$((n + 1))
  check "$name: made again bit for bit (bash examples/make.sh)" cmp "$f" "$name.jsonl"
  checks=$((checks + 3))
  [ "$(stat -c %s "$f")" -lt 400000 ] || fail "$name: larger than 400 kB"
  [ "$(head -1 "$f" | jq -r .simulated)" = true ] || fail "$name: not said to be simulated"
  grep -q "examples/$name.jsonl" "$root/docs/training.md" || fail "$name: not in docs/training.md"
  # Identical, or the line on standard error says how many events differ.
  "$oxylag" replay "$f" --virtual-time --json >replay.json 2>replay.err
  [ -s replay.err ] && grep -q differ replay.err && fail "$name: $(cat replay.err)"
  checks=$((checks + 1))
  jq -es 'map(select(.event == "state")) | length > 3' replay.json >/dev/null ||
    fail "$name: the replay says nothing"
  verdict=$(jq -rs 'map(select(.event == "result"))[0].verdict // "no result"' replay.json)
  grep -q "^$name: $verdict," "$root/examples/expected.txt" || fail "$name: $verdict is not expected"
  check "$name: report" "$oxylag" report "$f"
  grep -q SIMULATED check.out || fail "$name: the report does not say that it is simulated"
done
checks=$((checks + 1))
[ "$n" -ge 10 ] || fail "only $n examples"
# What the trainer's page says comes out of them.
while read -r name verdict; do
  checks=$((checks + 1))
  grep -q "^$name: $verdict," "$root/examples/expected.txt" ||
    fail "docs/training.md says $name: $verdict, expected.txt $(grep "^$name:" "$root/examples/expected.txt")"
done < <(sed -n 's/^| `examples\/\([a-z-]*\)\.jsonl` | \([a-z]*\) |.*/\1 \2/p' "$root/docs/training.md")
done_testing

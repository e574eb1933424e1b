#!/usr/bin/env bash
# Recordings of tests/field with what is known of the truth beside each (docs/field-trial.md): whole,
# unchanged, without the VIN, replayed, and not contradicting the truth.
. "$(dirname "$0")/lib.sh"
field=${OXL_FIELD:-$here/../field}

# One line for each contradiction between a replay's events and the truth.
cat >contradicts.jq <<'JQ'
$truth[0].known as $known
| ([$events[] | select(.event == "result") | .verdict] | last // "none") as $verdict
| (if $known.converter == "sound" and $verdict == "bad" then "a sound converter is called bad" else empty end),
  (if $known.converter == "dead" and $verdict == "good" then "a dead converter is called good" else empty end),
  ($known.delay_s // empty | . as [$low, $high] | $events[]
   | select(.event == "run" and .valid and .delay_low_s != null)
   | select(.delay_low_s > $high or (.delay_high_s // 1e9) < $low)
   | "run \(.run): \(.delay_low_s) to \(.delay_high_s) s, known are \($low) to \($high) s")
JQ
# One line for each thing that is wrong with a recording.
faults() { # RECORDING TRUTH
  local rc want
  [ "$(sha256sum <"$1" | cut -d' ' -f1)" = "$(jq -r .sha256 "$2")" ] || echo "the checksum differs"
  jq -e '(.simulated | type) == "boolean" and (.known.converter | IN("sound", "dead", "worn", "unknown"))
    and ([.vehicle, .adapter, .how, .by] | all(type == "string" and length > 3))' "$2" >/dev/null ||
    echo "a member of the truth is missing or not what it should be"
  head -1 "$1" | jq -e '.format == "oxylag-recording" and .mask_vin and .order == "" and .technician == ""' \
    >/dev/null || echo "the header names an order or a technician, or does not mask the VIN"
  grep -q '"tx":"0902' "$1" && echo "the VIN was asked for"
  tail -n 1 "$1" | saw '"end":' || echo "it has no end"
  "$oxylag" replay "$1" --virtual-time --json >events.json 2>replay.err
  rc=$? want=$(jq '.known.exit // 0' "$2")
  [ $rc = "$want" ] || echo "replay: exit $rc, expected $want: $(tail -1 replay.err)"
  jq -nr --slurpfile truth "$2" --slurpfile events events.json -f contradicts.jq
}

shown() { # EVENTS: verdict, and the delay of the runs that counted
  jq -sr '"\([.[] | select(.event == "result") | .verdict] | last // "none"), \([.[]
    | select(.event == "run" and .valid) | "\(.delay_low_s) to \(.delay_high_s)"] | join("; ")) s"' "$1"
}
low() { jq -s '[.[] | select(.event == "run" and .valid) | .delay_low_s // 0] | min // 0' "$1"; }
high() { jq -s '[.[] | select(.event == "run" and .valid) | .delay_high_s // 1e9] | max // 1e9' "$1"; }

runs=0
for recording in "$field"/*.jsonl; do
  name=$(basename "$recording" .jsonl)
  checks=$((checks + 1))
  [ -s "$field/$name.truth.json" ] || { fail "$name: there is no $name.truth.json"; continue; }
  wrong=$(faults "$recording" "$field/$name.truth.json")
  [ -z "$wrong" ] || fail "$name: $wrong"
  mv events.json "$name.events"
  runs=$((runs + $(jq -s 'map(select(.event == "run" and .valid)) | length' "$name.events")))
  echo "$name: $(shown "$name.events"); known: $(jq -c .known "$field/$name.truth.json")"
done
for truth in "$field"/*.truth.json; do
  check "$truth belongs to a recording" test -s "${truth%.truth.json}.jsonl"
  before=$(jq -r '.after // empty' "$truth")
  [ -n "$before" ] || continue
  name=$(basename "$truth" .truth.json)
  check "$name: delay not below that of $before" jq -en \
    "$(high "$name.events") >= $(low "${before%.jsonl}.events")"
  check "$name: compared with $before" "$oxylag" report "$field/$before" "$field/$name.jsonl"
done
checks=$((checks + 1))
[ $runs -ge 3 ] || fail "only $runs runs were compared with anything"

# The checks themselves: a truth that is false, a file that was changed, one that is cut off.
spoil() { # WHAT PATTERN: after copying a.jsonl and a.truth.json were spoilt
  local found
  checks=$((checks + 1))
  found=$(faults a.jsonl a.truth.json)
  grep -q "$2" <<<"$found" || fail "$1 goes unnoticed: $found"
}
of() { # CONVERTER, not the right one: a recording whose verdict contradicts it
  cp "$field/simulated-$1.jsonl" a.jsonl
  jq "$2" "$field/simulated-$1.truth.json" >a.truth.json
}
against() { # CONVERTER VERDICT: an event in the place of a replay must be seen to contradict
  checks=$((checks + 1))
  jq -nr --argjson truth "[{\"known\": {\"converter\": \"$1\"}}]" -f contradicts.jq \
    --argjson events "[{\"event\": \"result\", \"verdict\": \"$2\"}]" | saw "is called $2" ||
    fail "a $1 converter called $2 goes unnoticed"
}
against sound bad
against dead good
of before '.known.delay_s |= map(. + 3)'
spoil 'a delay that is 3 s longer' 'known are'
of before '.known.exit = 7'
spoil 'another end' 'expected 7'
of before 'del(.by)'
spoil 'nobody who knows' 'missing'
of before . && sed -i '$d' a.jsonl
spoil 'a file without its end' 'no end'
spoil 'a file that was changed' 'checksum'
done_testing

#!/usr/bin/env bash
# Recordings that were made before requests were proven by echo: the same runs count, and each is judged
# the same. Since moments allow for the age of a value (docs/method.md, section 3) their figures are a
# little others, and intervals wider: what was measured then lies inside. (Words and members of other
# events may be newer.)
. "$(dirname "$0")/lib.sh"
runs='select(.event == "run") | [.run, .valid, .dropped, .delay_s, .delay_low_s, .delay_high_s, .o2_mg, .o2_low_mg, .o2_high_mg]'
# An end that is not known excludes nothing.
holds='def within($v; $low; $high): $v == null or (($low == null or $low <= $v) and ($high == null or $v <= $high));
  transpose | length > 0 and all(.[]; .[0] as $was | .[1] as $now |
    $was[0:3] == $now[0:3] and within($was[3]; $now[4]; $now[5]) and within($was[6]; $now[7]; $now[8]))'
for f in "$here"/../data/recordings/unproven-*.jsonl; do
  name=$(basename "$f")
  checks=$((checks + 3))
  "$oxylag" replay "$f" --virtual-time --json >again.events 2>again.err || fail "$name: exit $?"
  jq -c "$runs" again.events >again
  jq -c "select(.event | type == \"object\") | .event | $runs" "$f" >then
  jq -ne "[$(jq -s -c . then), $(jq -s -c . again)] | $holds" >holds 2>&1 ||
    fail "$name: other runs than then: $(cat holds) $(diff then again | head -4)"
  [ "$(jq -r 'select(.event == "result") | .verdict' again.events)" = \
    "$(jq -r 'select(.event | type == "object") | .event | select(.event == "result") | .verdict' "$f")" ] ||
    fail "$name: another verdict than then"
done
done_testing

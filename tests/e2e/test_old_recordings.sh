#!/usr/bin/env bash
# Recordings that were made before requests were proven by echo: their runs are measured as they were
# lived, bit for bit, and judged the same. (Words and members of other events may be newer.)
. "$(dirname "$0")/lib.sh"
runs='select(.event == "run") | [.run, .valid, .dropped, .delay_s, .delay_low_s, .delay_high_s, .o2_mg]'
for f in "$here"/../data/recordings/unproven-*.jsonl; do
  name=$(basename "$f")
  checks=$((checks + 3))
  "$oxylag" replay "$f" --virtual-time --json >again.events 2>again.err || fail "$name: exit $?"
  jq -c "$runs" again.events >again
  jq -c "select(.event | type == \"object\") | .event | $runs" "$f" >then
  [ -s then ] && cmp -s then again || fail "$name: other runs than then: $(diff then again | head -2)"
  [ "$(jq -r 'select(.event == "result") | .verdict' again.events)" = \
    "$(jq -r 'select(.event | type == "object") | .event | select(.event == "result") | .verdict' "$f")" ] ||
    fail "$name: another verdict than then"
done
done_testing

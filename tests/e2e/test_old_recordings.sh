#!/usr/bin/env bash
# Recordings that were made before requests were proven by echo play as they were lived.
. "$(dirname "$0")/lib.sh"
for f in "$here"/../data/recordings/unproven-*.jsonl; do
  check "$(basename "$f")" "$oxylag" replay "$f" --virtual-time --plain
  "$oxylag" replay "$f" --virtual-time >said 2>&1
  checks=$((checks + 1))
  grep -q "same as the live run: [0-9]* events identical" said || fail "$(basename "$f"): $(tail -1 said)"
done
done_testing

#!/usr/bin/env python3
"""Are two lists of events the same? same_events.py ONE OTHER

One JSON object a line. Words and whole numbers must be equal, other numbers within 1e-9 of their size; prints the
largest difference, or the first ten lines that differ. Fails when there is nothing to compare.
"""
import json
import sys

TOLERANCE = 1e-9
largest, different, numbers = 0.0, [], 0


def same(a, b):
    global largest, numbers
    if isinstance(a, float) or isinstance(b, float):
        if not all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in (a, b)):
            return False
        apart = abs(a - b) / max(abs(a), abs(b), 1e-3)
        largest, numbers = max(largest, apart), numbers + 1
        return apart <= TOLERANCE
    if isinstance(a, dict) and isinstance(b, dict):
        return list(a) == list(b) and all([same(a[k], b[k]) for k in a])
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all([same(x, y) for x, y in zip(a, b)])
    return type(a) is type(b) and a == b


one, other = ([json.loads(line) for line in open(path)] for path in sys.argv[1:3])
results = [e for e in one if e.get("event") == "result"]
if not results or not all("verdict" in r for r in results):
    sys.exit("no result to compare")
for i, (a, b) in enumerate(zip(one, other)):
    if not same(a, b):
        different.append(f"line {i + 1}\n  {json.dumps(a)}\n  {json.dumps(b)}")
print(f"{len(one)} and {len(other)} events, {len(results)} results, {numbers} numbers; the largest difference is {largest:.1e} of the number")
if different or len(one) != len(other):
    print(f"{len(different)} events differ:", *different[:10], sep="\n")
    sys.exit(1)

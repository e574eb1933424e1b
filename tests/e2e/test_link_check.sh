#!/usr/bin/env bash
# ports --test: what it says of good links and of each that is not, with the exit codes of docs/commands.md.
. "$(dirname "$0")/lib.sh"

# tests PORT EXIT PATTERN...: the check ends so and says all of that
tests() {
  local port=$1 want=$2 got pattern
  shift 2
  checks=$((checks + 1))
  timeout 900 "$oxylag" ports --test "$port" >out.txt 2>err.txt
  got=$?
  [ $got = "$want" ] || fail "$port: exit $got, expected $want: $(cat out.txt err.txt)"
  for pattern in "$@"; do
    grep -qE -- "$pattern" out.txt || fail "$port: lacks \"$pattern\": $(cat out.txt)"
  done
}

"$oxylag" simulate --listen pty --symlink "$work/adapter" --scenario kline >serve.txt 2>&1 &
serve=$!
cleanup_pids+=($serve)
"$oxylag" simulate --listen tcp:127.0.0.1:0 --scenario no-rear >tcp.txt 2>&1 &
cleanup_pids+=($!)
for _ in $(seq 1200); do [ -e adapter ] && grep -q tcp: tcp.txt && break || sleep 0.1; done
tests "$work/adapter" 0 'pass +rights .*may be opened by you' "caution +in use .*oxylag.* \(process $serve\)" \
  '-> Close that program' 'pass +adapter .* answers' 'pass +speed +[0-9]+ baud' 'pass +vehicle .*K-line' \
  'pass +sensors +bank 1' 'refresh .*every' 'readings +front [0-9.]+, rear [0-9.]+ readings a second' \
  '^The link works. Next: oxylag run --port '
# One that has it open is named when it does not open at all.
tests "$(grep -o 'tcp:[^ ]*' tcp.txt | head -1)" 7 'stop +sensors .*rear none' 'This bank cannot be tested'
grep -qE 'rights|speed' out.txt && fail "a socket has neither rights nor speed: $(cat out.txt)"
tests sim:silent-adapter 5 'stop +adapter +none answers at this port' '-> .*is it powered'
tests sim:no-vehicle 5 'pass +adapter' 'stop +vehicle' '-> .*ignition on'
tests tcp:127.0.0.1:1 4 'stop +port +it does not open' '-> nothing listens'
tests /dev/none 4 'stop +port +there is no such port' '-> .*plug in the adapter'
tests /dev/null 4 'it does not open' 'is not a serial port'
if [ "$(id -u)" != 0 ]; then
  tests /dev/tty0 4 'stop +rights +you may not open it'
fi
# For programs: one object a line, nothing else.
checks=$((checks + 2))
"$oxylag" ports --test /dev/none --json >out.txt 2>err.txt
python3 -c '
import json, sys
rows = [json.loads(line) for line in open("out.txt")]
assert len(rows) == 1 and rows[0]["check"] == "port" and rows[0]["grade"] == "stop", rows
assert set(rows[0]) == {"check", "grade", "found", "advice"} and "plug in" in rows[0]["advice"], rows
' || fail "the objects: $(cat out.txt)"
[ "$(wc -l <err.txt)" = 1 ] || fail "with --json: $(cat err.txt)"
done_testing

#!/usr/bin/env bash
# In real time: the adapter is unplugged in the middle of a timing and plugged in again, once as a
# terminal that is gone and comes back under another name, once as a socket that is reset. The test
# goes on by itself, the touched run is void, the next one counts, and all of it is in the recording.
. "$(dirname "$0")/lib.sh"
cat >pull.ini <<'INI'
[ecu]
front = wide-current
[adapter]
latency_ms = 8
unplug_in_timing = yes
unplug_s = 3
[plant]
capacity_mg = 400
[technician]
settle_s = 20
rest_s = 8
INI

serve() { # NAME WHERE [OPTION..]
  local name=$1 where=$2
  shift 2
  "$oxylag" simulate --listen "$where" --scenario ./pull.ini "$@" >"$name.port" 2>"$name.sim" &
  cleanup_pids+=($!)
  for _ in $(seq 600); do [ -s "$name.port" ] && break; sleep 0.1; done
}
drive() { # NAME PORT
  timeout 900 "$oxylag" run --port "$2" -y --json --runs 1 --out "$1.rec" >"$1.events" 2>"$1.err"
  echo $? >"$1.rc"
}
judge() { # NAME
  local name=$1
  check "$name: finished ($(tail -1 "$name.err"))" test "$(cat "$name.rc")" = 0
  check "$name: says that the port went away" grep -q 'The port went away' "$name.events"
  check "$name: says that data are back" grep -q '"state":"ready","text":"Data again' "$name.events"
  check "$name: one run void for the lost link, one counted" jq -e -s '[.[] | select(.event == "run")]
    | (map(select(.valid | not)) | length) == 1 and (map(select(.valid)) | length) == 1
      and (.[0].reasons | index("link-lost") != null)' "$name.events"
  check "$name: the samples before the plug was pulled are kept" test \
    "$(jq -s '[.[] | select(.rx != null and .t < 20000000)] | length' "$name.rec")" -gt 100
  "$oxylag" replay "$name.rec" --virtual-time --json >"$name.replay" 2>"$name.err"
  check "$name: the replay says the same" cmp "$name.events" "$name.replay"
}
serve tty pty --symlink "$work/port"
serve tcp tcp:127.0.0.1:0
[ -s tcp.port ] || fail "nothing is served: $(cat tcp.sim tty.sim)"
drive tty "$work/port" &
one=$!
drive tcp "$(cat tcp.port)"
wait "$one"
judge tty
judge tcp
# A name that belongs to something else is not taken.
echo precious >thing
refuse 2 'thing' "$oxylag" simulate --listen pty --symlink thing --seconds 1
check "what stood there is still there" grep -q precious thing
done_testing

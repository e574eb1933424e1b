#!/usr/bin/env bash
# The look-up of the adapter's name hangs when the link is to be opened again. The address that it had
# is known; and when that hangs too, SIGTERM does not wait. lookup.sh OXYLAG SHIM HELPERS
e2e=$(cd "$(dirname "$0")/../e2e" && pwd)
shim=$(realpath "$2")
. "$e2e/lib.sh" "$1" "$3"
. "$e2e/stall.sh"
begin() { # NAME
  "$oxylag" simulate --listen tcp:127.0.0.1:0 --scenario aged >"$1.port" 2>"$1.sim" &
  sim_pid=$!
  cleanup_pids+=("$sim_pid")
  until_in "$1.port" tcp: 5
  coproc RELAY { exec "$helpers/relay" "$(sed 's/.*://' "$1.port")"; }
  relay_in=${RELAY[1]} relay_out=${RELAY[0]} relay_pid=$RELAY_PID
  read -r -t 60 -u "$relay_out" line
  LD_PRELOAD="$shim" OXL_FAULT_LOOKUP=20 "$oxylag" run --port "tcp:localhost:${line##*:}" -y --json \
    --out "$1.rec" >"$1.events" 2>"$1.err" &
  pid=$!
  cleanup_pids+=("$pid" "$relay_pid")
  until_in "$1.rec" '"state":"baseline"' 30
}
relay() { echo "$1" >&"$relay_in"; }
# ---- a cut: back by the address that is known, though the name is not to be had
begin cut
relay cut
until_in cut.events '"state":"lost"' 5
until_in cut.events 'Data again' 15
ends "$pid" TERM "after a cut" cut.rec
relay quit
kill "$sim_pid"
wait "$relay_pid" "$sim_pid" "$pid"
# ---- gone: the address does not answer, then the name is looked up
begin gone
relay deaf
relay cut
until_in gone.events '"state":"lost"' 5
sleep 6 # 0.5 s, the connect's 3 s, and it looks the name up

ends "$pid" TERM "look-up that hangs" gone.rec
relay quit
kill "$sim_pid"
wait "$relay_pid" "$sim_pid" "$pid"
done_testing

#!/usr/bin/env bash
# A network adapter that is gone without a word, and one that sends without end. Both ways round: the
# tester with a bad adapter, the served simulator with a bad client.
. "$(dirname "$0")/lib.sh"
. "$here/stall.sh"
cat >quick.ini <<'INI'
[ecu]
front = wide-current
[plant]
capacity_mg = 400
[technician]
settle_s = 20
rest_s = 8
INI
# begin NAME: a served simulator, a relay before it, and a test over both
begin() {
  local name=$1
  "$oxylag" simulate --listen tcp:127.0.0.1:0 --scenario ./quick.ini --truth "$name.truth" \
    >"$name.port" 2>"$name.sim" &
  sim_pid=$!
  cleanup_pids+=("$sim_pid")
  until_in "$name.port" tcp: 5
  coproc RELAY { exec "$helpers/relay" "$(sed 's/.*://' "$name.port")"; }
  relay_in=${RELAY[1]} relay_out=${RELAY[0]} relay_pid=$RELAY_PID
  cleanup_pids+=("$relay_pid")
  read -r -t 60 -u "$relay_out" line
  "$oxylag" run --port "$line" -y --json --runs 1 --no-deeper --out "$name.rec" >"$name.events" 2>"$name.err" &
  pid=$!
  cleanup_pids+=("$pid")
}
relay() { echo "$1" >&"$relay_in"; }
finish_network() {
  relay quit
  kill "$sim_pid"
  wait "$relay_pid" "$sim_pid" "$pid" 2>/dev/null
}

# ---- gone without a word: a connection hangs for 3 s, which nobody waits for
begin gone
until_in gone.rec '"state":"baseline"' 30
relay deaf
relay cut
until_in gone.events '"state":"lost"' 5
sleep 1.5 # now it hangs in a connect
ends "$pid" TERM "connection that hangs" gone.rec
wait "$pid"
rc=$?
checks=$((checks + 1))
[ $rc = 6 ] || fail "connection that hangs: exit $rc: $(cat gone.err)"
finish_network
plays gone.rec "connection that hangs"

# ---- the very first connection hangs: nothing is recorded yet, and a signal is heard
begin first
relay deaf
kill -KILL "$pid"
wait "$pid" 2>/dev/null
"$oxylag" run --port "$line" -y --json --out first2.rec >/dev/null 2>first2.err &
pid=$!
sleep 0.5
kill -TERM "$pid"
soon "first connection: SIGTERM ends it" gone "$pid"
wait "$pid"
finish_network

# ---- floods while a delay is timed, and comes to its senses; the touched run is void, the next counts
begin flood
until_in flood.rec '"state":"timing"' 90
before=$(stat -c %s flood.rec)
relay flood
until_in flood.rec '"note":"The adapter sends without end' 5
sleep 8
relay calm
read -r -t 60 -u "$relay_out" line
sleep 0.3
after=$(stat -c %s flood.rec)
echo "flood: $line bytes sent, $((after - before)) bytes recorded"
checks=$((checks + 2))
[ $((after - before)) -lt 1000000 ] || fail "flood: the recording grew by $((after - before)) bytes"
grep -q '"event":"mark".*sends without end' flood.events || fail "flood: it is not said"
wait "$pid"
rc=$?
checks=$((checks + 2))
[ $rc = 0 ] || fail "flood: exit $rc: $(cat flood.err)"
jq -e -s '[.[] | select(.event == "run")] | (.[0].valid | not) and (map(select(.valid)) | length == 1)' \
  flood.events >/dev/null || fail "flood: not exactly the touched run is void: $(grep '"run"' flood.events)"
for _ in $(seq 300); do grep -q '"pulse":2' flood.truth && break; sleep 0.1; done
holds_truth flood.rec flood.truth "flood"
finish_network
plays flood.rec "flood"

# ---- told to end in a flood
begin end
until_in end.rec '"state":"baseline"' 30
relay flood
sleep 0.02
ends "$pid" TERM "flood" end.rec
finish_network
plays end.rec "told to end in a flood"

# ---- the served simulator: a client that never reads, one that floods, over TCP and a pty
serve() { # NAME WHERE
  "$oxylag" simulate --listen "$2" --scenario ./quick.ini >"$1.port" 2>"$1.sim" &
  sim_pid=$!
  cleanup_pids+=("$sim_pid")
  until_in "$1.port" '[a-z]' 5
}
stops() { # WHAT: the simulator, on SIGTERM
  kill -TERM "$sim_pid"
  soon "simulate, $1: SIGTERM ends it" gone "$sim_pid"
  kill -KILL "$sim_pid" 2>/dev/null
}
cpu_ms() { awk '{ print ($14 + $15) * 10 }' "/proc/$sim_pid/stat"; }
for where in tcp:127.0.0.1:0 pty; do
  for how in "never reads" "floods"; do
    serve bad "$where"
    name=$(tail -1 bad.port)
    case $where in
    tcp*) exec 8<>"/dev/tcp/127.0.0.1/${name##*:}" ;;
    *) exec 8<>"$name" && stty raw -echo <&8 ;;
    esac
    if [ "$how" = floods ]; then
      yes 0100 >&8 2>/dev/null &
    else
      # A request is answered with its echo, so its answers soon fill whatever there is to fill.
      (for _ in $(seq 3000); do printf '0100\r'; sleep 0.001; done >&8 2>/dev/null) &
    fi
    client=$!
    cleanup_pids+=("$client")
    sleep 2
    used=$(cpu_ms)
    sleep 1
    used=$(($(cpu_ms) - used))
    echo "simulate, a client that $how, $where: $used ms of processor in a second"
    if [ "$how" = "never reads" ]; then
      checks=$((checks + 1))
      [ $used -lt 500 ] || fail "simulate, $where: busy for a client that never reads"
    fi
    stops "a client that $how, $where"
    exec 8<&-
    kill "$client" 2>/dev/null
    wait "$client" "$sim_pid" 2>/dev/null
    rm -f bad.port
  done
done
done_testing

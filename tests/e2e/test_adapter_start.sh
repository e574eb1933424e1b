#!/usr/bin/env bash
# Adapters that are slow, asleep, deaf or held when the program comes to them: found within a stated
# time, with a line that says what is waited for, or refused with the next step; replayed alike.
. "$(dirname "$0")/lib.sh"

start() { # NAME SETTINGS EXIT FOUND-WITHIN-S LIVE-WITHIN-S TEXT
  local name=$1 s found live rc
  printf '[adapter]\n' >start.ini
  for s in $2; do echo "$s" >>start.ini; done
  rm -f start.rec
  checks=$((checks + 1))
  "$oxylag" inspect -p sim:./start.ini --virtual-time --json --out start.rec >start.events 2>start.err
  rc=$?
  [ $rc = "$3" ] || fail "$name: exit $rc, expected $3: $(tail -1 start.err)"
  found=$(jq -s '[.[] | select(.event == "link" and (.text | test("^An adapter answers"))).t_s][0] // 999' start.events)
  live=$(jq -s '[.[] | select(.event == "link" and .state == "ready").t_s][0] // 999' start.events)
  echo "$name: exit $rc, adapter found after $found s, live data after $live s"
  jq -en "$found <= $4 and $live <= $5" >/dev/null || fail "$name: later than $4 and $5 s"
  cat start.events start.err | saw -- "$6" || fail "$name: \"$6\" is not said: $(tail -1 start.err)"
  "$oxylag" replay start.rec --json >start.again 2>/dev/null
  cmp -s start.events start.again || fail "$name: the replay differs"
}
never=999

start 'plain' '' 0 0.1 4 'Live data'
for baud in 38400 9600 57600 230400 500000; do
  start "$baud baud" "baud=$baud" 0 5 10 'Live data'
done
start '500000 baud, deaf for 1 s after another speed' 'baud=500000 resync_ms=1000' 0 5 10 'Live data'
start '38400 baud, deaf for 1 s after another speed' 'baud=38400 resync_ms=1000' 0 5 10 'Live data'
start '500000 baud, 0.8 s late' 'baud=500000 latency_ms=800' 0 5 70 'Live data'
start 'asleep, needs 0.8 s' 'wake_ms=800' 0 3 8 'Live data'
start 'asleep, needs 6 s' 'wake_ms=6000' 0 12 16 'Live data'
start 'starts anew when opened, 2.5 s' 'open_boot_ms=2500' 0 3 8 'Live data'
start 'searches for 28 s' 'search_ms=28000' 0 0.1 32 '25 s so far: some take 30 s'
for busy in lost kept; do
  start "searches for 16 s, what comes is $busy" "search_ms=16000 busy_chars=$busy" 0 0.1 20 '10 s so far'
  start "searches for 28 s, what comes is $busy" "search_ms=28000 busy_chars=$busy" 0 0.1 32 '25 s so far'
done
start 'searches for 28 s without a word, what comes is lost' \
  'search_ms=28000 search_silent=yes busy_chars=lost' 0 0.1 33 'it may still be searching'
start 'searches without end, what comes is lost' 'search_ms=90000 busy_chars=lost' 5 0.1 $never \
  'hung while it searched for the vehicle: unplug it'
start 'flow control holds every byte' 'held=yes' 5 $never $never \
  'No byte leaves the port, flow control holds it: unplug the adapter'
start 'silent' 'silent=yes' 5 $never $never 'No adapter answered at any speed'

# A tty that is stopped behind our back: what the kernel keeps has not left.
cat >stopped.py <<'PY'
import os, pty, subprocess, sys, termios, time
master, slave = pty.openpty()
run = subprocess.Popen([sys.argv[1], "inspect", "-p", os.ttyname(slave)], stdout=subprocess.DEVNULL)
while run.poll() is None: # opening it, at a moment that nobody knows, takes the stop back
    termios.tcflow(slave, termios.TCOOFF)
    time.sleep(0.1)
sys.exit(run.returncode)
PY
refuse 5 'No byte leaves the port, flow control holds it' python3 stopped.py "$oxylag"
done_testing

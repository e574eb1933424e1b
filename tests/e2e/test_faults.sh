#!/usr/bin/env bash
# Faults of process and machine: each keeps what was recorded, says what happened, and voids only
# what it touched. docs/faults.md has the table.
. "$(dirname "$0")/lib.sh"

# begin NAME [option...]: a demo in the background, its events in NAME.events
begin() {
  local name=$1
  shift
  "$oxylag" demo -y --json --scenario aged --out "$name.rec" "$@" >"$name.events" 2>"$name.err" &
  pid=$!
  cleanup_pids+=("$pid")
}
# until_said NAME PATTERN
until_said() {
  local i
  for i in $(seq 1200); do
    grep -q "$2" "$1.events" 2>/dev/null && return 0
    sleep 0.05
  done
  fail "$1: never said $2"
}
# sound NAME: the recording is whole lines, and plays again to the same events
sound() {
  checks=$((checks + 1))
  tail -c 1 "$1.rec" | od -An -c | saw '\\n' || fail "$1: the recording ends within a line"
  "$oxylag" replay "$1.rec" --virtual-time --json >"$1.again" 2>"$1.again.err"
  grep -q 'differ' "$1.again.err" && fail "$1: replay differs: $(cat "$1.again.err")"
  cmp -s "$1.events" "$1.again" || fail "$1: replay says something else"
}

# Asked to end: an orderly end within a second, exit 6, and the cause on record.
for sig in TERM HUP; do
  begin "sig$sig" --rate 8
  until_said "sig$sig" '"enrichment"'
  kill -s $sig "$pid"
  wait "$pid"
  rc=$?
  checks=$((checks + 1))
  [ $rc = 6 ] || fail "SIG$sig: exit $rc, expected 6"
  grep -q "^oxylag: stopped.*SIG$sig" "sig$sig.err" || fail "SIG$sig: $(cat "sig$sig.err")"
  grep -q "\"note\":\"stopped.*SIG$sig" "sig$sig.rec" || fail "SIG$sig: no note in the recording"
  tail -1 "sig$sig.rec" | saw '"end"' || fail "SIG$sig: no orderly end"
  sound "sig$sig"
  "$oxylag" report "sig$sig.rec" >"sig$sig.txt"
  grep -q "SIG$sig" "sig$sig.txt" || fail "SIG$sig: the report does not say why it ended"
  # Nobody but the signal ended it: so the end of the recording, the page and a replay.
  checks=$((checks + 4))
  tail -1 "sig$sig.rec" | saw "\"end\":\"stopped.*SIG$sig" || fail "SIG$sig: no cause at the end"
  grep '^Why' "sig$sig.txt" | saw 'stopped: ' && ! grep -q 'by the technician' "sig$sig.txt" ||
    fail "SIG$sig: the page names somebody else: $(grep '^Why' "sig$sig.txt")"
  "$oxylag" report -f html "sig$sig.rec" >"sig$sig.html"
  tr -d '\n' <"sig$sig.html" | saw 'by the technician' &&
    fail "SIG$sig: the printed page names somebody else"
  grep -q "^oxylag: stopped.*SIG$sig" "sig$sig.again.err" ||
    fail "SIG$sig: the replay ends otherwise: $(cat "sig$sig.again.err")"
done
# An inspection likewise.
checks=$((checks + 2))
"$oxylag" inspect --port sim:kline --out sigI.rec -q 2>sigI.err &
pid=$!
cleanup_pids+=("$pid")
begun sigI.rec
sleep 1
kill $pid
wait $pid
[ $? = 6 ] && grep -q '^oxylag: stopped.*SIGTERM' sigI.err || fail "inspect: $(cat sigI.err)"
"$oxylag" replay sigI.rec -q 2>sigI.again
cmp -s sigI.err sigI.again || fail "inspect: its replay ends otherwise: $(cat sigI.again)"
# The technician's own key is still the technician's.
checks=$((checks + 1))
{ head -1 sigTERM.rec; echo '{"t":0,"port":"up"}'; echo '{"t":9,"key":"a"}'; echo '{"t":9,"end":true}'; } >key.rec
"$oxylag" report key.rec >key.txt
grep -q 'Why: Stopped by the technician' key.txt || fail "a key is not the technician's: $(cat key.txt)"
# A background job of a script ignores SIGINT, so this one gets its own handling back.
checks=$((checks + 1))
(trap - INT; exec env --default-signal=INT "$oxylag" demo -y --json --rate 8 --out sigINT.rec \
  >sigINT.events 2>sigINT.err) &
pid=$!
until_said sigINT '"baseline"'
kill -INT $pid
wait $pid
[ $? = 6 ] && grep -q 'SIGINT' sigINT.err || fail "SIGINT: $(cat sigINT.err)"
sound sigINT
# nohup: a hang-up does not stop it.
checks=$((checks + 1))
(trap '' HUP; exec "$oxylag" demo -y --json --rate 20 --runs 1 --out nohup.rec >nohup.events \
  2>nohup.err) &
pid=$!
until_said nohup '"baseline"'
kill -HUP $pid
wait $pid || fail "an ignored SIGHUP stopped the test: $(cat nohup.err)"
sound nohup

# Stopped and continued in timing: a gap, that run is void, the rest is not; the test goes on.
begin stop --rate 8 --runs 2
until_said stop '"timing"'
kill -STOP "$pid"
sleep 1.3
kill -CONT "$pid"
wait "$pid"
rc=$?
checks=$((checks + 3))
[ $rc = 0 ] || fail "SIGSTOP: exit $rc: $(cat stop.err)"
grep -q 'stood still for 1[0-9.]* s: it was stopped and continued' stop.rec || fail "SIGSTOP: the gap is not on record"
jq -e -s '[.[] | select(.event == "run")] | (.[0].valid | not) and
  (.[0].reasons | index("link-lost")) and (map(select(.valid)) | length == 2)' stop.events \
  >/dev/null || fail "SIGSTOP: not exactly the touched run is void"
sound stop
# The same outside a run voids nothing.
begin rest --rate 8 --runs 1
until_said rest '"baseline"'
kill -STOP "$pid"
sleep 1.3
kill -CONT "$pid"
wait "$pid"
checks=$((checks + 1))
jq -e -s '[.[] | select(.event == "run")] | length >= 1 and all(.valid)' rest.events >/dev/null ||
  fail "SIGSTOP at rest: a run was voided that it did not touch"
grep -q 'stood still for 1[0-9.]* s: it was stopped and continued' rest.rec || fail "SIGSTOP at rest: the gap is not on record"
sound rest

# The reader of the lines goes away: stopped, recorded, said.
checks=$((checks + 1))
timeout 900 "$oxylag" demo -y --json --rate 8 --out pipe.rec 2>pipe.err | head -1 >pipe.first
rc=${PIPESTATUS[0]}
[ "$rc" = 6 ] || fail "closed pipe: exit $rc, expected 6"
grep -q 'nobody reads standard output' pipe.err || fail "closed pipe: $(cat pipe.err)"
[ "$(wc -l <pipe.first)" = 1 ] || fail "closed pipe: no first line"
tail -1 pipe.rec | saw '"end"' || fail "closed pipe: no orderly end in the recording"
"$oxylag" replay pipe.rec --virtual-time --json 2>r.err >/dev/null
grep -q differ r.err && fail "closed pipe: replay differs"

# A run that is given no name for its recording: one of its own, also in the same second as another.
"$oxylag" simulate --listen pty --scenario aged --seconds 120 >served.port &
cleanup_pids+=($!)
for _ in $(seq 600); do [ -s served.port ] && break; sleep 0.1; done
port=$(cat served.port)
mkdir stamps && cd stamps || exit 1
now=$(date +%s)
for i in $(seq 0 9); do
  echo another >"oxylag-$(date -d "@$((now + i))" +%Y%m%d-%H%M%S).jsonl"
  [ "$i" = 9 ] || ln -s nowhere "oxylag-$(date -d "@$((now + i))" +%Y%m%d-%H%M%S)-2.jsonl"
done
"$oxylag" run --port "$port" -y --json >../stamp.events 2>../stamp.err &
pid=$!
cleanup_pids+=("$pid")
for i in $(seq 1200); do
  compgen -G "*-3.jsonl" >/dev/null && break
  sleep 0.05
done
sleep 1.5
kill $pid
checks=$((checks + 3))
wait $pid
[ $? = 6 ] || fail "a name that is taken: $(cat ../stamp.err)"
set -- *-3.jsonl
[ $# = 1 ] && tail -1 "$1" | saw '"end"' || fail "a name that is taken: no recording of its own: $(ls)"
[ "$(cat oxylag-????????-??????.jsonl | sort -u)" = another ] || fail "another test's recording was touched"
cd ..
# Stopped or left at the cautions: nothing was done, and no empty file tells otherwise.
if command -v script >/dev/null; then
  mkdir left && cd left || exit 1
  for how in TERM q; do
    checks=$((checks + 2))
    echo "echo \$\$ >../left.pid; exec '$oxylag' run --port $port 2>../left.err" >../left.sh
    rm -f ../left.pid
    { sleep 1.5; [ $how = TERM ] || printf q; sleep 1.5; } |
      TERM=xterm script -qec "bash ../left.sh" /dev/null >../left.screen 2>&1 &
    cleanup_pids+=($!)
    for _ in $(seq 600); do [ -s ../left.pid ] && break; sleep 0.1; done
    if [ $how = TERM ]; then
      for _ in $(seq 600); do ls ./*.jsonl >/dev/null 2>&1 && break; sleep 0.1; done
      sleep 0.5
      kill "$(cat ../left.pid)"
    fi
    wait $!
    grep -q 'nothing was done' ../left.err || fail "cautions, $how: $(cat ../left.err)"
    [ -z "$(ls -A)" ] || fail "cautions, $how: left behind: $(ls -A)"
  done
  cd ..
fi
# A port of the computer itself is not taken unasked; what is taken, and what fails, is named.
if [ "$("$oxylag" ports --json | jq -s 'length > 0 and all(.[]; .words == "built-in serial port")')" = true ]; then
  refuse 2 'no adapter is plugged in; of built-in ports there is /dev/' "$oxylag" run -y --plain
  refuse 2 'no adapter is plugged in; of built-in ports there is /dev/' "$oxylag" inspect
fi
refuse 5 'sim:silent-adapter: No adapter answered' sim silent-adapter
refuse 5 'sim:no-vehicle: ' "$oxylag" inspect --port sim:no-vehicle --virtual-time -q
# One name for two outputs: one of them would be lost.
refuse 2 'same.rec' "$oxylag" demo -y --plain --virtual-time --out same.rec --truth same.rec
[ ! -e same.rec ] || fail "one name for two outputs left a file"
# What can be refused after the recording was made leaves no empty recording.
refuse 2 'truth' "$oxylag" demo -y --plain --virtual-time --out early.rec --truth /nowhere/truth
[ ! -e early.rec ] || fail "an empty recording was left behind"
# Half a page is no page: it is taken away, so that its name can be used again.
checks=$((checks + 1))
(ulimit -f 1 && exec "$oxylag" report -f html sigTERM.rec --out half.html 2>half.err)
[ ! -e half.html ] && grep -q 'could not be written whole' half.err || fail "half a page: $(cat half.err)"

# Standard output closed from the start must not lead lines into the recording.
checks=$((checks + 1))
"$oxylag" demo -y --json --virtual-time --runs 1 --out closed.rec 2>closed.err >&- ||
  fail "closed output: exit $?: $(cat closed.err)"
"$oxylag" replay closed.rec --virtual-time >/dev/null 2>closed.err ||
  fail "closed output: the recording is spoilt: $(cat closed.err)"
# A full disk under standard output: the test goes through, the recording is whole, it is said.
checks=$((checks + 1))
"$oxylag" demo -y --json --virtual-time --runs 1 --out devfull.rec 2>devfull.err >/dev/full
rc=$?
[ $rc = 2 ] || fail "/dev/full: exit $rc, expected 2"
grep -q 'standard output could not be written' devfull.err || fail "/dev/full: $(cat devfull.err)"
"$oxylag" replay devfull.rec --virtual-time >/dev/null || fail "/dev/full: recording incomplete"
refuse 2 'standard output could not be written' bash -c "'$oxylag' scenarios >/dev/full"
refuse 2 'could not be written whole' bash -c "'$oxylag' report devfull.rec >/dev/full"
# ... and under the recording, from its first byte on.
checks=$((checks + 1))
"$oxylag" demo -y --plain --virtual-time --runs 1 --out /dev/full >full0.out 2>full0.err
grep -q 'recording stopped early.*No space' full0.err && grep -q RESULT full0.out ||
  fail "--out /dev/full: $(cat full0.err)"

# A full disk at any byte leaves whole lines that replay. (The limit counts 1024 bytes.)
for blocks in 1 2 3 5 17 64 200 511; do
  checks=$((checks + 1))
  rm -f lim.rec
  (ulimit -f $blocks && exec "$oxylag" demo -y --json --virtual-time --out lim.rec \
    >/dev/null 2>lim.err)
  grep -q 'recording stopped early' lim.err || fail "limit $blocks: not said: $(cat lim.err)"
  [ -s lim.rec ] || continue # not even the header went in
  tail -c 1 lim.rec | od -An -c | saw '\\n' || fail "limit $blocks: torn line"
  "$oxylag" replay lim.rec --virtual-time >/dev/null 2>r.err
  grep -qE 'ends in state' r.err || fail "limit $blocks: $(cat r.err)"
done
# A real full disk, where one may be made.
mkdir small
if [ "$(id -u)" = 0 ] && mount -t tmpfs -o size=300k tmpfs small 2>/dev/null; then
  checks=$((checks + 1))
  "$oxylag" demo -y --plain --virtual-time --out small/a.rec >small.out 2>small.err
  grep -q 'No space left' small.err && grep -q RESULT small.out || fail "tmpfs: $(cat small.err)"
  "$oxylag" replay small/a.rec --virtual-time >/dev/null 2>r.err
  grep -q 'ends in state' r.err || fail "tmpfs: $(cat r.err)"
  umount small
else
  echo "no tmpfs may be mounted here: only the limits were tested"
fi

# A locale that is not installed or no text at all: plain ASCII, no complaint.
for loc in xx_YY.nonsense en_US.ISO-8859-1 "$(printf '\033[31m')"; do
  checks=$((checks + 1))
  LC_ALL=$loc "$oxylag" demo -y --plain --virtual-time --runs 1 >loc.out 2>loc.err ||
    fail "locale $loc: $(cat loc.err)"
  LC_ALL=C grep -q '[^ -~]' loc.out && fail "locale: other than ASCII in plain lines"
  [ -s loc.err ] && fail "locale: $(cat loc.err)"
done
done_testing

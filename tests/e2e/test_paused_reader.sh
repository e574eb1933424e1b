#!/usr/bin/env bash
# Whoever reads the lines of --json or --plain pauses: the test goes on, loses them nothing up to 4 MiB,
# says once how much was lost after that, and ends when it is told to.
. "$(dirname "$0")/lib.sh"
. "$here/stall.sh"
demo=("$oxylag" demo -y --scenario aged --no-deeper)
# into_pipe NAME OPTION...: a demo into NAME.pipe, which is open for reading, as descriptor 7, and not read
into_pipe() {
  local name=$1
  shift
  mkfifo "$name.pipe"
  exec 7<>"$name.pipe"
  [ "$name" = late ] || head -c 65536 /dev/zero >&7
  "${demo[@]}" --out "$name.rec" "$@" >"$name.pipe" 2>"$name.err" 7<&- &
  pid=$!
  cleanup_pids+=("$pid")
}
# A pipe holds 64 KiB, which takes a while to fill: here it is full from the beginning.
for how in json plain; do
  into_pipe $how --$how --rate 8
  until_in $how.rec '"timing"' 60
  grows $how.rec 2 "paused reader of --$how"
  ends "$pid" TERM "paused reader of --$how" $how.rec
  wait "$pid"
  rc=$?
  checks=$((checks + 1))
  # Without a result 6, which names the signal; with one it is the lines that are missing.
  case $rc in
  6) grep -q 'oxylag: stopped.*SIGTERM' $how.err ;;
  2) grep -q 'the last lines were not read' $how.err && grep -q '"event":"result"' $how.rec ;;
  *) false ;;
  esac || fail "--$how: exit $rc: $(cat $how.err)"
  tail -1 $how.rec | saw 'SIGTERM' || fail "--$how: the recording does not name the signal"
  exec 7<&-
  plays $how.rec "paused reader"
done

# Read on after a while, within the 4 MiB: not a byte is missing, and what was timed holds the truth.
into_pipe late --json --samples --rate 8 --runs 2 --truth late.truth
until_in late.rec '"event":"run"' 60
sleep 2
timeout 900 cat <&7 >late.events &
reader=$!
wait "$pid"
rc=$?
sleep 0.3
kill $reader
checks=$((checks + 2))
[ $rc = 0 ] || fail "read late: exit $rc: $(cat late.err)"
"$oxylag" replay late.rec --virtual-time --json --samples >late.again 2>late.again.err
cmp -s late.events late.again || fail "read late: lines are missing or differ"
holds_truth late.rec late.truth "paused reader"
exec 7<&-

# Never read, and over by itself: 10 s, then the end, which says what is lost.
into_pipe never --json --samples --rate 20 --runs 1
until_in never.rec '"end"' 60
start=$(now_ms)
wait "$pid"
rc=$?
took=$(($(now_ms) - start))
echo "never read: ended $took ms after the test, exit $rc"
checks=$((checks + 2))
[ $rc = 2 ] && grep -q 'the last lines were not read' never.err || fail "never read: exit $rc: $(cat never.err)"
# On a busy machine the end is seen late, or comes late.
[ $took -ge 5000 ] && [ $took -le 60000 ] || fail "never read: ended after $took ms, expected 10 s"
exec 7<&-
plays never.rec "never read"

# A pipe that is closed stops a test as ever.
checks=$((checks + 1))
timeout 900 "${demo[@]}" --json --samples --rate 4 --out closed.rec 2>closed.err | head -3 >/dev/null
rc=${PIPESTATUS[0]}
{ [ "$rc" = 6 ] && grep -q 'nobody reads' closed.err; } || fail "closed pipe: exit $rc: $(cat closed.err)"

# A stopped terminal under --plain.
export TERM=xterm LC_ALL=C.UTF-8
on_terminal plain-tty "${demo[@]}" --plain --rate 8 --out tty.rec
tell pause
until_in tty.rec '"timing"' 60
ends "$pid" TERM "--plain on a stopped terminal" tty.rec
close_terminal
done_testing

#!/usr/bin/env bash
# The terminal misbehaves: one cell large, huge, gone with and without a signal, unknown.
. "$(dirname "$0")/lib.sh"
export TERM=xterm-256color LC_ALL=C.UTF-8
. "$here/tmux.sh"
wait_for() { # PATTERN FILE SECONDS
  local i
  for i in $(seq $(($3 * 40))); do
    grep -q "$1" "$2" 2>/dev/null && return 0
    sleep 0.1
  done
  fail "never saw $1 in $2"
  return 1
}

tm new-session -d -x 80 -y 24 \
  "$oxylag demo -y --scenario aged --rate 8 --runs 1 --out size.rec; echo exit \$? >size.exit"
sleep 0.5
tm send-keys Enter Enter # two parts at 80x24
for size in '1 1' '2 3' '300 100' '5 1' '1 50' '80 24'; do
  # shellcheck disable=SC2086
  set -- $size
  tm resize-window -x "$1" -y "$2"
  sleep 0.3
done
wait_for '"result"' size.rec 60
sleep 0.3
tm send-keys q
wait_for exit size.exit 10
checks=$((checks + 1))
[ "$(cat size.exit)" = "exit 0" ] || fail "resizing: $(cat size.exit)"
tm_end
sleep 0.2

# The window is closed (SIGHUP), or the terminal goes without a word to the program.
for how in hup mute; do
  [ $how = mute ] && ignore="trap '' HUP;" || ignore=
  tm new-session -d -x 80 -y 24 \
    "$ignore $oxylag demo -y --scenario aged --rate 4 --out $how.rec 2>$how.err; echo exit \$? >$how.exit"
  sleep 0.5
  tm send-keys Enter Enter # two parts at 80x24
  wait_for '"baseline"' $how.rec 20
  tm_end
  checks=$((checks + 2))
  wait_for '"end"' $how.rec 5
  grep -q '"note":"stopped: the terminal is gone' $how.rec || fail "$how: the cause is not recorded"
  "$oxylag" replay $how.rec --virtual-time >/dev/null 2>r.err
  grep -q 'differ' r.err && fail "$how: replay differs"
  sleep 0.3
  # The lock of a recording is let go at the end of the program alone.
  flock -n $how.rec true || fail "$how: the program still runs"
done
wait_for 'exit 6' mute.exit 3

# A terminal that cannot draw shows no cautions: they must be accepted in another way.
tm new-session -d -x 80 -y 24 "TERM=nonsense $oxylag demo --virtual-time; echo exit \$? >nt.exit"
wait_for exit nt.exit 20
checks=$((checks + 1))
[ "$(cat nt.exit)" = "exit 2" ] || fail "unknown terminal: $(cat nt.exit), expected exit 2"
tm_end
tm new-session -d -x 80 -y 24 \
  "TERM=nonsense $oxylag demo -y --virtual-time --runs 1 | tee nt2.out; echo exit \$? >nt2.exit"
wait_for exit nt2.exit 20
checks=$((checks + 1))
grep -q RESULT nt2.out || fail "unknown terminal: no plain lines"
done_testing

#!/usr/bin/env bash
# The home screen in a real terminal (tmux): from `oxylag` alone to the page as PDF, in practice and over
# a pseudo-terminal with `oxylag simulate`; the settings; the mouse; and what goes wrong.
. "$(dirname "$0")/lib.sh"
export TERM=xterm-256color LC_ALL=C.UTF-8
unset DISPLAY WAYLAND_DISPLAY
. "$here/tmux.sh"

# wait_for PATTERN SECONDS: until the screen shows it
wait_for() {
  local i
  checks=$((checks + 1))
  for i in $(seq $(($2 * 10))); do
    tm capture-pane -p >screen.txt 2>/dev/null
    grep -qE -- "$1" screen.txt && return 0
    sleep 0.1
  done
  fail "the screen never showed \"$1\":"
  cat screen.txt
  return 1
}
# open COLS ROWS [COMMAND]: the home screen, whose exit is kept
open() {
  tm new-session -d -x "$1" -y "$2" "${3:-$oxylag}; echo exit \$? | tee exit.txt; stty -a >stty.txt; sleep 60"
}
keys() {
  local key
  for key in "$@"; do
    tm send-keys "$key"
    sleep 0.15
  done
}
# leave EXIT: the program has ended so, and the terminal is as it was
leave() {
  wait_for "^exit $1\$" 10
  checks=$((checks + 1))
  grep -qE '(^| )icanon' stty.txt && grep -qE '(^| )echo( |$)' stty.txt || fail "the terminal is not restored: $(cat stty.txt)"
  tm_end
}
recordings() { find data -name '*.jsonl' | sort; }

# ---- practice: a page as PDF, then the same vehicle after a repair, compared ----
open 80 24
wait_for 'What do you|want to do' 10
keys 3
wait_for 'Pick a simulated vehicle' 5
tm send-keys aged
wait_for '> aged ' 5
keys Enter
wait_for 'demo --scenario aged' 5
keys Down && tm send-keys 4711 && keys Down && tm send-keys AB-12
keys Down && tm send-keys many # no figure: refused where it is typed
wait_for 'expected a figure' 5
keys Down Down Down Down Enter
wait_for 'Correct what is marked' 5
keys C-u && tm send-keys 123456 && keys Down && tm send-keys "blue estate" && keys Down && tm send-keys Kim && keys Down Left
wait_for "^ [$] oxylag demo --scenario aged --order 4711 --plate AB-12 --odometer" 5
keys Down Enter
for test in first second; do
  wait_for 'part 1 of 2' 10
  keys Enter && sleep 0.3 && keys Enter
  wait_for '[34] of [34] runs count' 120 || break
  keys q
  wait_for 'Same vehicle again' 15
  grep -qE 'Converter oxygen storage: ' screen.txt || fail "the $test verdict is not shown: $(cat screen.txt)"
  keys 1
  wait_for 'line 1 of' 10
  keys End
  wait_for 'Technician, date' 5
  keys Escape
  wait_for 'Same vehicle again' 5
  keys 2
  wait_for '^ Written: .*pdf' 30
  [ $test = first ] && keys 5 && wait_for 'order 4711 --plate AB-12' 5 && keys Enter
done
checks=$((checks + 4))
[ "$(recordings | wc -l)" = 2 ] || fail "two tests left $(recordings)"
first=$(recordings | head -1) second=$(recordings | tail -1)
grep -q '"order":"4711"' "$first" && grep -q '"plate":"AB-12","odometer":"123456","vehicle":"blue estate"' "$first" ||
  fail "the header lacks what was typed: $(head -c 600 "$first")"
pdftotext "${first%.jsonl}.pdf" - | grep -q 'AB-12' || fail "the page of the first test lacks the plate"
pdftotext "${second%.jsonl}-compared.pdf" - | grep -qiE 'before and after' || fail "the second page compares nothing"
# A PDF that is there is not written over.
keys 2
wait_for '^ Written: .*compared-2.pdf' 30
keys Escape
wait_for 'Past recordings' 5
# Remembered: the technician.
grep -q '^technician = Kim$' config/oxylag/settings.ini || fail "the technician is not remembered"
keys q
leave 0

# ---- the mouse (SGR reports, as TERM asks for), sizes, the next customer ----
open 120 40
wait_for 'want to do' 10
row=$(grep -n 'Inspect only' screen.txt | cut -d: -f1)
tm send-keys -l "$(printf '\033[<0;10;%dM\033[<0;10;%dm' "$row" "$row")"
wait_for '> 2  Inspect only' 5
tm send-keys -l "$(printf '\033[<0;10;%dM\033[<0;10;%dm' "$row" "$row")"
wait_for 'oxylag inspect' 5
grep -q 'AB-12' screen.txt && fail "the last customer's plate is still there"
tm resize-window -x 40 -y 10
wait_for 'make the window' 5
tm resize-window -x 80 -y 24
wait_for 'Test the link' 5
keys C-c
leave 0

# ---- a vehicle: `simulate` on a pseudo-terminal, the link check, an inspection, one run ----
"$oxylag" simulate --listen pty --symlink "$work/adapter" --scenario good >serve.txt 2>&1 &
cleanup_pids+=($!)
for _ in $(seq 50); do [ -e adapter ] && break || sleep 0.1; done
rm -rf data
open 80 24
wait_for 'want to do' 10
keys 2
wait_for 'Test the link' 5
keys Up Enter # Begin
[ -e /dev/ttyUSB0 ] || [ -e /dev/ttyACM0 ] || wait_for 'No adapter is chosen' 5
keys Down && tm send-keys "$work/adapter" && keys Down Enter
wait_for 'The link works: go back' 60
for line in 'pass +adapter' 'pass +speed' 'pass +vehicle' 'pass +sensors' 'readings a second'; do
  checks=$((checks + 1))
  grep -qE "$line" screen.txt || fail "the link check lacks \"$line\": $(cat screen.txt)"
done
keys Escape
wait_for 'The link works\.' 5
keys Down && tm send-keys 815 && keys Up Up Up Up Enter
wait_for 'Test this vehicle' 90
keys 4 # what was typed stays
wait_for 'oxylag run --port .*adapter --order 815' 10
keys Up Enter
wait_for 'part 1 of 2' 10
keys Enter && sleep 0.3 && keys Enter
wait_for '(run 2 of 3|RECOVERY)' 150
keys a a
wait_for 'q quit' 30
keys q
wait_for 'Same vehicle again' 20
keys 2
wait_for '^ Written: .*pdf' 30
checks=$((checks + 2))
last=$(recordings | tail -1)
[ "$(recordings | wc -l)" = 2 ] && head -c 300 "$(recordings | head -1)" | grep -q '"port":".*adapter"' ||
  fail "an inspection and a test left $(recordings)"
[ "$(head -c 4 "${last%.jsonl}.pdf")" = %PDF ] || fail "there is no PDF beside $last"
keys C-c
leave 0

# ---- what goes wrong ----
mkdir -p config/oxylag
printf 'theme = pink\ntechnician = Lee\n' >config/oxylag/settings.ini
open 80 24
wait_for 'line 1: theme: found "pink"' 10
keys 5
wait_for 'Technician +Lee' 5
keys Down && tm send-keys /proc/none && keys Down Down Down Down Enter
wait_for 'Kept in' 5
keys 3
wait_for 'Pick a simulated' 5
keys Enter
wait_for 'demo --scenario' 5
keys Up Enter
wait_for 'name another folder' 5
keys Escape Escape q
leave 0
open 80 24 "env -u HOME -u XDG_CONFIG_HOME -u XDG_DATA_HOME $oxylag"
wait_for 'want to do' 10
keys 4
wait_for 'no home folder' 5
keys q
leave 0
refuse 2 'say what to do' "$oxylag"
# A bad settings file is one line, and the command goes on.
printf 'theme = pink\n' >config/oxylag/settings.ini
checks=$((checks + 1))
"$oxylag" scenarios >out.txt 2>err.txt && [ "$(wc -l <err.txt)" = 1 ] && grep -q 'delete the file' err.txt && [ -s out.txt ] ||
  fail "a bad settings file: $(cat err.txt)"
done_testing

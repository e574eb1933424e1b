#!/usr/bin/env bash
# A short walk through every screen of home (tmux): by mouse and keys, in several sizes, with a terminal that
# has no mouse and in plain letters; no test is run. Short enough for the sanitizers' stage.
. "$(dirname "$0")/lib.sh"
. "$here/home.sh"
root=$here/../..

# ---- the mouse (SGR reports, as TERM asks for), sizes, the next customer ----
open 120 40 "env TERM=xterm-256color $oxylag"
wait_for 'want to do' 10
keys Escape # goes nowhere from here
wait_for 'want to do' 2
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

# ---- a past recording: opened, read, checked, its page handed to the desktop (here a file that notes it);
# a practice that is left at the cautions ----
mkdir -p data/oxylag bin
cp "$root/examples/dead.jsonl" data/oxylag/
printf '#!/bin/sh\necho "$1" >%s/opened.new\nmv %s/opened.new %s/opened\n' "$work" "$work" "$work" >bin/xdg-open
chmod +x bin/xdg-open
open 80 24 "env DISPLAY=:none PATH=$work/bin:$PATH $oxylag"
wait_for 'want to do' 10
keys 4
wait_for 'BAD .*R0000003' 20
keys Enter
wait_for 'Converter oxygen storage: BAD' 20
keys 1
wait_for 'line 1 of' 10
keys Escape
wait_for '6  Check' 5
keys 6
wait_for '^ complete, replay' 30
wait_for 'written beside the recording, then opened' 2
keys 2
wait_for '^ Written and opened: .*dead.pdf' 30
for _ in $(seq 50); do [ -e opened ] && break || sleep 0.1; done
checks=$((checks + 1))
[ "$(cat opened)" = "$work/data/oxylag/dead.pdf" ] || fail "the opener got $(cat opened)"
keys Escape
wait_for 'Filter:' 10
keys Escape
wait_for 'want to do' 10
keys 3 1
wait_for 'Pick a simulated vehicle' 5
keys Enter
wait_for 'demo --scenario good' 5
keys Up Enter
wait_for 'part 1 of 2' 20
keys a
wait_for 'Fill in what you know' 10
checks=$((checks + 1))
[ "$(recordings | wc -l)" = 1 ] || fail "a test that never began left $(recordings)"
keys Escape Escape Escape q
leave 0

# ---- no mouse, no UTF-8: every screen in plain letters, and settings that make it so elsewhere ----
plain() {
  checks=$((checks + 1))
  LC_ALL=C grep -q '[^ -~]' screen.txt && fail "beyond ASCII: $(cat screen.txt)"
}
open 80 24 "env LC_ALL=C TERM=vt220 $oxylag"
wait_for 'O X Y L A G' 10
plain
for key in 1 2 3 4 5; do
  keys $key
  wait_for 'Esc back' 10
  plain
  keys Escape
  wait_for 'want to do' 10
done
keys q
leave '0.*' # this terminal has one page: what stood there stays
open 80 24
wait_for 'want to do' 10
keys 5
wait_for 'Plain letters' 5
keys Down Down Down Right Up Up Up Up Enter
wait_for 'Kept in' 5
wait_for 'O X Y L A G' 5
plain
keys q
leave 0
checks=$((checks + 1))
grep -q '^ascii = yes$' config/oxylag/settings.ini || fail "not kept: $(cat config/oxylag/settings.ini)"
done_testing

#!/usr/bin/env bash
# The dashboard on a terminal that takes nothing for a while: a paused session, Ctrl-S. The test goes on,
# keys and signals are heard, leaving takes no time, and the terminal is as it was before.
. "$(dirname "$0")/lib.sh"
. "$here/stall.sh"
export TERM=xterm-256color LC_ALL=C.UTF-8
demo=("$oxylag" demo -y --scenario aged --no-deeper)

# ---- stalled in the middle of a run, which is timed meanwhile; then it takes output again
on_terminal again "${demo[@]}" --runs 1 --rate 4 --out again.rec --truth again.truth
tell modes
answer
before=$said
tell 'type \x0d\x0d'
until_in again.rec '"enrichment"' 20
tell modes
answer
during=$said
checks=$((checks + 1))
[[ $during == *"susp 0 quit 0 ixon 0" ]] || fail "keys that stop or kill are not off: $during"
tell pause
sleep 0.3
shown=$(stat -c %s again.tty)
grows again.rec 2 "stalled screen"
until_in again.rec '"event":"run"' 30
[ "$(stat -c %s again.tty)" = "$shown" ] || fail "the terminal was not stalled"
tell resume
sleep 0.7
checks=$((checks + 2))
fresh=$(tail -c +$((shown + 1)) again.tty)
grep -qF $'\e[H\e[2J' <<<"$fresh" || fail "the screen is not drawn whole after a stall"
# What was skipped is not caught up with: the pseudo-terminal's own store, and a screenful or two.
[ ${#fresh} -lt 40000 ] || fail "${#fresh} bytes after a stall: frames were kept, not skipped"
until_in again.rec '"result"' 60
tell 'type q'
checks=$((checks + 2))
says "exit 0" "stalled for a while"
tell modes
says "$before" "the terminal was not restored"
close_terminal
holds_truth again.rec again.truth "stalled screen"
plays again.rec "stalled screen"

# ---- `a` on a stalled terminal ends the test, `q` leaves, both at once
on_terminal key "${demo[@]}" --rate 2 --out key.rec
tell 'type \x0d\x0d'
until_in key.rec '"enrichment"' 30
tell pause
sleep 0.3
shown=$(stat -c %s key.tty)
sleep 1.2
tell 'type a'
sleep 0.3
tell 'type a' # in a run it is asked for once more
soon "stalled screen: \`a\` ends the test" grep -q '"end"' key.rec
tell 'type q'
soon "stalled screen: \`q\` leaves" gone "$pid"
says "exit 6" "left a stalled terminal"
tell modes
says "$before" "left a stalled terminal"
# Whatever was cut, the shell has its screen back when the terminal reads on.
tell resume
sleep 0.5
tail -c +$((shown + 1)) key.tty | saw -F $'\e[?1049l' || fail "the screen from before is not back"
close_terminal
plays key.rec "stalled, a"

# ---- SIGTERM on a stalled terminal
on_terminal term "${demo[@]}" --rate 2 --out term.rec
tell 'type \x0d\x0d'
until_in term.rec '"enrichment"' 30
tell pause
sleep 1.5
ends "$pid" TERM "stalled screen" term.rec
checks=$((checks + 2))
says "exit 6" "SIGTERM"
tell modes
says "$before" "SIGTERM, stalled"
close_terminal
plays term.rec "stalled, SIGTERM"

# ---- the keys beside `s` and `a`: none freezes, stops or kills
on_terminal slip "${demo[@]}" --rate 2 --out slip.rec
tell 'type \x0d\x0d'
until_in slip.rec '"enrichment"' 30
tell 'type \x13\x1a\x1c'
sleep 0.3
shown=$(stat -c %s slip.tty)
grows slip.rec 1 "Ctrl-S, Ctrl-Z, Ctrl-\\"
checks=$((checks + 1))
[ "$(stat -c %s slip.tty)" -gt "$shown" ] || fail "Ctrl-S froze the screen"
# ... stopped from outside, it has its screen and modes again
kill -STOP "$pid"
sleep 1.3
kill -CONT "$pid"
sleep 0.4
ends "$pid" INT "Ctrl-S" slip.rec
close_terminal
check "a stop is called one" grep -q '"note":"the program stood still for [0-9.]* s: it was stopped and continued"' slip.rec

# ---- a signal at the cautions of a stalled terminal
on_terminal page "${demo[@]}" --out page.rec
until_in page.tty 'part 1' 20
tell pause
kill -TERM "$pid"
soon "cautions: SIGTERM ends it" gone "$pid"
says "exit 6" "cautions"
close_terminal
done_testing

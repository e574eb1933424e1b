#!/usr/bin/env bash
# The lessons from the home screen in a real terminal (tmux): who learns, the twelve in their order, one as a
# quiz that is kept, the instructor's key on a second run, the class's table; a lesson without its recording.
. "$(dirname "$0")/lib.sh"
. "$here/home.sh"
kept=data/oxylag/class.txt

open 80 24
wait_for 'want to do' 10
keys 3
wait_for '3  Class table' 5
keys 3
wait_for 'No results yet' 5
keys Escape 2
wait_for 'Who learns' 5
keys Left && tm send-keys Ada && keys Down Down Enter
wait_for 'Ada: Take the lessons in order' 10
checks=$((checks + 2))
[ "$(grep -cE '^ .{2} *[0-9]+  .*not yet' screen.txt)" = 12 ] || fail "not twelve that are open: $(cat screen.txt)"
"$oxylag" lessons --json | jq -r .title >titles.txt
sed -nE 's/^ [> ] +[0-9]+  (.*[^ ]) +not yet *$/\1/p' screen.txt | cmp -s - titles.txt || fail "other lessons: $(cat screen.txt)"
keys Down Down Enter
wait_for 'replay .*examples/aged.jsonl --quiz --trainee' 5
# Nothing gives the answer away before it is asked for.
checks=$((checks + 1))
grep -qiE 'questionable' screen.txt && fail "the answer is on the screen: $(cat screen.txt)"
keys 1
wait_for 'MARK|Space when the front' 20
keys + + + + + + A # on a first run the instructor's key does nothing
wait_for 'Paused. Space goes on' 60
keys Space
wait_for 'g good  B not bad' 60
keys q
wait_for '6 of 12 points' 10
keys x
wait_for '^ Kept for Ada: 6 of 12 points' 10
checks=$((checks + 1))
[ "$(jq -r '"\(.trainee) \(.lesson) \(.verdict)"' $kept)" = "Ada aged.jsonl questionable" ] || fail "kept: $(cat $kept)"
keys 1
wait_for 'Space when the front' 20
keys + + A
wait_for 'leave' 10
keys q
wait_for 'Not kept: the quiz was not' 10
keys 3
wait_for 'line 1 of' 10
keys Escape Escape
wait_for '3  between the limits.*6 of 12' 10
keys Enter
wait_for 'Ada did it: 6 of 12 points' 10
keys Escape Escape 3
wait_for '^  Ada +6 of 12  right' 10
keys Escape Escape q
leave 0
checks=$((checks + 1))
[ "$(wc -l <$kept)" = 1 ] || fail "a try whose answer was shown is kept: $(cat $kept)"

# ---- installed, the lessons lie elsewhere; without them it is said which file is missing ----
mkdir -p prefix/bin prefix/share/oxylag/lessons
cp "$oxylag" prefix/bin/oxylag
cp "$here/../../examples/dead.jsonl" prefix/share/oxylag/lessons/
open 120 40 "$work/prefix/bin/oxylag"
wait_for 'want to do' 10
keys 3 2 Up Enter
wait_for 'Take the lessons in order' 10
wait_for ' 1 .*missing' 2
keys 1
wait_for 'recording of this lesson, good.jsonl' 5
keys 2
wait_for 'prefix/share/oxylag/lessons/dead.jsonl' 5
keys 2
wait_for 'PRE-CHECK' 20
keys q
wait_for 'see it with everything' 10
keys Escape Escape Escape q
leave 0
done_testing

#!/usr/bin/env bash
# The home screen when something is wrong: settings, folders, no home.
. "$(dirname "$0")/lib.sh"
. "$here/home.sh"

# ---- what goes wrong ----
mkdir -p config/oxylag
printf 'theme = pink\ntechnician = Lee\n' >config/oxylag/settings.ini
open 80 24
wait_for 'line 1: theme: found "pink"' 10
keys 5
wait_for 'Technician +Lee' 5
keys Down && tm send-keys /proc/none && keys Up Up Enter # round to the last one
wait_for 'Kept in' 5
keys 3 1
wait_for 'Pick a simulated' 5
keys Enter
wait_for 'demo --scenario' 5
keys Up Enter
wait_for 'name another folder' 5
keys Escape Escape Escape q
leave 0
# A port that does not open: the reason stands on the form until something is changed there.
rm config/oxylag/settings.ini
open 80 24
wait_for 'want to do' 10
keys 1
wait_for 'Test the link' 5
keys Down && tm send-keys tcp:127.0.0.1:1 && keys Up Up Enter
wait_for 'nothing listens at 127.0.0.1:1' 10
[ -z "$(find data -name '*.jsonl')" ] || fail "a recording of nothing: $(find data)"
keys Down Down
wait_for 'nothing listens' 2
tm send-keys 2
wait_for 'port tcp:127.0.0.1:12' 5
checks=$((checks + 1))
grep -q 'nothing listens' screen.txt && fail "what was said stands on: $(cat screen.txt)"
keys Escape q
leave 0
open 80 24 "env -u HOME -u XDG_CONFIG_HOME -u XDG_DATA_HOME $oxylag"
wait_for 'want to do' 10
keys 4
wait_for 'no home folder' 5
keys q
leave 0
refuse 2 'say what to do' "$oxylag"
# The disk is full in the middle of a test: said at once, the test goes to its result, the reason and what to
# do stand where one goes on, and what was recorded is kept and plays. A cache that is damaged is in no one's way.
mkdir -p cache/oxylag
head -c 900 /dev/urandom >cache/oxylag/recordings.sqlite
rm -f config/oxylag/settings.ini
open 80 24 "bash -c 'ulimit -f 150; exec env XDG_CACHE_HOME=$work/cache $oxylag'"
wait_for 'want to do' 10
keys 3 1
tm send-keys 'Dead converter: the'
wait_for '> dead ' 5
keys Enter
wait_for 'demo --scenario dead' 5
keys Up Up Right Right Down
wait_for 'scenario dead --rate 4' 5
keys Enter
wait_for 'part 1 of 2' 10
keys Enter && sleep 0.3 && keys Enter
wait_for '! not recording: File too large' 60
wait_for '[0-9] of [0-9] runs count' 120
keys Enter
wait_for 'make room on the|disk and test again' 15
keys Escape
wait_for 'want to do' 5
keys 4
wait_for 'NO RESULT .*R0000003' 20
keys Escape q
leave 0
checks=$((checks + 1))
"$oxylag" replay "$(recordings | tail -1)" --virtual-time --json >/dev/null 2>err.txt
case $? in 0 | 6) ;; *) fail "what was recorded does not play: $(cat err.txt)" ;; esac
# A bad settings file is one line, and the command goes on.
printf 'theme = pink\n' >config/oxylag/settings.ini
checks=$((checks + 1))
"$oxylag" scenarios >out.txt 2>err.txt && [ "$(wc -l <err.txt)" = 1 ] && grep -q 'delete the file' err.txt && [ -s out.txt ] ||
  fail "a bad settings file: $(cat err.txt)"
done_testing

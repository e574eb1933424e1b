#!/usr/bin/env bash
# The home screen in a real terminal (tmux): from `oxylag` alone to the page as PDF in practice, the same
# vehicle again, compared.
. "$(dirname "$0")/lib.sh"
. "$here/home.sh"

# ---- practice: a page as PDF, then the same vehicle after a repair, compared ----
open 80 24
wait_for 'What do you|want to do' 10
keys 3 1
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
  wait_for '[0-9] of [0-9] runs count' 120 || break
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
pdftotext "${first%.jsonl}.pdf" first.txt && grep -q 'AB-12' first.txt || fail "the page of the first test lacks the plate"
pdftotext "${second%.jsonl}-compared.pdf" both.txt && grep -qiE 'before and after|two tests' both.txt || fail "the second page compares nothing"
# A PDF that is there is not written over.
keys 2
wait_for '^ Written: .*compared-2.pdf' 30
keys Escape
wait_for 'Past recordings' 5
# Remembered: the technician.
grep -q '^technician = Kim$' config/oxylag/settings.ini || fail "the technician is not remembered"
keys q
leave 0
done_testing

#!/usr/bin/env bash
# recordings: a folder as a list, in three forms, with a cache that is never in the way; and the check.
. "$(dirname "$0")/lib.sh"
export XDG_DATA_HOME=$work/data XDG_CACHE_HOME=$work/cache
cache=$XDG_CACHE_HOME/oxylag/recordings.sqlite
own=$XDG_DATA_HOME/oxylag
out_of() { "$oxylag" recordings "$@" 2>list.err; }
# is WHAT JQ-TEST FILE...: of the rows as a list
is() {
  local what=$1 filter=$2
  shift 2
  checks=$((checks + 1))
  out_of "$@" --json >list.json
  jq -es "$filter" list.json >/dev/null || fail "recordings: $what: $(head -c 600 list.json) $(cat list.err)"
}

# Before the first recording there is no folder.
check "no folder yet" "$oxylag" recordings
checks=$((checks + 1))
grep -q "No such recordings in $own" check.out || fail "no folder: $(cat check.out)"
mkdir -p "$own"

# Two tests of a vehicle, before and after; one that was stopped; an inspection.
make() { # NAME SCENARIO ORDER STARTED
  "$oxylag" demo -y --virtual-time --runs 1 --no-deeper --packets 16 --quiet --json --scenario "$2" \
    --order "$3" --out "$own/$1" >"$1.events" 2>/dev/null
  sed -i "1s/\"started\":\"[^\"]*\"/\"started\":\"$4\"/" "$own/$1"
}
make before.jsonl dead 4711 2026-11-02T09:00:00+01:00
make after.jsonl good '=1+2,"x"' 2026-11-20T09:00:00+01:00
head -n 900 "$own/after.jsonl" | sed "1s/2026-11-20/2026-11-25/" >"$own/cut.jsonl"
printf '{"t":90000' >>"$own/cut.jsonl"
"$oxylag" inspect --port sim:codes --virtual-time --quiet --out "$own/inspection.jsonl" >/dev/null
sed -i '1s/"started":"[^"]*"/"started":"2026-11-01T09:00:00+01:00"/' "$own/inspection.jsonl"
is "the newest first" 'map(.file) == ["cut.jsonl", "after.jsonl", "before.jsonl", "inspection.jsonl"]'
lead=$(jq -r 'select(.event == "result").lead.text' after.jsonl.events)
is "verdict and figure are the live ones" "map(select(.file == \"after.jsonl\"))[0]
  | .verdict == \"good\" and .lead == \"$lead\" and .replay == \"not-made\" and .complete"
is "before and after find each other" '[.[].before] == ["", "before.jsonl", "", ""]'
is "cut off" '.[0] | .verdict == "" and (.complete | not) and (.why | test("cut off"))'
is "an inspection is none of them" '.[3] | .kind == "inspection" and .vin != "" and .complete'
is "by order" 'map(.file) == ["before.jsonl"]' --order 471
is "by day" 'length == 2' --since 2026-11-20
is "by verdict" 'map(.file) == ["before.jsonl"]' --verdict bad
is "by verdict, of none" 'length == 0' --verdict not-bad
is "by the VIN's end" 'length == 4' --vin 0003
is "masked" 'map(.vin) | all(test("^.{8}[*]{9}$"))' --mask-vin
refuse 2 'expected good, not-bad' "$oxylag" recordings --verdict fine
refuse 2 'expected a day' "$oxylag" recordings --since yesterday
refuse 2 'one folder is listed' "$oxylag" recordings . ..
refuse 3 'nothere.*cannot be read' "$oxylag" recordings nothere

# CSV: RFC 4180 by another reader, and nothing that a spreadsheet would compute.
out_of --csv >list.csv
checks=$((checks + 1))
python3 - list.csv <<'PY' || fail "csv: $(cat list.csv)"
import csv, sys
rows = list(csv.DictReader(open(sys.argv[1], newline="")))
assert len(rows) == 4 and all(None not in r and None not in r.values() for r in rows)
assert rows[1]["order"] == "'=1+2,\"x\"", rows[1]["order"]
assert rows[1]["file"] == "after.jsonl" and float(rows[1]["o2_low_mg"]) > 100
assert rows[0]["o2_mg"] == "" and rows[0]["complete"] == "false"
assert not any(v[:1] in "=+@" for r in rows for v in r.values() if v)
PY

# Names and texts steer no terminal.
cp "$own/before.jsonl" "$own/$(printf 'x\n\033[31m\377.jsonl')"
sed -i '1s/"order":"4711"/"order":"\\u001b]0;title\\u0007"/' "$own"/x*.jsonl
out_of >list.txt
checks=$((checks + 1))
LC_ALL=C grep -q $'[\x01-\x09\x0b-\x1f\x7f\xff]' list.txt && fail "controls in the list: $(cat -v list.txt)"
grep -q 'x??\[31m?.jsonl' list.txt || fail "the odd name is not listed: $(cat -v list.txt)"
check "its check, too" bash -c "'$oxylag' recordings --check \"$own\"/x*.jsonl | LC_ALL=C grep -qv \$'[\\x01-\\x09]'"
rm "$own"/x*.jsonl

# What cannot be read is listed with the reason, a thousand times if need be.
junk=$work/junk
mkdir -p "$junk/folder.jsonl"
: >"$junk/empty.jsonl"
ln -s nowhere "$junk/dangling.jsonl"
ln -s "$own/before.jsonl" "$junk/link.jsonl"
mkfifo "$junk/pipe.jsonl"
python3 -c 'import sys; [open(f"{sys.argv[1]}/j{i}.jsonl", "w").write("junk\n") for i in range(1, 1001)]' "$junk"
is "junk" 'length == 1005 and (map(select(.kind == "test")) | length == 1) and
  (map(select(.kind == "unreadable")) | all(.why != ""))' "$junk"
is "a folder has the name of a recording" 'map(select(.file == "folder.jsonl"))[0].why
  | test("it is a folder")' "$junk"
if [ "$(id -u)" = 0 ]; then
  chmod 755 "$work"
  mkdir -m 700 closed
  refuse 3 'closed.*cannot be read' setpriv --reuid 65534 --regid 65534 --clear-groups \
    env -u XDG_CACHE_HOME "$oxylag" recordings "$work/closed"
  chmod 600 "$own/before.jsonl"
  chmod 755 "$own" "$XDG_DATA_HOME"
  setpriv --reuid 65534 --regid 65534 --clear-groups env HOME=/nonexistent "$oxylag" recordings "$own" \
    --json >list.json 2>/dev/null
  checks=$((checks + 1))
  jq -es 'map(select(.file == "before.jsonl"))[0].why | test("Permission denied")' list.json >/dev/null ||
    fail "a recording without rights: $(cat list.json)"
fi

# The check: whole, cut off, changed, unreadable; what it computed stands in the list.
check "whole ones pass" "$oxylag" recordings --check "$own/after.jsonl" "$own/before.jsonl"
checks=$((checks + 1))
grep -q "$(sha256sum <"$own/after.jsonl" | cut -d' ' -f1)" check.out || fail "no checksum: $(cat check.out)"
is "checked ones" 'map(select(.replay == "identical")) | length == 2 and all(.sha256 | length == 64)'
refuse 3 '1 of 3 recordings' "$oxylag" recordings --check "$own/after.jsonl" "$own/before.jsonl" \
  "$own/cut.jsonl"
mkdir changed
sed 's/"conclusion":"bad"/"conclusion":"good"/' "$own/before.jsonl" >changed/a.jsonl
refuse 3 '1 of 1 recordings' "$oxylag" recordings --check changed
grep -q 'ANOTHER RESULT' refuse.out || fail "a forged verdict: $(cat refuse.out)"
is "the computed verdict stands" '.[0] | .verdict == "bad" and .replay == "differs"' changed
refuse 3 '1 of 1' "$oxylag" recordings --check "$junk/j1.jsonl"
refuse 3 '1 of 1' "$oxylag" recordings --check "$junk/nothere.jsonl"

# On a terminal: found by typing, opened, compared, checked, exported.
export TERM=xterm-256color LC_ALL=C.UTF-8 XDG_CONFIG_HOME=$work/config
. "$here/tmux.sh"
wait_for() {
  checks=$((checks + 1))
  for _ in $(seq 1500); do
    tm capture-pane -p >screen.txt
    grep -qE "$1" screen.txt && return 0
    sleep 0.1
  done
  fail "the screen never showed \"$1\": $(cat screen.txt)"
}
tm new-session -d -x 100 -y 30 "$oxylag recordings; echo exit \$?; sleep 60"
wait_for '1 of 4: type to find'
checks=$((checks + 1))
grep -A1 DATE screen.txt | saw '> 2026-11-25 09:00  NO RESULT' || fail "the newest is first: $(cat screen.txt)"
tm send-keys a f t e r
wait_for '> 2026-11-20 09:00  GOOD .*out of 4|out of 4'
tm send-keys Enter
wait_for 'Converter oxygen storage: GOOD'
wait_for '7  Compare'
tm send-keys 6
wait_for '^ complete, replay identical'
wait_for '^ [0-9a-f]{64}'
tm send-keys 4
wait_for 'Written: .*after.csv'
tm send-keys 7
wait_for 'of both tests'
tm send-keys 1
wait_for 'before and after'
tm send-keys Escape
wait_for 'of both tests'
tm send-keys Escape
wait_for 'Filter: after'
# The other tests of the vehicle, by a key: read here, and as a page with the plot; back to the list.
tm send-keys Enter
wait_for '8  History'
tm send-keys 8
wait_for 'Every test of the vehicle 0XYLAGSM4R0000003'
wait_for 'oxylag report --history 0XYLAGSM4R0000003 '
tm send-keys 1
wait_for 'Tests +3, from 2026-11-02 to 2026-11-25'
tm send-keys Escape
wait_for '4  Back'
tm send-keys 2
wait_for 'Written: .*0XYLAGSM4R0000003-history.pdf'
tm send-keys Escape
wait_for 'Filter: after'
tm send-keys Escape Escape
wait_for 'exit 0'
checks=$((checks + 1))
pdftotext "$own/0XYLAGSM4R0000003-history.pdf" - | saw 'Delay at target' || fail "the history has no plot"
tm_end
checks=$((checks + 1))
head -1 "$own/after.csv" | saw '^recv_s,' || fail "the export is no table"
rm "$own/after.csv"
check "lines on request" timeout 900 script -qec "$oxylag recordings --plain" /dev/null
checks=$((checks + 1))
grep -q '^2026-11-20 09:00  GOOD' check.out || fail "plain: $(cat check.out)"

# The page of a vehicle: every test of it, each replayed, in three settings; masked when asked.
check "history" "$oxylag" report --history 0003
cp check.out history.txt
checks=$((checks + 3))
grep -qE '^1 +2026-11-02 +4711 +1 +BAD' history.txt || fail "history: $(cat history.txt)"
grep -qE '^2 +2026-11-20 .*GOOD' history.txt || fail "history, second: $(cat history.txt)"
grep -q '^VIN  *0XYLAGSM4R0000003' history.txt || fail "history, VIN: $(cat history.txt)"
check "history as PDF" "$oxylag" report --history 0003 --format pdf --out history.pdf
checks=$((checks + 1))
[ "$(pdfinfo history.pdf | sed -n 's/^Pages: *//p')" = 1 ] || fail "a history is one sheet"
pdftotext -layout history.pdf - >history.out
for word in 'Delay at target, s' 'Oxygen stored, mg' '2026-11-02' 'good above'; do
  checks=$((checks + 1))
  grep -q "$word" history.out || fail "the PDF lacks \"$word\": $(cat history.out)"
done
check "history as HTML" "$oxylag" report --history 0003 --format html --out history.html --mask-vin
checks=$((checks + 2))
xmllint --html --noout history.html 2>/dev/null || fail "the HTML is none"
grep -q 'R0000003' history.html && fail "the VIN is not masked"
refuse 3 'no test of a VIN' "$oxylag" report --history 9999 "$own"
refuse 2 'history is a page' "$oxylag" report --history 0003 --format json
sed 's/0XYLAGSM4R0000003/0XYLAGSM4R0010003/' "$own/before.jsonl" >"$own/other.jsonl"
refuse 2 'several vehicles' "$oxylag" report --history 0003
rm "$own/other.jsonl"

# One option hides the VIN, the plate and the vehicle, wherever they may come out.
"$oxylag" demo -y --virtual-time --runs 1 --no-deeper --packets 16 --quiet --plain --plate "AB 123" \
  --vehicle "red estate" --out owned.jsonl >/dev/null 2>&1
mkdir owned && mv owned.jsonl owned/
for way in "report owned/owned.jsonl" "report owned/owned.jsonl --format json" \
  "report owned/owned.jsonl --format html" "report --history 0003 owned" "recordings owned --json" \
  "recordings owned --csv" "recordings owned" "recordings --check owned" "recordings --check owned --json" \
  "replay owned/owned.jsonl --virtual-time --json"; do
  checks=$((checks + 2))
  # shellcheck disable=SC2086 # words of a command
  "$oxylag" $way --mask-vin >shown.txt 2>&1
  grep -qE 'AB 123|red estate|R0000003' shown.txt && fail "$way --mask-vin tells whose it is"
  # shellcheck disable=SC2086
  "$oxylag" $way >shown.txt 2>&1
  [ "$way" = "recordings --check owned" ] && continue # a check in words names the file alone
  grep -qE 'AB 123|R0000003' shown.txt || fail "$way without it says nothing of the vehicle"
done
"$oxylag" demo -y --virtual-time --runs 1 --no-deeper --packets 16 --quiet --plain --plate "AB 123" \
  --vehicle "red estate" --mask-vin --out masked.jsonl >/dev/null 2>&1
checks=$((checks + 1))
grep -qE 'AB 123|red estate|R0000003' masked.jsonl && fail "a masked recording holds whose it is"

# Without a cache the list is the same: none, damaged, not writable, a full disk, no home.
out_of --json >whole.json
same() {
  checks=$((checks + 1))
  cmp -s whole.json list.json || fail "$1: another list: $(cat list.err)"
  [ "$(grep -c '^oxylag: ' list.err)" = "$2" ] || fail "$1: expected $2 notes: $(cat list.err)"
}
"$oxylag" recordings --check "$own" >/dev/null 2>&1
out_of --json >whole.json
head -c 700 /dev/urandom >"$cache"
out_of --json >list.json
checks=$((checks + 1))
[ "$(grep -c 'damaged and is made anew' list.err)" = 1 ] || fail "damaged: $(cat list.err)"
"$oxylag" recordings --check "$own" >/dev/null 2>&1
out_of --json >list.json
same "made anew" 0
"$oxylag" recordings --check "$own" --quiet >/dev/null 2>&1
rm -r "$XDG_CACHE_HOME"
jq -c '.replay = "" | .sha256 = "" | .why = ""' whole.json | sort >plain.json
: >"$work/afile"
for way in "XDG_CACHE_HOME=$work/afile" "XDG_CACHE_HOME=/proc/nothere" "HOME= XDG_CACHE_HOME="; do
  # shellcheck disable=SC2086 # settings, each a word
  env $way "$oxylag" recordings "$own" --json 2>list.err | jq -c '.replay = "" | .sha256 = "" | .why = ""' |
    sort >list.json
  checks=$((checks + 1))
  cmp -s plain.json list.json || fail "$way: another list"
done
(
  ulimit -f 8
  exec "$oxylag" recordings "$junk" --json
) 2>list.err | jq -s length >list.json
checks=$((checks + 1))
{ grep -q '^1005$' list.json && grep -q 'not kept' list.err; } || fail "full disk: $(cat list.err list.json)"

# A thousand (a hundred under the sanitizers): the second time no file is read again; four at once agree.
many=$work/many
mkdir "$many"
most=1000
! sanitized || long || most=100
python3 - "$own" "$many" $most <<'PY'
import sys
own, many, most = sys.argv[1:]
texts = [open(f"{own}/{n}.jsonl").read() for n in ("before", "after")]
for i in range(int(most)):
    head, rest = texts[i % 2].split("\n", 1)
    day = "20%02d-%02d-%02dT%02d:" % (i % 26, i % 12 + 1, i % 28 + 1, i % 24)
    at = head.index('"started":"') + 11
    open(f"{many}/r{i}.jsonl", "w").write(head[:at] + day + head[at + 14:] + "\n" + rest)
PY
out_of "$many" --json >whole.json
checks=$((checks + 1))
[ "$(wc -l <whole.json)" = $most ] || fail "many: $(wc -l <whole.json) rows"
# Another day in a file of the same size and time shows whether it was read. No times: the machine may be busy.
old_day=$(head -1 "$many/r7.jsonl" | grep -oE '"started":"2007-08-[0-9]+')
touch -r "$many/r7.jsonl" stamp
sed -i '1s/"started":"2007-/"started":"1999-/' "$many/r7.jsonl"
touch -r stamp "$many/r7.jsonl"
out_of "$many" --json >list.json
checks=$((checks + 2))
[ -n "$old_day" ] && grep -q '1999-08' "$many/r7.jsonl" || fail "the file was not changed: $old_day"
cmp -s whole.json list.json || fail "the cache saves nothing: a file that looks the same was read again"
touch "$many/r7.jsonl"
out_of "$many" --json >list.json
checks=$((checks + 1))
[ "$(grep -c '1999-08' list.json)" = 1 ] || fail "a file that was written since is not read again: $(cat list.err)"
cp list.json whole.json
rm -r "$XDG_CACHE_HOME"
for i in 1 2 3 4; do
  "$oxylag" recordings "$many" --json >at-once.$i 2>at-once.err.$i &
  pids[i]=$!
done
for i in 1 2 3 4; do
  checks=$((checks + 1))
  wait "${pids[i]}" || fail "of four at once: exit $?"
  cmp -s whole.json at-once.$i || fail "of four at once: another list: $(cat at-once.err.$i)"
  grep -q damaged at-once.err.$i && fail "of four at once: $(cat at-once.err.$i)"
done
out_of "$many" --json >list.json
same "after four at once" 0
done_testing

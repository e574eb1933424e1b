#!/usr/bin/env bash
# Bad input: each gets its documented exit code and one line that says what to do next, and loses
# nothing that is recorded.
. "$(dirname "$0")/lib.sh"

# Usage
refuse 2 'oxylag --help' "$oxylag"
refuse 2 'unknown command "fly": expected one of run, demo' "$oxylag" fly
refuse 2 'unknown option "--fast": try oxylag run --help' "$oxylag" run --fast
refuse 2 'unknown option "--json=maybe"|unknown option' "$oxylag" demo --json=maybe
refuse 2 '--runs: found "0", expected a whole number from 1 to 12' "$oxylag" demo --runs 0
refuse 2 '--runs: found "2x"' "$oxylag" demo --runs 2x
refuse 2 '--bank: found "3", expected a whole number from 1 to 2' "$oxylag" demo --bank 3
refuse 2 '"--port" needs a value' "$oxylag" run --port
refuse 2 'goes with --json' "$oxylag" demo --samples
refuse 2 '--virtual-time works only with' "$oxylag" run --port /dev/null --virtual-time
refuse 2 '--format: found "docx", expected' "$oxylag" report x --format docx
refuse 2 'not expected' "$oxylag" ports extra
refuse 2 '--listen: found "udp:1"' "$oxylag" simulate --listen udp:1
# Texts are kept whole or refused, in characters as people count them.
letters=$(printf 'a%.0s' $(seq 600)) umlauts=$(printf '\303\244%.0s' $(seq 600))
refuse 2 'order: is too long, 128 characters: at most 127' "$oxylag" demo --order "${letters:0:128}"
refuse 2 'order: is too long, .*128 bytes of UTF-8: at most 127 bytes' "$oxylag" demo --order \
  "$(printf '\303\244%.0s' $(seq 64))"
for option in order note inlet technician port scenario listen symlink profile out truth; do
  case $option in
  port) command=inspect ;;
  listen | symlink) command=simulate ;;
  *) command=demo ;;
  esac
  refuse 2 "$option: is too long" "$oxylag" $command "--$option" "$umlauts"
done
refuse 2 'out: is too long' "$oxylag" import x.csv --columns a --out "$umlauts"
refuse 2 'out: is too long' "$oxylag" report x.rec --out "$umlauts"
# The longest that is taken stands whole in the recording and on the page.
checks=$((checks + 2))
whole=$(printf '\303\244%.0s' $(seq 63))x
"$oxylag" demo -y --virtual-time --runs 1 --order "$whole" --note "${letters:0:255}" --out whole.rec \
  >/dev/null 2>&1
jq -e --arg order "$whole" --arg note "${letters:0:255}" '.order == $order and .note == $note' \
  <(head -1 whole.rec) >/dev/null || fail "a text of the longest length is not kept whole"
"$oxylag" report -f html whole.rec --quiet --out whole.html
grep -qF "$whole" whole.html || fail "the order is cut on the page"
cp whole.rec "${letters:0:250}.rec" && "$oxylag" report "${letters:0:250}.rec" >/dev/null ||
  fail "a long file name"
# Numbers and options that are something else.
for number in nan inf 1e999 0x2 ' 2' '' '2,' 1e400 --; do
  refuse 2 '--runs' "$oxylag" demo "--runs=$number"
done
for number in nan inf -inf 1e999 0x10 '' ' 1'; do
  refuse 2 '--rate' "$oxylag" demo "--rate=$number"
  refuse 2 '--from' "$oxylag" replay x.rec "--from=$number"
  refuse 2 '--seconds' "$oxylag" simulate --listen pty "--seconds=$number"
done
refuse 2 '--order is given twice' "$oxylag" demo --order a --order b
refuse 2 '--runs is given twice' "$oxylag" demo -n 2 --runs=3
refuse 2 'accept-cautions' "$oxylag" demo --plain
grep -qi 'propane' refuse.err || fail "the cautions are not printed when they must be accepted"
# What is wrong besides is said at once: nobody reads the cautions for nothing.
for bad in '2 did.you.mean --scenario godo' '2 --out --out /' '3 no.profile --profile godo' '4 no.port --port /dev/ttyNONE9'; do
  read -r code words arguments <<<"$bad"
  command=demo
  [[ $arguments != --port* ]] || command=run
  # shellcheck disable=SC2086
  refuse "$code" "$words" "$oxylag" $command --plain $arguments
  ! grep -qi propane refuse.err || fail "$arguments: refused only behind the cautions"
done

# Scenario and profile
refuse 2 'good' "$oxylag" demo --scenario nonsense -y
for name in $("$oxylag" scenarios | cut -d' ' -f1); do
  grep -qw -- "$name" refuse.err || fail "the list of scenarios is cut before $name"
done
refuse 3 'no profile "nonsense": expected' "$oxylag" demo --profile nonsense -y
printf '[limits]\nbad_s = soon\n' >bad.ini
refuse 3 'bad.ini:2: .*bad_s.*"soon".*expected' "$oxylag" demo --profile ./bad.ini -y
printf '[limits]\nbad_seconds = 2\n' >bad2.ini
refuse 3 'bad2.ini:2: .*bad_seconds' "$oxylag" demo --profile ./bad2.ini -y
refuse 3 'missing.ini' "$oxylag" demo --profile ./missing.ini -y

# Ports
refuse 4 'there is no port /dev/ttyNONE9: ' "$oxylag" run --port /dev/ttyNONE9 -y --plain
refuse 4 'not a (serial|tty)|is no' "$oxylag" run --port /etc/hostname -y --plain
refuse 4 'nothing listens at 127.0.0.1:1: ' "$oxylag" run --port tcp:127.0.0.1:1 -y --plain
# A port number is 16 bits, and none is taken modulo 65536 (101537 would be 36001).
for number in 101537 65536 -1 0x10 99999999999999999999; do
  refuse 2 'no port|no address' "$oxylag" simulate --listen "tcp:127.0.0.1:$number" --seconds 1
done
for number in 0 65536 101537; do
  refuse 2 "no port $number: give a number from 1 to 65535" \
    "$oxylag" run --port "tcp:127.0.0.1:$number" -y --plain
  refuse 2 "no port $number" "$oxylag" inspect --port "tcp:127.0.0.1:$number"
done
if [ "$(id -u)" = 0 ] && id nobody >/dev/null 2>&1; then
  # A tty that belongs to root, seen by somebody else.
  mkdir pub && chmod 777 pub && cp "$oxylag" pub/oxylag && chmod 755 "$work" pub/oxylag
  "$oxylag" simulate --listen pty --seconds 200 >pty.name &
  cleanup_pids+=($!)
  for _ in $(seq 600); do [ -s pty.name ] && break; sleep 0.1; done
  chmod 600 "$(cat pty.name)"
  chown root "$(cat pty.name)"
  cd pub || exit 1
  refuse 4 'permission' setpriv --reuid=65534 --regid=65534 --clear-groups \
    ./oxylag run --port "$(cat ../pty.name)" -y --plain
  cd ..
fi

# Adapter and vehicle
refuse 5 'adapter' sim silent-adapter
refuse 5 'vehicle' sim no-vehicle
refuse 7 'rear sensor' sim no-rear
refuse 7 'closed loop' sim open-loop
for name in silent-adapter no-vehicle no-rear open-loop; do
  # What was recorded up to there replays to the same end.
  checks=$((checks + 1))
  "$oxylag" replay "$name.rec" --virtual-time --json >r.out 2>r.err
  [ $? = "$(case $name in silent* | no-v*) echo 5 ;; *) echo 7 ;; esac)" ] ||
    fail "$name: replay exits otherwise: $(cat r.err)"
  grep -q differ r.err && fail "$name: replay differs"
done

# An adapter at another speed is found: in process, and over a pseudo-terminal below.
checks=$((checks + 1))
sim another-speed >speed.events 2>speed.err || fail "another speed: $(tail -1 speed.err)"
grep -q '"speed":38400' another-speed.rec || fail "another speed: 38400 was not tried"
jq -e -s 'any(.[]; .event == "result" and .valid_runs >= 2)' speed.events >/dev/null ||
  fail "another speed: no result"

# Garbage bytes on the line: the test goes through all the same.
checks=$((checks + 1))
sim garbage >garbage.events 2>garbage.err || fail "garbage: $(tail -1 garbage.err)"
jq -e -s 'any(.[]; .event == "result" and .valid_runs >= 1)' garbage.events >/dev/null ||
  fail "garbage: no valid run"

# Pulled out in timing and put in again: that run is void, the test goes on, nothing is lost.
checks=$((checks + 1))
sim unplugged >unplugged.events 2>unplugged.err || fail "unplugged: $(tail -1 unplugged.err)"
jq -e -s 'any(.[]; .event == "run" and (.valid | not) and (.reasons | index("link-lost")))' \
  unplugged.events >/dev/null || fail "unplugged: no run was voided by the lost link"
jq -e -s 'any(.[]; .event == "result" and .valid_runs >= 2)' unplugged.events >/dev/null ||
  fail "unplugged: the test did not go on to two valid runs"
"$oxylag" replay unplugged.rec --virtual-time --json 2>r.err | cmp -s - unplugged.events ||
  fail "unplugged: replay differs"

# What is named as a file and is none: refused at once, neither waited for nor touched.
mkfifo pipe.ini
socket=./sock.ini
python3 -c 'import socket, sys; socket.socket(socket.AF_UNIX).bind(sys.argv[1])' "$socket" 2>/dev/null ||
  socket=/dev/null
columns=time=t,front=f,rear=r,stft=s
mkdir folder.ini
for what in ./pipe.ini ./folder.ini "$socket" /dev/zero; do
  words='pipe|folder|device or a socket'
  refuse 3 "$words" timeout 900 "$oxylag" demo --profile "$what" -y --plain
  refuse 3 "$words" timeout 900 "$oxylag" profiles "$what"
  refuse 3 "$words" timeout 900 "$oxylag" demo --scenario "$what" -y --plain
  refuse 3 "$words" timeout 900 "$oxylag" run --port "sim:$what" -y --plain
  refuse 3 "$words" timeout 900 "$oxylag" simulate --scenario "$what" --listen pty
  refuse 3 "$words" timeout 900 "$oxylag" import "$what" --columns "$columns" --out none.rec
  refuse 3 "$words" timeout 900 "$oxylag" report "$what"
  refuse 3 "$words" timeout 900 "$oxylag" replay "$what"
done
refuse 3 'pipe' bash -c "'$oxylag' report <(echo)"
for command in report replay; do
  refuse 3 'the name is empty' "$oxylag" $command ''
done

# Output
refuse 2 'nowhere' "$oxylag" demo -y --virtual-time --out /nowhere/x.rec
echo data >mine.txt
refuse 2 'mine.txt' "$oxylag" demo -y --virtual-time --out mine.txt
[ "$(cat mine.txt)" = data ] || fail "an existing file was overwritten"

# Recordings
"$oxylag" demo -y --virtual-time --scenario aged --out ok.rec >/dev/null 2>&1
refuse 3 'gone.rec' "$oxylag" replay gone.rec
: >empty.rec
refuse 3 'empty.rec' "$oxylag" replay empty.rec
echo 'time,volts' >foreign.csv
refuse 3 'foreign.csv' "$oxylag" report foreign.csv
echo '{"format":"something-else","version":1}' >foreign.json
refuse 3 'foreign.json' "$oxylag" replay foreign.json
head -c 100000 /dev/urandom >noise.rec
refuse 3 'noise.rec' "$oxylag" replay noise.rec
refuse 3 "$work" "$oxylag" replay "$work"
sed '40s/.*/{"t":12,"rx":5}/' ok.rec >broken.rec
refuse 3 'broken.rec line 40: ' "$oxylag" replay broken.rec --virtual-time
sed '1s/"version": *1/"version": 99/' ok.rec >newer.rec
refuse 3 'version' "$oxylag" replay newer.rec
# One file, one test, in order: replay and report refuse the rest alike and name the line.
end=$(wc -l <ok.rec)
cat ok.rec ok.rec >twice.rec                                     # two headers
{ cat ok.rec; tail -n +2 ok.rec; } >after.rec                    # on after the end
{ head -n -1 ok.rec; tail -n +2 ok.rec; } >joined.rec            # without the first one's end
{                                                                # and at later times
  head -n -1 ok.rec
  awk 'NR > 1 && match($0, /^{"t":[0-9]+/) {
    printf "{\"t\":%d%s\n", substr($0, 6, RLENGTH - 5) + 1000000000, substr($0, RLENGTH + 1) }' ok.rec
} >shifted.rec
awk 'NR == 500 { kept = $0; next } { print } NR == 900 { print kept }' ok.rec >backwards.rec
sed '40s/^{"t":[0-9]*/{"t":9223372036854775807/' ok.rec >extreme.rec
sed '40s/^{"t":[0-9]*/{"t":2678400000001/' ok.rec >month.rec
for command in 'report --quiet' 'report --quiet -f json' 'report --quiet -f html' \
  'replay --virtual-time --json' 'replay --virtual-time --plain'; do
  # shellcheck disable=SC2086
  {
    refuse 3 "twice.rec line $((end + 1)): a? ?(second recording begins|goes on after the end)" \
      "$oxylag" $command twice.rec
    refuse 3 "after.rec line $((end + 1)): goes on after the end" "$oxylag" $command after.rec
    refuse 3 "joined.rec line $end: its time runs backwards" "$oxylag" $command joined.rec
    refuse 3 'shifted.rec line [0-9]*: a second test begins here' "$oxylag" $command shifted.rec
    refuse 3 'backwards.rec line 900: its time runs backwards' "$oxylag" $command backwards.rec
    refuse 3 'extreme.rec line 40: "t" should be a time .* at most 31 days' "$oxylag" $command extreme.rec
    refuse 3 'month.rec line 40: "t" should be a time' "$oxylag" $command month.rec
  }
done
grep -qi 'nothing is wrong' refuse.err && fail "a recording of two tests is called sound"
# What is not as the live run said it is not vouched for either.
head -n $((end / 2)) ok.rec | sed 's/"found":"coolant 88 C/"found":"coolant 89 C/' >edited.rec
checks=$((checks + 1))
"$oxylag" replay edited.rec --virtual-time >/dev/null 2>edited.err
grep -q 'before a result, and 1 of [0-9]* events differ from the live run: do not rely' edited.err ||
  fail "edited: $(cat edited.err)"
"$oxylag" report edited.rec --quiet >edited.txt
tr -s ' \n' '  ' <edited.txt | saw 'Why: .*differ from the live run: do not rely on it' ||
  fail "the page of an edited recording does not say so"
# Behind a long path there is still what is wrong and what to do.
deep=$(printf 'd%.0s' $(seq 230))/$(printf 'e%.0s' $(seq 230))
mkdir -p "$deep"
cp broken.rec "$deep/b.rec"
cp bad.ini "$deep/b.ini"
refuse 3 'b.rec line 40: "rx" should be a text$' "$oxylag" report --quiet "$deep/b.rec"
refuse 3 'b.ini:2: .*found "soon", expected a number from .* to [0-9.]*$' "$oxylag" profiles "$deep/b.ini"
refuse 2 'Not a directory: name another file with --out$' "$oxylag" demo -y --plain --out "$deep/b.rec/x"
# A torn last line is tolerated and said.
size=$(stat -c %s ok.rec)
head -c $((size - 7)) ok.rec >torn.rec
checks=$((checks + 1))
"$oxylag" replay torn.rec --virtual-time --json >torn.events 2>torn.err
grep -q 'cut off' torn.err || fail "a torn last line is not reported"
grep -q '"event":"result"' torn.events || fail "a torn last line lost the result"
# A recording that ends in the middle says where, and keeps what it has.
head -n $(($(wc -l <ok.rec) / 2)) ok.rec >half.rec
refuse 6 'ends in state' "$oxylag" replay half.rec --virtual-time
checks=$((checks + 1))
"$oxylag" report half.rec >half.txt || fail "no report of half a recording"
grep -q 'No verdict' half.txt || fail "the report of half a recording gives a verdict"

# Disk full: a file-size limit stands for it. The test goes through, the file stays whole lines.
checks=$((checks + 1))
(ulimit -f 100 && timeout 900 "$oxylag" demo -y --virtual-time --scenario aged --out full.rec \
  >full.out 2>full.err)
grep -q 'recording stopped early' full.err || fail "a full disk is not said: $(cat full.err)"
grep -q 'RESULT' full.out || fail "a full disk stopped the test"
tail -c 1 full.rec | od -An -c | saw '\\n' || fail "a full disk left a torn line"
"$oxylag" replay full.rec --virtual-time >/dev/null 2>r.err
grep -q 'ends in state' r.err || fail "what is left after a full disk does not replay: $(cat r.err)"
done_testing

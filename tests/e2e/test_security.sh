#!/usr/bin/env bash
# What comes from outside - recordings, profiles, adapters, names, notes - steers no terminal and no
# shell, and overwrites nothing.
. "$(dirname "$0")/lib.sh"

esc=$'\033' # ESC, CSI, OSC, the UTF-8 forms of C1, bidirectional controls, DEL, BEL, backspace
evil="a${esc}[2J${esc}]0;own"$'\a'"ed${esc}\\"$'\302\233'"31m"$'\342\200\256'"txet"$'\342\201\246\177\b'"\$(touch pwned)\`touch pwned\`;z"
# harmless FILE WHAT: no control character but newline, no C1, no bidirectional control
harmless() {
  checks=$((checks + 1))
  [ -s "$1" ] || fail "$2: nothing to look at"
  LC_ALL=C grep -qP '[\x00-\x09\x0b-\x1f\x7f]|\xc2[\x80-\x9f]|\xe2\x80[\x8e\x8f\xa8-\xae]|\xe2\x81[\xa6-\xa9]' "$1" &&
    fail "$2: a control character came through"
  LC_ALL=C grep -qaP '[\x80-\xff]' "$1" && ! iconv -f UTF-8 -t UTF-8 "$1" >/dev/null 2>&1 &&
    fail "$2: other bytes than UTF-8 came through"
  [ ! -e pwned ] || fail "$2: a shell ran it"
}

# Texts on the command line, and a file name.
"$oxylag" demo -y --plain --virtual-time --runs 1 --order "$evil" --note "$evil" --inlet "$evil" \
  --technician "$evil" --out "$evil" >plain.out 2>plain.err || fail "evil texts: $(cat plain.err)"
harmless plain.out "plain lines"
mv -- "$evil" evil.rec
harmless evil.rec "the recording"
"$oxylag" report evil.rec >page.txt && harmless page.txt "report as text"
"$oxylag" report -f json evil.rec >page.json && harmless page.json "report as JSON"
jq -e --arg evil "$evil" '.header.order == $evil' page.json >/dev/null ||
  fail "the text itself is not kept whole in JSON"
cp evil.rec "$evil"
"$oxylag" report "$evil" >page.txt && harmless page.txt "report on an evil name"
head -c -3 "$evil" >"cut$evil"
"$oxylag" replay "cut$evil" --virtual-time >replay.out 2>replay.err
harmless replay.out "replay of an evil name"
harmless replay.err "replay's words on an evil name"
"$oxylag" replay "not$evil" >/dev/null 2>name.err
harmless name.err "an evil name that is not there"
"$oxylag" "$evil" >/dev/null 2>word.err
harmless word.err "an evil command"
"$oxylag" demo --profile "./$evil.ini" -y >/dev/null 2>word.err
harmless word.err "an evil profile name"
printf '[profile]\ntitle = %s\n[%s]\n' "$evil" "$evil" >evil.ini
"$oxylag" profiles ./evil.ini >/dev/null 2>word.err
harmless word.err "an evil profile"

# Characters that are not seen, or that a spreadsheet computes: in none of the outputs, whole in JSON.
hidden=$'a\363\240\201\241\357\270\217\342\200\213\357\273\277\302\255\315\217\343\205\244b' # tag, selector, width, BOM..
unseen='\xf3\xa0[\x80-\xbf]|\xef\xb8[\x80-\x8f]|\xe2\x80[\x8b-\x8f]|\xef\xbb\xbf|\xc2\xad|\xcd\x8f|\xe3\x85\xa4'
"$oxylag" demo -y --plain --virtual-time --runs 1 --order "$hidden" --note "$hidden" \
  --technician "$hidden" --inlet "$hidden" --out hidden.rec >/dev/null
for format in text json html csv pdf; do
  cp hidden.rec "=$hidden.rec"
  "$oxylag" report -f $format "=$hidden.rec" --out "hid.$format" --quiet || fail "no $format"
  checks=$((checks + 1))
  [ $format = pdf ] || ! LC_ALL=C grep -qaP "$unseen" "hid.$format" ||
    fail "$format: a character that is not seen came through"
  rm -f "=$hidden.rec"
done
jq -e --arg hidden "$hidden" '.header.order == $hidden and .recording == "=\($hidden).rec"' hid.json \
  >/dev/null || fail "the hidden text is not kept whole in JSON"
checks=$((checks + 2))
[ "$(sed -n 2p hid.csv | cut -d, -f8 | cut -c1-2)" = "'=" ] ||
  fail "a spreadsheet would compute the name: $(sed -n 2p hid.csv)"
for name in '+1.rec' '-1.rec' '@a.rec' $'\t=a.rec'; do
  cp hidden.rec "./$name"
  "$oxylag" report -f csv --quiet -- "$name" | sed -n 2p | cut -d, -f8 | saw "^\"\?'" ||
    fail "a spreadsheet would compute the name \"$name\""
done

# A recording that somebody made up: the adapter's banner, a reply, a note.
{
  head -1 evil.rec
  printf '{"t":0,"port":"up"}\n'
  printf '{"t":1000,"note":"\\u001b[2J\\u009b31m\\u202eevil\\n\\u0007"}\n'
  printf '{"t":100000,"rx":"\\u001b]0;x\\u0007ADAPTER \\u009b2J\\u00E2\\u0080\\u00AE v1\\r\\r>"}\n'
  for i in 1 2 3 4 5 6 7 8; do
    printf '{"t":%d00000,"rx":"\\u001b[31mOK\\u009b\\r\\r>"}\n' $((i + 1))
  done
  printf '{"t":2000000,"key":"a"}\n'
} >made.rec
"$oxylag" replay made.rec --virtual-time >made.out 2>made.err
harmless made.out "replay of a made-up recording"
grep -q 'mark: .*evil' made.out || fail "the note did not arrive"
"$oxylag" replay made.rec --virtual-time --json --samples >made.json 2>made.err
harmless made.json "its events"
"$oxylag" report made.rec >made.txt 2>made.err
harmless made.txt "its report"
jq -e . made.json >/dev/null || fail "its events are no JSON"

# Adapter over TCP that sends escapes instead of a banner: screen lines of a live test.
if command -v socat >/dev/null; then
  socat TCP-LISTEN:0,bind=127.0.0.1,reuseaddr,fork \
    SYSTEM:"while read -r l; do printf '\\033[2J\\302\\233H\\033]0;x\\a EVIL v1\\r\\r>'; done" 2>socat.err &
  cleanup_pids+=($!)
  sleep 0.3
  port=$(ss -ltnpH 2>/dev/null | awk -v p="pid=$!," '$0 ~ p { sub(/.*:/, "", $4); print $4 }' | head -1)
  if [ -n "$port" ]; then
    timeout 8 "$oxylag" run --port "tcp:127.0.0.1:$port" -y --plain --out tcp.rec >tcp.out 2>tcp.err
    cat tcp.out tcp.err >tcp.all
    harmless tcp.all "a live adapter that sends escapes"
    harmless tcp.rec "its recording"
  fi
fi

# Files: new, for the owner alone, through no link, over nothing.
umask 000
"$oxylag" demo -y --plain --virtual-time --runs 1 --out mode.rec --truth mode.truth >/dev/null
"$oxylag" report mode.rec --out mode.txt
for f in mode.rec mode.truth mode.txt; do
  checks=$((checks + 1))
  [ "$(stat -c %a $f)" = 600 ] || fail "$f has mode $(stat -c %a $f), expected 600"
done
echo precious >precious
for what in precious dangling to-precious; do
  case $what in
  precious) target=precious ;;
  dangling) ln -s nothing-there target.link && target=target.link ;;
  to-precious) ln -sf precious target.link && target=target.link ;;
  esac
  refuse 2 "$target" "$oxylag" demo -y --plain --virtual-time --out "$target"
  refuse 2 "$target" "$oxylag" demo -y --plain --virtual-time --truth "$target"
  refuse 2 "$target" "$oxylag" report mode.rec --out "$target"
  refuse 2 "$target" "$oxylag" simulate --listen pty --seconds 1 --truth "$target"
  [ "$(cat precious)" = precious ] && [ ! -e nothing-there ] || fail "$what: something was written"
done
: >empty && ln -sf empty target.link
refuse 2 'link' "$oxylag" demo -y --plain --virtual-time --out target.link
long=$(printf 'x%.0s' $(seq 600))
refuse 2 'too long' "$oxylag" demo -y --plain --virtual-time --out "$long"

# Only `simulate` listens, where it was told to; beyond this machine it says so.
listeners() { ss -ltnpH 2>/dev/null | grep -c "pid=$1,"; }
"$oxylag" demo -y --plain --rate 1 --out ears.rec >/dev/null 2>&1 &
pid=$!
sleep 0.4
checks=$((checks + 1))
[ "$(listeners $pid)" = 0 ] || fail "demo listens on a network port"
kill $pid
wait $pid
for host in 127.0.0.1 '[::1]' 0.0.0.0; do
  "$oxylag" simulate --listen "tcp:$host:0" --seconds 1 >ear.name 2>ear.err || {
    [ "$host" = '[::1]' ] && continue # a machine without IPv6
    fail "simulate on $host: $(cat ear.err)"
  }
  checks=$((checks + 1))
  case $host in
  0.0.0.0) grep -q 'others in the network can reach' ear.err || fail "0.0.0.0: not said" ;;
  *) [ ! -s ear.err ] || fail "$host: $(cat ear.err)" ;;
  esac
done
refuse 2 'names no host' "$oxylag" simulate --listen tcp::0 --seconds 1
done_testing

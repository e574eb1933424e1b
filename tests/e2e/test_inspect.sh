#!/usr/bin/env bash
# inspect: what a technician reads and what a program gets, over simulated ports, TCP and a
# pseudo-terminal; and the exit codes.
. "$(dirname "$0")/lib.sh"

# look SCENARIO [OPTION...]: JSON lines of an inspection.
look() {
  local name=$1
  shift
  timeout 900 "$oxylag" inspect --port "sim:$name" --virtual-time --json "$@" >"$name.json" 2>"$name.err"
}
# holds FILE FILTER: the jq filter over all lines must be true.
holds() {
  checks=$((checks + 1))
  jq -e -s "$2" "$1" >/dev/null 2>jq.err || fail "$1: $2 $(head -1 jq.err)"
}

# A sound vehicle: nothing against the test.
look good
[ $? = 0 ] || fail "good: exit: $(cat good.err)"
holds good.json 'last | .event == "inspection" and .worst == "pass" and .stops == 0 and .front_hz > 5'
holds good.json 'any(.[]; .event == "check" and .id == "monitor-21-80" and .grade == "pass")'
holds good.json 'any(.[]; .event == "monitor" and .monitor_id == "21" and .verdict == "passed"
  and .min == null and .max == 0.75 and .margin > 0 and .margin_pct > 50)'
holds good.json 'any(.[]; .event == "frozen" and .known and .code == null)'
holds good.json '[.[] | select(.event == "unit")] | length == 1 and .[0].name == "ECM-SimulatedUnit"
  and .[0].calibration == ["OXYLAG SIM CAL1"] and .[0].verification == ["0A513D01"]'
holds good.json '[.[] | select(.event == "vehicle")] | .[0].vin == "0XYLAGSM4R0000003"'

# Codes, two units, answers put off.
look codes
holds codes.json 'map(select(.event == "code" and .list == "stored")) | map(.code + "/" + .unit + "/" + .weight)
  == ["P0420/7E8/subject", "P0141/7E8/disturbs", "P0700/7E9/neutral"]'
holds codes.json 'any(.[]; .event == "code" and .list == "pending" and .code == "P0304"
  and .family == "misfire" and .weight == "forbids" and (.next | length) > 10)'
holds codes.json 'any(.[]; .event == "monitor" and .monitor_id == "21" and .verdict == "not run"
  and .value == null and .raw_value == 0)'
holds codes.json 'any(.[]; .event == "frozen" and .code == "P0420" and .values.rpm == 2000
  and .values.coolant_c == 90)'
holds codes.json 'map(select(.event == "check" and (.grade == "caution" or .grade == "stop"))) |
  length > 0 and all(.[]; (.advice | length) > 8 and (.found | length) > 0)'
# Every line is an object with its kind and time.
holds codes.json 'all(.[]; (.event | type) == "string" and (.t_s | type) == "number")'

# A converter that the vehicle condemns, too; the other bank does not count.
look dead
holds dead.json 'any(.[]; .id == "monitor-21-80" and .grade == "caution")'
look two-banks --bank 2
holds two-banks.json 'last.bank == 2 and any(.[]; .id == "sensors-bank-2" and .grade == "pass")'
look misfire
holds misfire.json 'any(.[]; .id == "stored-P0300" and .grade == "stop") and last.worst == "stop"'
look cold
holds cold.json 'any(.[]; .id == "coolant" and .grade == "stop")
  and any(.[]; .id == "closed-loop" and .grade == "stop")'
look speed-density
holds speed-density.json 'any(.[]; .id == "air" and .grade == "caution")'

# K-line: no counts, padded, several messages to an answer, tests of the maker.
# Four of the seven results are the sensors' (service 05), in bytes.
look kline
holds kline.json 'any(.[]; .event == "vehicle" and .protocol == "iso9141" and .vin != null)'
holds kline.json 'map(select(.event == "monitor")) | length == 7 and all(.[]; .scale_id == "00"
  and .verdict == "passed") and any(.[]; .min == null) and any(.[]; .max == null)'
holds kline.json 'last | .front_hz > 1.5 and .front_hz < 5'
holds kline.json 'any(.[]; .id == "codes-permanent" and .grade == "unknown")'

# The number stays hidden: neither asked for nor printed.
look good --mask-vin
holds good.json 'all(.[]; .event != "vehicle" or .vin == null)'
grep -q 0XYLAGSM good.json && fail "--mask-vin: the number is printed"

# The page for people.
checks=$((checks + 1))
timeout 900 "$oxylag" inspect --port sim:codes --virtual-time >page.txt 2>page.err || fail "page: exit $?"
for words in 'SIMULATED' 'P0141' 'Heater circuit, bank 1 sensor 2' 'not run' 'Monitor   ' \
  'TCM-SimulatedGear' 'watch the cautions' 'P0420 was stored at 2000 rpm'; do
  check "page says $words" grep -q -- "$words" page.txt
done
[ "$(awk 'length > 80' page.txt | wc -l)" = 0 ] || fail "the page is wider than 80 columns"

# A short row at a table's end takes no cell of the next table; ECU, not unit.
check "tables stay apart" grep -qxE 'air flow +12.00 g/s' page.txt
check "an ECU is called so" grep -q 'ECU 7E9: TCM-SimulatedGear' page.txt
# A code of which nothing is known: no caution, yet not nothing.
printf '[scenario]\ntitle = Pending\n[ecu]\nfront = wide-current\npending = P1234\n' >odd.ini
timeout 900 "$oxylag" inspect --port sim:./odd.ini --virtual-time >odd.txt 2>odd.err
check "an unknown code is named first" grep -qx 'Look up the unknown trouble code before the test' odd.txt

# Exit codes. An unsuitable vehicle is inspected all the same.
refuse 7 'Bank 1 has no rear sensor' "$oxylag" inspect --port sim:no-rear --virtual-time --json
holds refuse.out 'last.event == "inspection" and last.stops > 0'
refuse 5 'vehicle does not' "$oxylag" inspect --port sim:no-vehicle --virtual-time
[ -s refuse.out ] && fail "no vehicle, but something is printed: $(head -1 refuse.out)"
refuse 5 '[Nn]o adapter' "$oxylag" inspect --port sim:silent-adapter --virtual-time
refuse 4 'nothing listens at 127.0.0.1:1: ' "$oxylag" inspect --port tcp:127.0.0.1:1
refuse 4 'there is no port /dev/ttyNONE9' "$oxylag" inspect --port /dev/ttyNONE9
refuse 2 'virtual-time works only with' "$oxylag" inspect --port /dev/null --virtual-time
refuse 2 'expected a whole number from 1 to 2' "$oxylag" inspect --port sim:good --bank 3
refuse 2 'unknown option' "$oxylag" inspect --port sim:good --runs 3
refuse 2 'no scenario' "$oxylag" inspect --port sim:nonsense

# Recorded and replayed: the same lines from the raw bytes, as JSON and as a page.
# twice NAME EXIT OPTION...: a live inspection and its replay must agree.
twice() {
  local name=twice-$1 want=$2 format
  shift 2
  for format in --json --quiet; do
    rm -f "$name.rec"
    checks=$((checks + 1))
    timeout 900 "$oxylag" inspect "$@" "$format" --out "$name.rec" >"$name.live" 2>"$name.err"
    [ $? = "$want" ] || fail "$name $format: exit, expected $want: $(tail -1 "$name.err")"
    checks=$((checks + 1))
    "$oxylag" replay "$name.rec" "$format" >"$name.again" 2>"$name.err"
    [ $? = "$want" ] || fail "$name $format, replayed: exit, expected $want: $(tail -1 "$name.err")"
    check "$name $format: replay prints the same" cmp "$name.live" "$name.again"
  done
}
for name in good codes kline two-banks speed-density garbage; do
  twice "$name" 0 --port "sim:$name" --virtual-time
  checks=$((checks + 1))
  [ "$(wc -l <"twice-$name.again")" -gt 30 ] || fail "$name: replay prints too little"
done
twice codes 0 --port sim:codes --virtual-time --seed 7 --bank 1 --mask-vin
grep -q 0XYLAGSM twice-codes.rec && fail "--mask-vin: the number is recorded"
twice no-rear 7 --port sim:no-rear --virtual-time
twice no-vehicle 5 --port sim:no-vehicle --virtual-time
"$oxylag" inspect --port sim:codes --virtual-time --out kept.rec >said.txt 2>/dev/null
check "it says where it is recorded" grep -qx 'Recorded in kept.rec. Next: oxylag replay kept.rec' said.txt
"$oxylag" replay kept.rec >again.txt 2>/dev/null
check "it says that the events agree" grep -q 'the same as the live run: [0-9]* events identical' again.txt
check "the raw bytes are what counts" jq -e -s 'any(.[]; .rx) and (.[0].inspection == true)' kept.rec
# Nothing is taken from the recorded events: other ones change no line, and are noticed.
sed '/"event"/s/P0420/P0421/g' kept.rec >other.rec
"$oxylag" replay kept.rec --quiet >kept.txt 2>/dev/null
"$oxylag" replay other.rec >other.txt 2>other.err
check "other events, the same page" cmp kept.txt other.txt
check "other events are noticed" grep -qE '[1-9][0-9]* of [0-9]+ events differ from the live run' other.err
# Its page, as text, HTML and PDF: the same words.
"$oxylag" report kept.rec >page.txt 2>/dev/null
check "report gives the page that replay prints" cmp kept.txt page.txt
"$oxylag" report kept.rec --format html --out page.html
"$oxylag" report kept.rec --format pdf --out page.pdf
checks=$((checks + 2))
grep -q '<h1>The test can be done: watch the cautions below</h1>' page.html || fail "the HTML has no verdict"
grep -q 'stored P0141: Heater circuit, bank 1 sensor 2' page.html || fail "the HTML lacks a line"
if command -v pdftotext >/dev/null; then
  check "one printed page" test "$(pdfinfo page.pdf | sed -n 's/^Pages: *//p')" = 1
  pdftotext -layout page.pdf page.pdf.txt
  grep -q 'The test can be done' page.pdf.txt || fail "the PDF has no verdict"
fi
checks=$((checks + 1))
grep -qE 'o2_(sensor|heater)|ready|codes-|unit-' page.txt && fail "the page shows the program's own ids"
# What it is not, and where it may not go.
refuse 3 'kept.rec is an inspection and holds no test' "$oxylag" report kept.rec kept.rec
refuse 3 'kept.rec is an inspection' "$oxylag" report --format json kept.rec
refuse 2 'is an inspection: there is no run to ask about' "$oxylag" replay kept.rec --quiz
head -n 60 kept.rec >torn.rec
refuse 6 'the recording ends before the inspection does' "$oxylag" replay torn.rec
cp kept.rec before.rec
refuse 2 'exists already and is never overwritten' "$oxylag" inspect --port sim:good --virtual-time --out kept.rec
check "an existing file is left alone" cmp kept.rec before.rec
refuse 2 'cannot be recorded to' "$oxylag" inspect --port sim:good --virtual-time --out none/x.rec
[ -s refuse.out ] && fail "refused, but something is printed: $(head -1 refuse.out)"
sed '1s/"inspection":true/"inspection":1/' kept.rec >bad.rec
refuse 3 'line 1: "inspection" should be true or false' "$oxylag" replay bad.rec
sed '1s/"port":"[^"]*"/"port":"\\u001b[2Jsim"/' kept.rec >evil.rec
"$oxylag" replay evil.rec --quiet >evil.txt 2>/dev/null
checks=$((checks + 1))
[ -s evil.txt ] && ! grep -q $'\x1b' evil.txt || fail "a recorded port steers the terminal"
refuse 2 'recording stopped early' "$oxylag" inspect --port sim:good --virtual-time --out /dev/full

# The same over a served port, in real time: pseudo-terminal and TCP.
for where in pty tcp:127.0.0.1:0; do
  "$oxylag" simulate --listen "$where" --scenario codes --seconds 200 >port.name 2>/dev/null &
  cleanup_pids+=($!)
  for _ in $(seq 600); do [ -s port.name ] && break; sleep 0.1; done
  checks=$((checks + 1))
  rm -f served.rec
  timeout 900 "$oxylag" inspect --port "$(head -1 port.name)" --json --out served.rec \
    >served.json 2>served.err || fail "$where: exit $?: $(tail -1 served.err)"
  "$oxylag" replay served.rec --json >again.json 2>/dev/null
  check "$where: replay prints the same" cmp served.json again.json
  holds served.json 'map(select(.event == "code")) | length == 6'
  holds served.json 'any(.[]; .event == "frozen" and .code == "P0420")'
  rm -f port.name
done

# What the test itself shows of the catalyst monitor, where that costs next to nothing: the first
# sample still comes within 2 s beyond the adapter's own reset (0.6 s here).
checks=$((checks + 1))
"$oxylag" run --port sim:dead -y --virtual-time --json --samples --out dead.rec >dead.events 2>/dev/null
holds dead.events 'any(.[]; .event == "check" and .id == "catalyst-monitor" and .grade == "caution")'
holds dead.events '(map(select(.event == "sample")) | first | .t_s) < 2.6'
"$oxylag" report dead.rec >dead.txt
check "the report lists the monitor results" grep -q 'failed  *Catalyst, bank 1' dead.txt

# Another ECU's trouble code counts as much, in the test as in the inspection.
printf '[ecu]\nstored = P0420\nsecond_ecu = yes\nsecond_stored = P0302\n[plant]\ncapacity_mg = 500\n' >two.ini
checks=$((checks + 1))
"$oxylag" inspect --port sim:./two.ini --virtual-time --json >two.json 2>/dev/null
holds two.json 'any(.[]; .event == "check" and .id == "stored-P0302" and .grade == "stop")'
"$oxylag" demo --scenario ./two.ini -y --virtual-time --json >two.events 2>/dev/null
holds two.events 'any(.[]; .event == "check" and .id == "codes-stored" and .grade == "stop"
  and (.found | contains("P0420 P0302")))'

# Without CAN it asks for the sensors' results for about a second; what failed is a caution.
printf '[unit]\nfront = switching\nstored = P0133 P0137\nmulti_item = no\n[adapter]\nprotocol = 3\n[plant]\ncapacity_mg = 500\n' >slow.ini
checks=$((checks + 1))
"$oxylag" demo --scenario ./slow.ini -y --virtual-time --json --out slow.rec >slow.events 2>/dev/null
for id in front rear; do
  holds slow.events "any(.[]; .event == \"check\" and .id == \"$id-monitor\" and .grade == \"caution\")"
done
holds slow.events '[.[] | select(.event == "vehicle")] | last.monitor_results | length == 4'
# A scenario of one's own is a file here as in run and demo.
"$oxylag" inspect --port sim:./slow.ini --virtual-time --json >slow.json 2>slow.err
check "inspect takes a scenario file: $(cat slow.err)" test -s slow.json
holds slow.json 'any(.[]; .event == "code" and .list == "stored" and .code == "P0137")'
"$oxylag" run --port sim:kline -y --virtual-time --json --runs 1 --out kline.rec >kline.events 2>/dev/null
holds kline.events 'all(.[]; .event != "check" or (.id | test("front-monitor|rear-monitor") | not))
  and ([.[] | select(.event == "vehicle")] | last.monitor_results | length == 4)'
holds kline.events 'map(select(.event == "link")) | (map(select(.state == "ready")) | first | .t_s)
  - (map(select(.state == "survey")) | first | .t_s) < 3.5'
done_testing

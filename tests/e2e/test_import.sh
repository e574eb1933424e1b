#!/usr/bin/env bash
# import through the real binary: a table made by hand whose result is known by arithmetic, the same
# table in other spellings, its replay, its report, and refusals.
. "$(dirname "$0")/lib.sh"

# Baseline to 15 s, gas until the trims have moved by -20 %, release at 30 s, rear-lean at REAR s.
# After the release the trims come back by 1 % a second, and the front shows the lambda that follows
# from them: 1 - 1/lambda = S / (1 + T0) (closed form, docs/method.md), T0 = 2 %, air 3 g/s.
cat >table.awk <<'AWK'
BEGIN {
  printf "t%sfront%srear%sst%slt%smaf%sn\n", s, s, s, s, s, s
  for (k = 0; (t = k * 0.100 + 0.013 * ((k * 7) % 5)) <= 60; k++) {
    S = t < 15 || t >= 50 ? 0 : t < 25 ? 0.02 * (t - 15) : t < 30 ? 0.20 : 0.20 - 0.01 * (t - 30)
    lambda = t >= 15 && t < 25 ? 0.94 : t >= 30 && t < 50 ? 1 / (1 - S / 1.02) : 1
    v = t < 16 || t >= rear + 18 ? 0.700 : t < rear ? 0.850 : 0.050
    line = sprintf("%.3f%s%.4f%s%.3f%s%.3f%s%.2f%s%.2f%s%d", \
      t * tk, s, lambda, s, v * vk, s, -100 * S * pk, s, 2 * pk, s, 3, s, 750 + k % 3)
    if (comma) gsub(/\./, ",", line)
    print line
  }
}
AWK
table() { # REAR SEPARATOR TIME-FACTOR VOLT-FACTOR TRIM-FACTOR DECIMAL-COMMA
  awk -v rear="$1" -v s="$2" -v tk="$3" -v vk="$4" -v pk="$5" -v comma="$6" -f table.awk
}
columns=time=t,front=front:lambda,rear=rear,stft=st,ltft=lt,air=maf,rpm=n

table 34 , 1 1 1 0 >plain.csv
check "plain table" "$oxylag" import plain.csv --columns "$columns" --json --out plain.rec
cp check.out plain.events
run() { jq -s "map(select(.event == \"run\"))[0] | $1" "$2"; }
expect() { # WHAT FILTER FILE: the filter must be true
  checks=$((checks + 1))
  [ "$(run "$2" "$3")" = true ] || fail "$1: $(run '{delay_s, delay_low_s, delay_high_s, shift_pct,
    air_g_s, o2_from_lambda_mg, path_s, reasons}' "$3")"
}
# 34 - 30 = 4 s; the rows are 0.126 s apart, and no interval may be narrower than that.
expect "delay holds 4 s" '.valid and .delay_low_s <= 4 and .delay_high_s >= 4' plain.events
expect "delay is near 4 s" '.delay_s > 3.87 and .delay_s < 4.13' plain.events
expect "no figure finer than the step" '.delay_high_s - .delay_low_s > 0.12' plain.events
expect "depth" '(.shift_pct + 20 | fabs) < 0.2' plain.events
expect "air" '(.air_g_s - 3 | fabs) < 0.01' plain.events
# M = w air integral of S/(1+T0), w = 0.2314/1.008 (dry air, 8 g/kg humidity), from 30 s to rear-lean
# less the path time: S falls from 0.20 by 0.01 a second.
expect "oxygen by arithmetic" '(4 - .path_s) as $d
  | (1000 * 0.2314 / 1.008 * 3 * (0.20 * $d - 0.005 * $d * $d) / 1.02) as $want
  | (.o2_from_lambda_mg / $want - 1 | fabs) < 0.03' plain.events
expect "said to be imported" 'true' plain.events
checks=$((checks + 1))
jq -es 'map(select(.event == "result"))[0].reasons | index("imported")' plain.events >/dev/null ||
  fail "the result does not say that it was imported"

# The same table in other spellings gives the same result.
like() { # NAME COLUMNS
  check "$1 table" "$oxylag" import "$1.csv" --columns "$2" --json --out "$1.rec"
  cp check.out "$1.events"
  expect "$1: same delay" '(.delay_s - 4 | fabs) < 0.13 and .valid' "$1.events"
  expect "$1: same oxygen" "(.o2_from_lambda_mg - $(run .o2_from_lambda_mg plain.events) | fabs) < 2" \
    "$1.events"
}
table 34 ';' 1000 1000 0.01 1 >german.csv
like german 'time=t:ms,front=front:lambda,rear=rear:mv,stft=st:frac,ltft=lt:frac,air=maf,rpm=n'
table 34 $'\t' 1 1 1 0 | awk -F'\t' -v OFS='\t' 'NR > 1 {
  ms = int($1 * 1000 + 0.5) + 86399000 - 20000; ms %= 86400000
  $1 = sprintf("%02d:%02d:%02d.%03d", ms / 3600000, ms / 60000 % 60, ms / 1000 % 60, ms % 1000)
} { print }' >clock.csv
like clock "$columns"
# A tenth of the cells empty, and a column too few in some rows.
awk -F, -v OFS=, 'NR > 1 && NR % 10 == 3 { $4 = "" } NR > 1 && NR % 10 == 7 { $6 = "n/a" }
  NR % 50 == 9 { NF = 6 } { print }' plain.csv >holes.csv
like holes "$columns"

# Exports of other programs, as python's csv, datetime and codecs write them: every row's time and the
# result stay what they were. Spreadsheets count days from 1899-12-30.
cat >exports.py <<'PY'
import csv, datetime as d, sys
way, rows = sys.argv[1], list(csv.reader(open("plain.csv")))
start = d.datetime(2024, 5, 1, 23, 59, 40, tzinfo=d.timezone(d.timedelta(hours=5, minutes=30)))
days = d.datetime(1899, 12, 30, tzinfo=start.tzinfo)
times = {
    "iso": lambda t: t.astimezone(d.timezone.utc).strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
    "offset": lambda t: t.isoformat(),
    "ampm": lambda t: t.strftime("%m/%d/%Y %I:%M:%S.%f %p"),
    "minutes": lambda t: t.strftime("%M:%S.%f"),
    "colons": lambda t: t.strftime("%H:%M:%S:") + "%03d" % (t.microsecond // 1000),
    "days": lambda t: "%.11f" % ((t - days) / d.timedelta(days=1)),
}
for row in rows[1:]:
    row[0] = times.get(way, times["iso"])(start + d.timedelta(seconds=float(row[0])))
    if way == "units":
        row[2:] = [row[2] + " V", row[3] + " %", row[4] + "%", row[5] + " g/s", row[6] + " rpm"]
if way == "case":
    rows[0] = [name.upper() for name in rows[0]]
rows += [["End of export"]] if way == "closing" else []
with open(way + ".csv", "w", newline="", encoding=way if way.startswith("utf") else "ascii") as out:
    if way == "utf_16_be":
        out.write("\ufeff")
    csv.writer(out, quoting=csv.QUOTE_ALL if way == "iso" else csv.QUOTE_MINIMAL).writerows(rows)
PY
samples() { jq -r 'select(.samples) | [.t_us] + .samples | @tsv' "$1"; }
samples plain.rec >plain.samples
for way in iso offset ampm minutes colons days units case closing utf_16 utf_16_be; do
  python3 exports.py "$way"
  like "$way" "${columns/time=t/time=t$([ "$way" = days ] && echo :day)}"
  samples "$way.rec" | paste plain.samples - >both.samples
  check "$way: each row as it was, to 2 us" awk -F'\t' 'NF != 14 || $8 - $1 > 2 || $1 - $8 > 2 { exit 1 }
    { for (i = 2; i < 8; i++) if ($i != $(i + 7)) exit 1 } END { if (NR < 500) exit 1 }' both.samples
done
python3 exports.py days
refuse 3 'add :day' "$oxylag" import days.csv --columns "$columns"
refuse 2 'time: unit "hours" is not known' "$oxylag" import plain.csv --columns "${columns/time=t/time=t:hours}"

# A rear that never goes lean is held, not bad; a table without a test has no result.
table 99 , 1 1 1 0 >held.csv
check "held table" "$oxylag" import held.csv --columns "$columns" --json --out held.rec
cp check.out held.events
expect "held" '.dropped == false and .delay_s == null and .delay_low_s > 15' held.events
head -150 plain.csv >short.csv
refuse 6 'No test was found in the table' "$oxylag" import short.csv \
  --columns "${columns/stft=st/stft=st:pct}" --out short.rec

# Replay gives the same events; the report says what it is; the recording is refused a second time.
checks=$((checks + 1))
"$oxylag" replay plain.rec --virtual-time --json >replay.events 2>replay.err || fail "replay: $(cat replay.err)"
cmp -s plain.events replay.events || fail "the replay of an import differs"
[ -s replay.err ] && fail "replay complains: $(cat replay.err)"
check "report" "$oxylag" report plain.rec
for words in 'IMPORTED' 'not timed by this program' "$(sha256sum plain.csv | cut -d' ' -f1)"; do
  checks=$((checks + 1))
  tr '\n' ' ' <check.out | tr -s ' ' | saw "$words" || fail "the report lacks \"$words\""
done
check "html" "$oxylag" report plain.rec -f html -O plain.html
check "html: imported" grep -q 'IMPORTED - table.*plain.csv.*not timed by this program' plain.html
check "pdf" "$oxylag" report plain.rec -f pdf -O plain.pdf
pdftotext -layout plain.pdf plain.txt
check "pdf: imported" grep -q 'IMPORTED - table' plain.txt
refuse 2 'never overwritten|exists' "$oxylag" import plain.csv --columns "$columns" --out plain.rec

# Interpolated to 20 ms (as lines between the rows): recognised, and no time claimed.
awk -F, 'NR == 1 { print; next } { for (i = 1; i <= 7; i++) b[i] = $i
  if (NR > 2) while (g <= b[1] + 1e-9) {
    p = (g - a[1]) / (b[1] - a[1]); printf "%.2f", g
    for (i = 2; i <= 7; i++) printf ",%.5f", a[i] + p * (b[i] - a[i])
    print ""; g += 0.02
  }
  for (i = 1; i <= 7; i++) a[i] = b[i] }' plain.csv >even.csv
check "interpolated table" "$oxylag" import even.csv --columns "$columns" --json --out even.rec
cp check.out even.events
expect "no time from interpolation" '.valid == false and .delay_s == null and .delay_low_s == null
  and .delay_at_target_s == null and (.reasons | index("resampled")) != null' even.events
checks=$((checks + 1))
[ "$(jq -rs 'map(select(.event == "result"))[0].verdict' even.events)" = inconclusive ] ||
  fail "an interpolated table gave a verdict"

# A simulated test as another program would have written it down, one row a reply: without any cue the
# first pulse is found, and the interval holds what the simulator knows to be true.
cat >pivot.awk <<'AWK'
BEGIN { FS = "\t"; print "t,front,rear,st,lt,maf,n" }
{ t = sprintf("%.3f", $1)
  if (NR > 1 && t != last) {
    print last "," v["f"] "," v["r"] "," v["s"] "," v["l"] "," v["a"] "," v["n"]; split("", v) }
  last = t; k = $2
  if (k == "lambda_b1s1" || k == "o2_b1s1_v") v["f"] = $3; else if (k == "o2_b1s2_v") v["r"] = $3
  else if (k == "stft_b1_pct") v["s"] = $3; else if (k == "ltft_b1_pct") v["l"] = $3
  else if (k == "air_g_s") v["a"] = $3; else if (k == "rpm") v["n"] = $3 }
AWK
# Over K-line, where three samples a second are all there is, a release may go unseen: that is told, and
# never a wrong figure (seed 1; of seeds 1 to 6 the only one).
for s in aged:lambda:1 switching-front:v:1 kline:v:2 kline:v:3 kline:v:4 dead:lambda:1; do
  name=${s%%:*} unit=${s#*:}
  seed=${unit#*:} unit=${unit%:*}
  rm -f "$name".*
  "$oxylag" demo --scenario "$name" --seed "$seed" -y --virtual-time --runs 2 --json --samples \
    --truth "$name.truth" >"$name.ev" 2>/dev/null
  jq -r 'select(.event == "sample") | [.recv_s, .channel, .value] | @tsv' "$name.ev" |
    awk -f pivot.awk >"$name.csv"
  check "$name as a table" "$oxylag" import "$name.csv" --json --out "$name.imp" --columns \
    "time=t,front=front:$unit,rear=rear,stft=st,ltft=lt,air=maf,rpm=n"
  cp check.out "$name.imported"
  truth=$(jq -s 'map(select(.pulse != null))[0].delay_s' "$name.truth")
  expect "$name: the interval holds the truth, $truth s" \
    ".valid and .delay_low_s <= $truth and .delay_high_s >= $truth" "$name.imported"
  live=$(jq -s 'map(select(.event == "run"))[0].delay_s' "$name.ev")
  # The table has the replies' moments to a millisecond only: next to nothing beside the interval.
  expect "$name: near the live result, $live s" \
    "(.delay_s - $live | fabs) < ([0.05, 0.1 * (.delay_high_s - .delay_low_s)] | max)" "$name.imported"
done

# Refusals name the line and the column.
refuse 2 'needs --columns' "$oxylag" import plain.csv
refuse 2 'needs a table' "$oxylag" import --columns "$columns"
refuse 2 'stft=NAME is missing' "$oxylag" import plain.csv --columns time=t,front=front,rear=rear
refuse 3 'no column "o2" for rear' "$oxylag" import plain.csv --columns time=t,front=front:lambda,rear=o2,stft=st
refuse 2 'expected WHAT=NAME' "$oxylag" import plain.csv --columns "$columns",bank=2
sed '2s/0.700/700/' plain.csv >volts.csv
refuse 3 'line 2, column "rear": found "700".*:mv' "$oxylag" import volts.csv --columns "$columns"
sed '100s/^[^,]*/oops/' plain.csv >oops.csv
refuse 3 'oops.csv line 100, column "t": found "oops"' "$oxylag" import oops.csv --columns "$columns"
refuse 3 'nothere.csv' "$oxylag" import nothere.csv --columns "$columns"
refuse 2 '--separator' "$oxylag" import plain.csv --columns "$columns" --separator dots
done_testing

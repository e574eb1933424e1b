#!/usr/bin/env bash
# The printed page, judged by programs that are not ours: poppler reads the PDF, xmllint the HTML,
# headless Chromium shows and prints it, jq and Python's csv module read the exports.
. "$(dirname "$0")/lib.sh"
for tool in pdftotext pdfinfo pdffonts xmllint jq python3; do
  command -v "$tool" >/dev/null || {
    echo "no $tool here: skipped"
    exit 77
  }
done

hostile=$'<script>alert(1)</script> & "q" \'s\' \x1b[31m </title><img src=x onerror=alert(1)>'
demo() { # NAME SCENARIO options...
  local name=$1 scenario=$2
  shift 2
  timeout 900 "$oxylag" demo --scenario "$scenario" -y --plain --virtual-time --out "$name.rec" \
    "$@" >/dev/null 2>&1
}
demo aged aged --runs 3 --order "RO 4711" --technician "bay 3" --inlet "after the air meter"
demo before dead --runs 3 --order "RO 4711"
demo after good --runs 3 --order "RO 4711"
demo silent no-vehicle
demo twelve switching-front --runs 12
demo bank1 two-banks --bank 1
demo bank2 two-banks --bank 2
demo hostile unplugged --order "$hostile" --note "$hostile" --technician "${hostile:0:63}" --inlet "$hostile"

text_of() { pdftotext -layout "$1" - | tr -s ' \n' ' '; }
one_page() { [ "$(pdfinfo "$1" | awk '/^Pages:/ { print $2 }')" = 1 ]; }
size() { [ "$(pdfinfo "$1" | awk '/^Page size:/ { print $3 "x" $5 }')" = "$2" ]; }
embedded() { # every font: column emb says yes, and there is at least one
  pdffonts "$1" | awk 'NR > 2 { n++; if ($(NF - 4) != "yes") bad++ } END { exit !(n > 0 && !bad) }'
}
find_in() { text_of "$1" | saw -F -- "$2"; }
# But for what the vehicle's own monitor says of itself.
condemns_nothing() { ! text_of "$1" | sed 's/failed Catalyst, bank//' | saw -i fail; }

for name in aged silent twelve hostile; do
  papers=a4
  [ $name = aged ] && papers="a4 letter"
  for paper in $papers; do
    check "$name $paper: pdf" "$oxylag" report "$name.rec" -f pdf --paper $paper -O "$name-$paper.pdf"
    check "$name $paper: one page" one_page "$name-$paper.pdf"
    check "$name $paper: fonts are embedded" embedded "$name-$paper.pdf"
  done
  check "$name: a4" size "$name-a4.pdf" 595.28x841.89
  check "$name: html" "$oxylag" report "$name.rec" -f html -O "$name.html"
  check "$name: well-formed" xmllint --noout --nonet "$name.html"
  check "$name: simulated is said" find_in "$name-a4.pdf" "SIMULATED"
  check "$name: no part is condemned" condemns_nothing "$name-a4.pdf"
done
check "letter" size aged-letter.pdf 612x792
check "two tests: pdf" "$oxylag" report before.rec after.rec -f pdf -O pair.pdf
check "two tests: one page" one_page pair.pdf
check "two tests: html" "$oxylag" report before.rec after.rec -f html -O pair.html
check "two tests: well-formed" xmllint --noout --nonet pair.html
check "two banks: pdf" "$oxylag" report bank1.rec bank2.rec -f pdf -O banks.pdf
check "two banks: one page" one_page banks.pdf

# What must be found, with the figures of the JSON report.
"$oxylag" report aged.rec -f json >aged.json
sha=$(sha256sum aged.rec | cut -d' ' -f1)
delay=$(jq -r '.result.delay_at_target_s | . * 100 | round / 100' aged.json)
for words in "RO 4711" "bay 3" "after the air meter" "Converter oxygen storage: QUESTIONABLE" "Delay at target" \
  "$(printf '%.2f s' "$delay")" "stored P0420" "coolant 88 C" "common practice" "Verify locally" \
  "no emission test" "aged.rec" "$sha" "Technician, date" "Customer, date" "rear, V" "total trim" \
  "Repeat when fully hot"; do
  check "aged: \"$words\" in the pdf" find_in aged-a4.pdf "$words"
done
check "silent: said" find_in silent-a4.pdf "No verdict: the test was not finished"
check "silent: unknown is said" find_in silent-a4.pdf "stored not known"
check "two tests: said" find_in pair.pdf "MORE THAN BEFORE"
check "two tests: both recordings" find_in pair.pdf "$(sha256sum before.rec | cut -d' ' -f1)"
check "two banks: not mixed" find_in banks.pdf "They are of different banks."
check "hostile: stands as text" find_in hostile-a4.pdf "<script>alert(1)</script>"
check "hostile: a run that does not count" find_in hostile-a4.pdf "not counted"

# No script, no event handler, nothing fetched.
no_script() { ! xmllint --nonet --xpath '//*[local-name()="script"] | //@*[starts-with(name(), "on")]
  | //@src | //@href' "$1" 2>/dev/null | saw .; }
for page in aged hostile pair twelve; do check "$page: no script" no_script "$page.html"; done
plots() { [ "$(xmllint --nonet --xpath 'count(//*[@class="plots"]/*)' "$1")" = "$2" ]; }
check "aged: three plots" plots aged.html 3
check "twelve: twelve plots" plots twelve.html 12
check "pair: six plots" plots pair.html 6

# JSON and CSV, read by others. The second is a bound, so the difference is one: 7.39 - 0.31 at least.
"$oxylag" report before.rec after.rec -f json >pair.json
check "jq: two reports and their comparison" jq -e -s 'length == 3 and .[0].format == "oxylag-report"
  and .[2].format == "oxylag-comparison" and .[2].compared
  and .[2].delay_at_target_s.change == "rose" and .[2].unlike == []
  and .[2].delay_at_target_s.difference == null
  and ((.[1].result.delay_at_target_low_s - .[0].result.delay_at_target_high_s)
    - .[2].delay_at_target_s.low | fabs) < 1e-12' pair.json
"$oxylag" report bank1.rec bank2.rec -f json >banks.json
check "jq: unlike" jq -e -s '.[2] | .compared == false and .unlike == ["bank"]
  and .delay_at_target_s.difference == null' banks.json
cp aged.rec 'a,"b".rec'
"$oxylag" report 'a,"b".rec' before.rec -f csv >both.csv
cat >read.py <<'PY'
import csv, sys
rows = list(csv.DictReader(open("both.csv", newline="")))
names = [r for r in rows[0]]
assert names == ["recv_s", "sent_s", "channel", "value", "unit_address", "state", "run",
                 "recording"], names
assert {r["recording"] for r in rows} == {'a,"b".rec', "before.rec"}
for r in rows:
    assert float(r["sent_s"]) <= float(r["recv_s"])
    assert r["value"] == "" or float(r["value"]) == float(r["value"])
    assert None not in r and int(r["run"]) >= 0
    # No text that a spreadsheet would take for a number: 7E8 is one.
    for text in (r["unit_address"], r["channel"], r["state"]):
        try:
            float(text)
        except ValueError:
            continue
        assert False, text
assert sum(r["channel"] == "o2_b1s2_v" for r in rows) > 1000
PY
check "python reads the csv" python3 read.py

refuse 2 'one page of one recording, or of two' "$oxylag" report aged.rec aged.rec aged.rec -f pdf
refuse 2 '--paper: found "a5"' "$oxylag" report aged.rec -f pdf --paper a5
refuse 3 'missing.rec' "$oxylag" report missing.rec -f html

# Without a single font: one line that says what to do instead, and no torn page.
printf '<?xml version="1.0"?><fontconfig><cachedir>%s</cachedir></fontconfig>' "$work/fontcache" >nofonts.conf
for format in pdf html; do
  FONTCONFIG_FILE=$work/nofonts.conf refuse 70 'no font.*--format text' "$oxylag" report aged.rec -f $format -O nofont.$format
  checks=$((checks + 1))
  [ ! -e nofont.$format ] || fail "no font: a $format is left"
done

# A browser shows it and prints one page. Optional: it is large.
chromium=$(command -v chromium || command -v chromium-browser || command -v google-chrome)
if [ -n "$chromium" ]; then
  browse() {
    timeout 900 "$chromium" --no-sandbox --headless --disable-gpu --disable-quic --no-first-run \
      --disable-background-networking --disable-component-update --disable-sync \
      --user-data-dir="$work/browser" "$@" 2>/dev/null
  }
  pages="aged hostile"
  ! long || pages="aged hostile pair twelve silent"
  for page in $pages; do
    checks=$((checks + 1))
    browse --no-pdf-header-footer --print-to-pdf="$work/$page-print.pdf" "file://$work/$page.html"
    one_page "$page-print.pdf" || fail "$page: the browser prints more than one page"
  done
  checks=$((checks + 1))
  browse --dump-dom "file://$work/hostile.html" >dom.html
  grep -q '&lt;script&gt;alert(1)' dom.html || fail "hostile: not shown as text by the browser"
  grep -qE '<script|<img' dom.html && fail "hostile: became an element in the browser"
else
  echo "no chromium here: not looked at in a browser"
fi
done_testing

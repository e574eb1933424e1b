# Sourced by the tests of outputs and links that stop taking or giving. shellcheck shell=bash
# What is promised; a sanitizer looks for leaks before it lets a program end.
limit_ms=500
[ -z "${OXL_TEST_SANITIZED:-}" ] || limit_ms=2000
now_ms() { date +%s%3N; }
# until_in FILE PATTERN SECONDS
until_in() {
  local i
  for i in $(seq $(($3 * 20))); do
    grep -qE -- "$2" "$1" 2>/dev/null && return 0
    sleep 0.05
  done
  fail "never saw $2 in $1"
  return 1
}
# grows FILE SECONDS WHAT: the recording gets longer in each half second of that time
grows() {
  local i before after
  checks=$((checks + 1))
  for i in $(seq $(($2 * 2))); do
    before=$(stat -c %s "$1")
    sleep 0.5
    after=$(stat -c %s "$1")
    [ "$after" -gt "$before" ] || fail "$3: $1 stands still at $after bytes"
  done
}
# ends PID SIGNAL WHAT RECORDING: within half a second, with an orderly end on record
ends() {
  local start took
  checks=$((checks + 2))
  start=$(now_ms)
  kill -s "$2" "$1"
  while kill -0 "$1" 2>/dev/null && [ $(($(now_ms) - start)) -lt 5000 ]; do sleep 0.01; done
  took=$(($(now_ms) - start))
  echo "$3: SIG$2 ended it in $took ms"
  [ $took -le $limit_ms ] || fail "$3: SIG$2 took $took ms"
  kill -0 "$1" 2>/dev/null && kill -KILL "$1"
  tail -1 "$4" | grep -q '"end"' || fail "$3: no orderly end in $4: $(tail -c 200 "$4")"
}
# plays RECORDING WHAT
plays() {
  checks=$((checks + 1))
  "$oxylag" replay "$1" --virtual-time --json >"$1.again" 2>"$1.err"
  grep -q differ "$1.err" && fail "$2: replay differs: $(cat "$1.err")"
  grep -q 'cut off' "$1.err" && fail "$2: a torn line"
}
# holds_truth RECORDING TRUTH WHAT: there are counted runs with a delay, and each interval holds that of
# a pulse of the simulated vehicle. A millisecond is the truth's own rounding.
holds_truth() {
  checks=$((checks + 1))
  jq -s -c '[.[].event? | select(.event? == "run" and .valid and .dropped) | [.delay_low_s, .delay_high_s]]' \
    "$1" >runs.json
  jq -s -c 'map(select(.delay_s? != null) | .delay_s)' "$2" >truths.json
  jq -e -n --slurpfile r runs.json --slurpfile t truths.json '($r[0] | length) >= 1 and
    all($r[0][]; . as $i | any($t[0][]; . >= $i[0] - 0.001 and . <= $i[1] + 0.001))' >/dev/null ||
    fail "$3: a delay misses the truth: $(cat runs.json truths.json)"
  echo "$3: delays $(cat runs.json), truth $(cat truths.json)"
}
# on_terminal NAME OPTION...: a demo on a terminal of its own; its output in NAME.tty
on_terminal() {
  local name=$1 line
  shift
  coproc HOST { exec "$helpers/tty_host" "$name.tty" "$@" 2>/dev/null; }
  host_pid=$HOST_PID
  host_in=${HOST[1]} host_out=${HOST[0]}
  cleanup_pids+=("$host_pid")
  read -r -t 5 -u "$host_out" line
  pid=${line#pid }
}
tell() { echo "$*" >&"$host_in"; }
# answer: the terminal's next word, in $said
answer() { said=; read -r -t 5 -u "$host_out" said; }
# says WANT WHAT
says() {
  checks=$((checks + 1))
  answer
  [ "$said" = "$1" ] || fail "$2: ${said:-nothing was said}, expected $1"
}
close_terminal() {
  tell quit
  wait "$host_pid" 2>/dev/null
}

# Sourced by the tests of outputs and links that stop taking or giving. shellcheck shell=bash
# Half a second is promised. It is counted in turns of a loop that starts a process and sleeps 10 ms, some
# 13 ms each: on a busy machine they take longer, as the program does, so that nobody is blamed for the
# machine. Twice the promise; a sanitizer looks for leaks before it lets a program end.
most_turns=80
sanitized && most_turns=320
now_ms() { date +%s%3N; }
gone() { ! kill -0 "$1" 2>/dev/null; }
# soon WHAT COMMAND...: COMMAND comes true in time; says how long it took
soon() {
  local what=$1 turns=0 start took
  shift
  checks=$((checks + 1))
  start=$(now_ms)
  until "$@" || [ $turns -ge 2000 ]; do
    sleep 0.01
    turns=$((turns + 1))
  done
  took=$(($(now_ms) - start))
  echo "$what: $took ms"
  [ $turns -le $most_turns ] || fail "$what: took $took ms, $turns turns of $most_turns"
}
# until_in FILE PATTERN SECONDS: they are far away, so that a busy machine fails nothing
until_in() {
  local i
  for i in $(seq $(($3 * 80))); do
    grep -qE -- "$2" "$1" 2>/dev/null && return 0
    sleep 0.05
  done
  fail "never saw $2 in $1"
  return 1
}
# grows FILE SECONDS WHAT: the recording gets longer again and again, in each half second of that time
# when nothing else keeps the machine busy
grows() {
  local i turns before
  checks=$((checks + 1))
  for i in $(seq $(($2 * 2))); do
    before=$(stat -c %s "$1")
    turns=0
    while
      sleep 0.5
      [ "$(stat -c %s "$1")" -le "$before" ]
    do
      grep -q '"event":"result"' "$1" && return # it has been over before this script saw it
      turns=$((turns + 1))
      [ $turns -lt 40 ] || { fail "$3: $1 stands still at $before bytes"; return; }
    done
  done
}
# ends PID SIGNAL WHAT RECORDING: soon, with an orderly end on record
ends() {
  checks=$((checks + 1))
  kill -s "$2" "$1"
  soon "$3: SIG$2 ends it" gone "$1"
  gone "$1" || kill -KILL "$1"
  tail -1 "$4" | saw '"end"' || fail "$3: no orderly end in $4: $(tail -c 200 "$4")"
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
  read -r -t 60 -u "$host_out" line
  pid=${line#pid }
}
tell() { echo "$*" >&"$host_in"; }
# answer: the terminal's next word, in $said
answer() { said=; read -r -t 60 -u "$host_out" said; }
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

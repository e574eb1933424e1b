# Sourced by the tests that make one call of the program fail in turn. shellcheck shell=bash
set -uo pipefail
oxylag=$(realpath "$1")
shim=$(realpath "$2")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
PATH=/usr/bin:$PATH # the tools that tests/run.sh installed, not others of that name
failures=0 cases=0
# saw PATTERN, at the end of a pipe: reads it to its end. `grep -q` does not, and what still writes fails then.
saw() { grep "$@" >/dev/null; }
fail() {
  echo "FAILED: $*"
  failures=$((failures + 1))
}

# The program alone is loaded with the shim, not what starts it.
under() {
  timeout 900 env ${plan:+LD_PRELOAD=$shim OXL_FAULT=$plan OXL_FAULT_COUNT=made} \
    ${counting:+LD_PRELOAD=$shim OXL_FAULT_COUNT=counts} "$oxylag" "$@"
}
plan='' counting=''

# counted COMMAND...: how often each kind of call is made
counted() {
  counting=1
  "$@" >/dev/null 2>&1
  counting=
}
count_of() { awk -v k="$1" '$1 == k { print $2 }' counts; }

# reached KIND N: whether the run just over came to its Nth call. A recording is written five times a
# second by the wall clock, so that how many writes and syncs there are depends on the machine's load.
reached() { [ "$(awk -v k="$1" '$1 == k { print $2 }' made)" -ge "$2" ]; }

# injected PLAN COMMAND...: rc, out and err of the command under the plan
injected() {
  plan=$1
  shift
  cases=$((cases + 1))
  "$@" >out 2>err
  rc=$?
  case $rc in
  0 | 2 | 3 | 4 | 5 | 6 | 7 | 70) ;;
  *) fail "$plan: $*: exit $rc: $(tail -2 err)" ;;
  esac
  [ $rc = 0 ] || grep -q '^oxylag: ' err || fail "$plan: $*: exit $rc without a sentence"
  plan=
}

# steps N: all of 1..N when few, else the first and the last ones and ever larger steps between; fewer
# unless OXL_LONG=1 (tests/run.sh --long). OXL_FAULT_ALL=1 takes every one
few=6 ends=2 pages=3 wider=4
[ -z "${OXL_LONG:-}" ] || few=100 ends=20 pages=40 wider=1.6
steps() {
  seq 1 "$1" | awk -v all="${OXL_FAULT_ALL:-}" -v n="$1" -v few=$few -v ends=$ends -v wider=$wider '
    all || n <= few || $1 <= ends || $1 > n - ends / 2 || $1 >= next_one { print; next_one = $1 * wider }'
}

# many N: of the allocations of a page, of which there are many, some of every stage
many() { { steps "$1"; [ "$1" -lt 10000 ] || seq 1000 $(($1 / pages)) "$1"; } | sort -nu; }

# What may stand there although a call failed; the tests that need another rule have their own.
is_whole() { cmp -s out "$1.sound"; } # COMMAND
is_refused() { [ "$rc" = 70 ]; }        # COMMAND, for want of memory
kinds='alloc open read write fread'

# every COMMAND...: each of its calls fails in turn. Either it is refused, or nothing is missing.
every() {
  local command
  for command in "$@"; do
    $command >"$command.sound" 2>&1 || fail "$command: fails when nothing is injected"
    counted $command
    cp counts counts.now
    for call in $kinds; do
      cp counts.now counts
      n=$(count_of $call)
      [ "$n" -gt 0 ] && echo "$command: $n calls of $call"
      for i in $(many "$n"); do
        injected "$call:$i" $command
        [ $call != alloc ] || [ $rc = 0 ] || is_refused $command || fail "$command alloc:$i: exit $rc: $(cat err)"
        [ $rc != 0 ] || is_whole $command || fail "$command $call:$i: exit 0 but incomplete: $(cat err)"
      done
    done
  done
}

done_injecting() {
  echo "$cases injected faults, $failures failures"
  [ "$cases" -gt 0 ] && [ "$failures" = 0 ]
}

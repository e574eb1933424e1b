# Sourced by the end-to-end tests. shellcheck shell=bash
set -uo pipefail
oxylag=$(realpath "$1")
# shellcheck disable=SC2034 # programs of tests/support, for some
helpers=$(realpath "${2:-.}")
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
cleanup_pids=()
finish() {
  local pid
  for pid in "${cleanup_pids[@]}"; do kill "$pid" 2>/dev/null; done
  rm -rf "$work"
}
trap finish EXIT
cd "$work" || exit 1
PATH=/usr/bin:$PATH # the tools that tests/run.sh installed, not others of that name
# Neither the settings nor the recordings of whoever runs the tests.
export XDG_CONFIG_HOME=$work/config XDG_DATA_HOME=$work/data
failures=0
checks=0

# A default run takes fewer cases of what there are many of; `tests/run.sh --long` takes all.
long() { [ -n "${OXL_LONG:-}" ]; }
sanitized() { [ -n "${OXL_TEST_SANITIZED:-}" ]; }

# saw PATTERN, at the end of a pipe: reads it to its end. `grep -q` does not, and what still writes fails then.
saw() { grep "$@" >/dev/null; }
fail() {
  echo "FAILED: $*"
  failures=$((failures + 1))
}
# begun RECORDING: waits until it has been begun, which under a sanitizer beside other work takes seconds.
begun() {
  local i
  for i in $(seq 1200); do
    [ -s "$1" ] && return 0
    sleep 0.05
  done
  fail "$1 was never begun"
}
# check DESCRIPTION COMMAND...: the command must succeed.
check() {
  local what=$1
  shift
  checks=$((checks + 1))
  "$@" >check.out 2>&1 || {
    fail "$what"
    tail -5 check.out
  }
}
# sim SCENARIO: the whole test on a simulated port, recorded, as JSON lines.
sim() {
  timeout 900 "$oxylag" run --port "sim:$1" --accept-cautions --virtual-time --json \
    --out "$1.rec"
}
# refuse EXIT PATTERN COMMAND...: must exit with EXIT and one line on stderr that matches.
refuse() {
  local want=$1 pattern=$2 got lines
  shift 2
  checks=$((checks + 1))
  case $1 in sim) "$@" ;; *) timeout 900 "$@" ;; esac >refuse.out 2>refuse.err </dev/null
  got=$?
  [ "$got" = "$want" ] || fail "$*: exit $got, expected $want: $(tail -1 refuse.err)"
  tail -1 refuse.err | saw -E -- "$pattern" ||
    fail "$*: stderr \"$(tail -1 refuse.err)\" does not match \"$pattern\""
  lines=$(grep -c '^oxylag: ' refuse.err)
  [ "$lines" = 1 ] || fail "$*: $lines error lines, expected one"
}
done_testing() {
  echo "$checks checks, $failures failures"
  [ "$checks" -gt 0 ] && [ "$failures" = 0 ]
  exit $?
}

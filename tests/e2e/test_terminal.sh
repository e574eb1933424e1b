#!/usr/bin/env bash
# Terminals of all kinds: unknown, without colour, of 16 colours, the kernel's console, not UTF-8; and
# the line that long work shows.
. "$(dirname "$0")/lib.sh"
. "$here/tmux.sh"
"$oxylag" demo --scenario aged -y --virtual-time --runs 1 --out aged.rec >/dev/null 2>&1

# A terminal that nobody knows: refused, and above all no test without the cautions.
checks=$((checks + 1))
# (curses itself leaks what it had begun for such a terminal, which the sanitizer would complain of)
ASAN_OPTIONS=detect_leaks=0 TERM=nonsense script -qec "$oxylag demo" /dev/null </dev/null >unknown.out 2>&1
rc=$?
{ [ $rc = 2 ] && grep -q 'terminal "nonsense" is not known' unknown.out; } ||
  fail "unknown terminal: exit $rc: $(cat unknown.out)"

# show ENVIRONMENT...: the replay at the timing, as cells and with its colours
show() {
  local i
  tm new-session -d -x 80 -y 24 "env $* $oxylag replay aged.rec --from 44; sleep 20"
  for i in $(seq 600); do
    tm capture-pane -p >cells.txt 2>/dev/null
    grep -q 'TIMING\]' cells.txt && break
    sleep 0.1
  done
  tm capture-pane -p -e >colours.txt
  tm_end
  checks=$((checks + 1))
  grep -q 'TIMING\]' cells.txt || fail "$*: no dashboard: $(cat cells.txt)"
}
coloured() { grep -qE $'\e\\[[0-9;]*(3[0-7]|9[0-7]|38;5;[0-9]+)m' colours.txt; }
plain_cells() { ! LC_ALL=C grep -q '[^ -~]' cells.txt; }

show TERM=xterm-256color LC_ALL=C.UTF-8
check "256 colours" coloured
check "UTF-8 cells" eval '! plain_cells'
show TERM=xterm-256color LC_ALL=C.UTF-8 NO_COLOR=1
check "NO_COLOR" eval '! coloured'
show TERM=xterm-256color LC_ALL=C
check "no UTF-8: ASCII only" plain_cells
show TERM=linux LC_ALL=C.UTF-8
check "the kernel's console: colours" coloured
check "the kernel's console: ASCII only" plain_cells
show TERM=vt100 LC_ALL=C.UTF-8
check "monochrome" eval '! coloured'
if infocmp xterm-16color >/dev/null 2>&1; then
  show TERM=xterm-16color LC_ALL=C.UTF-8
  check "16 colours" coloured
  check "16 colours: none of 256" eval "! grep -q '38;5;' colours.txt"
fi

# More than a second of work says how far it is, on a terminal only, and not with --quiet.
awk 'BEGIN { print "t,f,r,s"; for (k = 0; k < 300000; k++)
  printf "%.3f,%.4f,0.7%d,%d\n", k * 0.02 + 0.003 * (k * 7 % 5), 1 + 0.001 * (k % 3), k % 3, k % 2 * 2 }' >big.csv
import="$oxylag import big.csv --columns time=t,front=f:lambda,rear=r,stft=s --out"
SECONDS=0
TERM=xterm script -qec "$import big1.rec" /dev/null </dev/null >shown.out 2>&1
if [ $SECONDS -ge 3 ]; then
  check "progress" grep -q 'importing, *[0-9]* %' shown.out
fi
TERM=xterm script -qec "$import big2.rec --quiet" /dev/null </dev/null >quiet.out 2>&1
check "--quiet" eval "! grep -q 'importing,' quiet.out"
# On a low screen the help turns its pages, in a quiz too.
tm new-session -d -x 80 -y 16 "env TERM=xterm-256color LC_ALL=C.UTF-8 $oxylag replay aged.rec --quiz; sleep 20"
page() { # page KEY FILE PATTERN: FILE has the screen that the key leads to
  tm send-keys "$1"
  for _ in $(seq 300); do
    tm capture-pane -p >"$2"
    grep -q "$3" "$2" && return
    sleep 0.1
  done
  return 1
}
sleep 1
check "the quiz's help" page '?' help1.txt 'part 1 of'
check "... and its next page" page Down help2.txt 'part 2 of'
tm_end

# help is --help, of the program and of a command.
checks=$((checks + 3))
diff <("$oxylag" help) <("$oxylag" --help) || fail "help is not --help"
diff <("$oxylag" help replay) <("$oxylag" replay --help) || fail "help replay is not replay --help"
"$oxylag" help | saw '^  help  *.COMMAND. ' || fail "help is not among the commands"
refuse 2 'unknown command "repaly": did you mean replay' "$oxylag" help repaly
refuse 2 'unknown option "--scenaro": did you mean --scenario. Try oxylag demo --help' \
  "$oxylag" demo --scenaro aged
refuse 2 'no scenario "agde": did you mean aged' "$oxylag" demo --scenario agde -y

# The ports that the program lists are offered after --port.
checks=$((checks + 1))
offered=$(
  oxylag() { [ "$1" != ports ] || echo '/dev/ttyUSB7         a serial adapter'; }
  # shellcheck disable=SC1091
  . "$here/../../src/app/completion/oxylag.bash"
  COMP_WORDS=(oxylag run --port /dev/ttyU) COMP_CWORD=3
  _oxylag
  echo "${COMPREPLY[*]}"
)
[[ " $offered " == *" /dev/ttyUSB7 "* ]] || fail "--port offers \"$offered\""

# Who leaves at the cautions has recorded nothing, and is not told otherwise.
(sleep 1; printf q) | TERM=xterm script -qec "$oxylag demo --out left.rec" /dev/null >left.out 2>&1
check "left at the cautions" grep -q 'left at the cautions: nothing was done' left.out
check "... with nothing recorded" eval "! grep -q 'Recorded in' left.out"
done_testing

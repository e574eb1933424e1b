# Sourced by the tests that walk through the home screen. shellcheck shell=bash
export TERM=xterm-256color LC_ALL=C.UTF-8
unset DISPLAY WAYLAND_DISPLAY
# shellcheck source=tests/e2e/tmux.sh
. "$here/tmux.sh"

# wait_for PATTERN SECONDS: until the screen shows it
wait_for() {
  local i
  checks=$((checks + 1))
  for i in $(seq $(($2 * 40))); do # far away, so that a busy machine fails nothing
    tm capture-pane -p >screen.txt 2>/dev/null
    grep -qE -- "$1" screen.txt && return 0
    sleep 0.1
  done
  fail "the screen never showed \"$1\":"
  cat screen.txt
  return 1
}
# open COLS ROWS [COMMAND]: the home screen, whose exit is shown last: then what it leaves is known
open() {
  tm new-session -d -x "$1" -y "$2" "${3:-$oxylag}; ended=\$?; stty -a >stty.txt; echo exit \$ended | tee exit.txt; sleep 60"
}
keys() {
  local key
  for key in "$@"; do
    tm send-keys "$key"
    sleep 0.15
  done
}
# leave EXIT: the program has ended so, and the terminal is as it was
leave() {
  wait_for "^exit $1\$" 10
  checks=$((checks + 1))
  grep -qE '(^| )icanon' stty.txt && grep -qE '(^| )echo( |$)' stty.txt || fail "the terminal is not restored: $(cat stty.txt)"
  tm_end
}
recordings() { find data -name '*.jsonl' | sort; }

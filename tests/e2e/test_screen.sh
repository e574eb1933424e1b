#!/usr/bin/env bash
# The dashboard in a real terminal (tmux) at 80x24 and 120x40: cautions, every state, the result,
# resizing, leaving. No key but the acknowledgement is needed for a verdict.
. "$(dirname "$0")/lib.sh"
export TERM=xterm-256color LC_ALL=C.UTF-8
sock=oxylag-test-$$
tm() { tmux -L "$sock" "$@"; }
trap 'tm kill-server 2>/dev/null; finish' EXIT

# wait_for PATTERN SECONDS: until the screen shows it
wait_for() {
  local i
  for i in $(seq $(($2 * 10))); do
    tm capture-pane -p >screen.txt 2>/dev/null
    grep -qiE "$1" screen.txt && return 0
    sleep 0.1
  done
  fail "the screen never showed \"$1\":"
  cat screen.txt
  return 1
}

for size in 80x24 120x40; do
  cols=${size%x*} rows=${size#*x}
  tm new-session -d -x "$cols" -y "$rows" \
    "$oxylag demo --scenario aged --rate 8 --runs 1 --out $size.rec; echo exit \$? | tee $size.exit; sleep 30"
  checks=$((checks + 1))
  wait_for 'propane' 10 || { tm kill-server; continue; }
  tm send-keys Enter Enter # two parts at 80x24
  for word in '\[BASELINE\]' '\[ENRICHMENT\]' '\[TIMING\]' 'Supporting evidence'; do
    checks=$((checks + 1))
    wait_for "$word" 60 || break
  done
  # Nothing may be wider than the terminal or torn: every line fits.
  while IFS= read -r line; do
    [ ${#line} -le "$cols" ] || fail "$size: a line is wider than the screen: $line"
  done <screen.txt
  tm resize-window -x 60 -y 20
  wait_for 'Supporting evidence' 5
  tm send-keys q
  wait_for 'exit 0' 10
  checks=$((checks + 1))
  [ "$(cat $size.exit)" = "exit 0" ] || fail "$size: $(cat $size.exit)"
  tm kill-server
  sleep 0.3
done
done_testing

# Sourced by the tests that look at a real terminal. shellcheck shell=bash
sock=oxylag-$(basename "$0" .sh)-$$
tm() { tmux -f /dev/null -L "$sock" "$@"; }
trap 'tm kill-server 2>/dev/null; finish' EXIT
# A server that was told to go takes its time: the next session has another.
tm_end() {
  tm kill-server 2>/dev/null
  sock+=+
}

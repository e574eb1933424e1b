#!/usr/bin/env bash
# What is heard of a whole test: each cue at its moment and in its order, the tick that quickens, a
# replay that sounds the same, and the options. The samples are those that a device would get.
. "$(dirname "$0")/lib.sh"
hear=$helpers/hear
[ -x "$hear" ] || exit 77

# One test in real time; meanwhile the options.
"$oxylag" demo -y --runs 1 --scenario dead --json --out test.rec --sound file:test.wav --voice \
  >test.json 2>test.err &
testing=$!
# Beside it one whose audio library hangs in its opening, and one that has no device.
if [ -e "$helpers/libsound_shim.so" ] && ! sanitized; then
  LD_PRELOAD=$helpers/libsound_shim.so "$oxylag" demo -y --runs 1 --scenario dead --plain --sound on --voice \
    >hanging.txt 2>&1 &
  hanging=$!
fi
ALSA_CONFIG_PATH=/dev/null "$oxylag" demo -y --runs 1 --scenario dead --plain --sound on --voice >deaf.txt 2>deaf.err &
deaf=$!
refuse 2 'expected on, bell, off or file:PATH' "$oxylag" demo -y --plain --sound loud
refuse 2 'expected on, bell, off or file:PATH' "$oxylag" demo -y --plain --sound file:
refuse 2 'goes with real time' "$oxylag" demo -y --plain --virtual-time --sound file:x.wav
refuse 2 'goes with real time' "$oxylag" demo -y --plain --rate 2 --sound file:x.wav
refuse 2 'from 0 to 100' "$oxylag" demo -y --plain --volume 101
refuse 2 'cannot be written' "$oxylag" demo -y --plain --out a.rec --sound file:nowhere/x.wav
echo kept >there.wav
refuse 2 'choose another name' "$oxylag" demo -y --plain --sound file:there.wav
checks=$((checks + 2))
[ "$(cat there.wav)" = kept ] || fail "a file that was there is overwritten"
[ ! -e x.wav ] || fail "a refused option leaves a file"
check "words that need no device" "$oxylag" demo -y --virtual-time --runs 1 --scenario dead --sound on --volume 5 --voice

wait $testing
checks=$((checks + 1))
[ -s test.err ] && fail "the test says: $(cat test.err)"
"$hear" test.wav >heard.txt

# Cues in their order; what the test said, by the same names.
cues() { grep -vE ' (tick|end)$' "$1" | cut -d' ' -f2 | tr '\n' ' '; }
same() { # WHAT FOUND EXPECTED
  checks=$((checks + 1))
  [ "$2" = "$3" ] || fail "$1: found \"$2\", expected \"$3\""
}
same "cues" "$(cues heard.txt)" "slow hold cut front-lean rear-lean trouble "

# Their moments. The file begins a little before the test does, by a time that is the same for all: the
# least; on a busy machine the others may come later.
said() { jq -r "select(.event == \"advice\" and .code == \"$1\") | .t_s" test.json | head -1; }
for cue in slow hold cut front-lean rear-lean; do
  echo "$(said $cue) $(awk -v c=$cue '$2 == c { print $1; exit }' heard.txt)"
done >moments.txt
checks=$((checks + 1))
awk 'NF == 2 { d = $2 - $1; if (!n || d < least) least = d; if (!n || d > most) most = d; n++ }
  END { printf "from first to last cue: %.3f s apart from the events\n", most - least; exit !(n == 5 && most - least < 1.5 && least > -0.5 && most < 2) }' \
  moments.txt || fail "the cues are not where the events are: $(cat moments.txt)"

# The tick: while gas is asked for and at no other time, and quicker at the end than at the beginning.
checks=$((checks + 2))
awk -v from="$(said add-gas)" -v to="$(said cut)" '$2 == "tick" && ($1 < from - 0.5 || $1 > to + 2)' heard.txt |
  grep -q . && fail "it ticks while no gas is asked for"
awk '$2 == "tick" { if (n) gap[n] = $1 - at; at = $1; n++ } END { exit !(n > 60 && gap[1] > 3 * gap[n - 1]) }' heard.txt ||
  fail "the tick does not quicken: $(grep -c tick heard.txt) of them"

# Nobody waits for a device.
verdict() { grep -o 'RESULT: [a-z]*' "$1"; }
wait $deaf
same "the exit of a test without a device" $? 0
same "... its verdict" "$(verdict deaf.txt)" 'RESULT: bad'
same "... and what it says besides" "$(cat deaf.err)" ""
if [ -n "${hanging:-}" ]; then
  # It began with the first one: what it waited for would have held it up by more than this.
  for _ in $(seq 300); do kill -0 $hanging 2>/dev/null || break; sleep 0.1; done
  checks=$((checks + 1))
  kill $hanging 2>/dev/null && fail "a test whose audio library hangs goes on and on: $(tail -1 hanging.txt)"
  wait $hanging
  same "the exit of a test whose audio library hangs" $? 0
  same "... and its verdict" "$(verdict hanging.txt)" 'RESULT: bad'
fi

# On the screen stands that there are no sounds, and nothing of what the libraries print.
if command -v tmux >/dev/null; then
  export TERM=xterm-256color LC_ALL=C.UTF-8
  . "$here/tmux.sh"
  tm new-session -d -x 120 -y 40 "ALSA_CONFIG_PATH=/dev/null $oxylag demo --scenario dead"
  shows() { # PATTERN
    checks=$((checks + 1))
    for _ in $(seq 600); do tm capture-pane -p >screen.txt 2>/dev/null; grep -q "$1" screen.txt && return; sleep 0.1; done
    fail "the screen never showed \"$1\": $(cat screen.txt)"
  }
  shows 'I have read this'
  tm send-keys Enter
  shows 'bell only demo'
  checks=$((checks + 1))
  grep -qi 'alsa\|jack' screen.txt && fail "the libraries print on the screen: $(cat screen.txt)"
  tm send-keys s
  shows 'silent demo'
  tm_end
fi

# An outside ear: sox reads the file, and finds the pitch of the longest cue where we found it.
if command -v sox >/dev/null; then
  at=$(awk '$2 == "hold" { print $1 + 0.05 }' heard.txt)
  pitch=$(sox test.wav -n trim "$at" 0.2 stat 2>&1 | awk '/^Rough +frequency/ { print $3 }')
  checks=$((checks + 2))
  [ "${pitch:-0}" -gt 860 ] && [ "$pitch" -lt 900 ] || fail "sox finds $pitch Hz in the cue of 880"
  sox test.wav -n stat 2>&1 | awk -v t="$(tail -1 heard.txt | cut -d' ' -f1)" \
    '/^Length/ { found = ($3 - t) ^ 2 < 1e-4 } END { exit !found }' || fail "sox finds another length"
fi

# A replay sounds the same, and its beginning is passed over in silence.
from=$(jq -r 'select(.event == "advice" and .code == "cut") | .t_s - 1.5' test.json)
check "a replay" "$oxylag" replay test.rec --plain --from "$from" --sound file:replay.wav
"$hear" replay.wav >replayed.txt
same "cues of the replay" "$(cues replayed.txt)" "cut front-lean rear-lean trouble "
done_testing

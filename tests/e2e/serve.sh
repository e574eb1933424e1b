# The real binary against the real binary, in real time. Sourced; $where is pty or tcp:...
# shellcheck shell=bash
serve_and_test() {
  local where=$1 scenario=$2 runs=$3
  "$oxylag" simulate --listen "$where" --scenario "$scenario" --truth served.truth >port.name &
  cleanup_pids+=($!)
  for _ in $(seq 600); do [ -s port.name ] && break; sleep 0.1; done
  port=$(cat port.name)
  check "a port is named" test -n "$port"
  timeout 900 "$oxylag" run --port "$port" -y --json --samples --runs "$runs" --out served.rec \
    >served.events 2>served.err
  rc=$?
  checks=$((checks + 1))
  [ $rc = 0 ] || fail "$port: exit $rc: $(tail -1 served.err)"
  "$oxylag" replay served.rec --virtual-time --json --samples >served.replay 2>r.err
  cmp -s served.events served.replay || fail "replay of the served test differs: $(cat r.err)"
  echo "$port: $(jq -c 'select(.event == "result") | [.verdict, .valid_runs, .delay_s]' served.events)"
  # The server's clock is its own, so runs and pulses are matched in order, by delay alone.
  # A pulse's truth is complete when the trims are back.
  for _ in $(seq 600); do grep -q '"pulse":1' served.truth && break; sleep 0.1; done
  jq -s -c 'map(select(.event == "run" and .valid and .dropped) | [.delay_low_s, .delay_high_s])' \
    served.events >runs.json
  jq -s -c 'map(select(.delay_s != null) | .delay_s)' served.truth >truths.json
  # One run on a machine's own clock, and intervals that hold the truth in 95 of 100: a sample round
  # (0.05 s) of grace keeps this test from failing by chance. The strict check is in virtual time.
  checks=$((checks + 1))
  jq -e -n --slurpfile r runs.json --slurpfile t truths.json \
    '($r[0] | length) >= 1 and all($r[0][]; . as $i | any($t[0][]; . >= $i[0] - 0.05 and . <= $i[1] + 0.05))' \
    >/dev/null || fail "a delay misses the truth: $(cat runs.json truths.json)"
}

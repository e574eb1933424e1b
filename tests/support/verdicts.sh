#!/usr/bin/env bash
# The table of verdicts: every scenario over SEEDS seeds as whole tests in virtual time, by technicians of six
# manners (tests/support/whole_test.h). Says how often each was called what, checks every result against itself
# (app_scenario_verdict_words), and fails when a sound converter was called bad or not good, or a dead one good
# or not bad. 1000 seeds take about 40 minutes on two processors.
#   bash tests/support/verdicts.sh [BUILD] [SEEDS] [FIRST]
#   OXL_VERDICT_ONLY=" dead good " bash ...        these scenarios, a space around each
set -euo pipefail
build=$(realpath "${1:-build}") seeds=${2:-1000} first=${3:-1}
# Every sixth technician has the test ended from outside after the first run: no result.
# What the simulated converter is; of others nothing can be wrong, nor of new-converter, which is sound and tests
# as empty until it has been driven: before "bad" it is asked whether it is new.
sound="good cold cool-converter leak-before-rear leak-before-front leak-at-rear misfire two-banks
biased-rear secondary-air frozen-trim crossed-fronts open-loop deeper-good"
dead="dead dead-rear slow-rear deeper-dead"
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
at_once=$(nproc) failed=0
for ((i = 0; i < at_once; i++)); do
  from=$((first + i * seeds / at_once)) to=$((first + (i + 1) * seeds / at_once))
  [ "$to" -gt "$from" ] || continue
  OXL_VERDICT_FIRST=$from OXL_VERDICT_SEEDS=$((to - from)) OXL_VERDICT_DUMP=$out/$i.tsv \
    "$build/tests/app_scenario_verdict_words" >"$out/$i.log" 2>&1 &
  pids[i]=$!
done
for i in "${!pids[@]}"; do
  wait "${pids[i]}" || { failed=1; cat "$out/$i.log"; }
done
cat "$out"/*.tsv | awk -F'\t' -v sound="${sound//$'\n'/ }" -v dead="$dead" '
  BEGIN {
    n = split("good,not bad,questionable,not good,bad,inconclusive,no result", column, ",")
    split(sound, list, " "); for (i in list) is[list[i]] = "sound"
    split(dead, list, " "); for (i in list) is[list[i]] = "dead"
    printf "%-20s %6s %6s %6s %6s %6s %6s %6s  wrong\n", "scenario", "good", "n.bad", "quest", "n.good", "bad", "incon", "none"
  }
  { seen[$1]; times[$1, $3]++ }
  END {
    for (s in seen) {
      wrong = 0
      if (is[s] == "sound") wrong = times[s, "bad"] + times[s, "not good"]
      if (is[s] == "dead") wrong = times[s, "good"] + times[s, "not bad"]
      printf "%-20s", s | "sort"
      for (i = 1; i <= n; i++) printf " %6d", times[s, column[i]] | "sort"
      printf "  %5d\n", wrong | "sort"
      all += wrong
    }
    close("sort")
    print all + 0 " wrong verdicts"
    exit all > 0
  }' || failed=1
exit "$failed"

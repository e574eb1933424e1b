#!/usr/bin/env bash
# The table of verdicts: every scenario over N seeds in virtual time. Says for each how often it
# was called good, questionable, bad, inconclusive, or ended without a result, and fails when a
# sound converter was called bad or a dead one good.
#   bash tests/support/verdicts.sh BINARY [SEEDS] [SCENARIO...]
set -u
oxylag=$(realpath "$1")
seeds=${2:-1000}
shift $(($# < 2 ? $# : 2))
# What the simulated converter is; "-" where there is nothing to be wrong about.
sound="good cold cool-converter leak-before-rear leak-before-front leak-at-rear misfire two-banks
biased-rear secondary-air frozen-trim new-converter crossed-fronts open-loop deeper-good"
dead="dead dead-rear slow-rear deeper-dead"
options_new_converter=--new-converter
names=${*:-$("$oxylag" scenarios --json | jq -r .name)}
export oxylag
one() { # SCENARIO SEED [OPTION...]: the verdict of one whole test
  local name=$1 seed=$2
  shift 2
  timeout 120 "$oxylag" demo --scenario "$name" --seed "$seed" -y --virtual-time --json "$@" 2>/dev/null |
    sed -n 's/.*"event":"result".*"verdict":"\([a-z]*\)".*/\1/p' | grep . || echo none
}
export -f one
wrong=0
printf '%-18s %6s %6s %6s %6s %6s  wrong\n' scenario good quest bad incon none
for name in $names; do
  key=options_${name//-/_}
  declare -A n=([good]=0 [questionable]=0 [bad]=0 [inconclusive]=0 [none]=0)
  while read -r count v; do
    n[$v]=$count
  done < <(seq "$seeds" | xargs -P "$(nproc)" -I SEED bash -c "one '$name' SEED ${!key:-}" | sort | uniq -c)
  bad=0
  case " ${sound//$'\n'/ } " in *" $name "*) bad=${n[bad]} ;; esac
  case " $dead " in *" $name "*) bad=${n[good]} ;; esac
  wrong=$((wrong + bad))
  printf '%-18s %6d %6d %6d %6d %6d  %5d\n' "$name" "${n[good]}" "${n[questionable]}" "${n[bad]}" \
    "${n[inconclusive]}" "${n[none]}" "$bad"
done
echo "$wrong wrong verdicts"
[ "$wrong" = 0 ]

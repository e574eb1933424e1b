#!/usr/bin/env bash
# What a controller does by itself (tests/e2e/habits.txt), with a dead and a sound converter each: the
# habit is named where the program knows it, the verdict is never wrong, and each interval holds the
# simulator's truth unless the run itself says what bends it.
. "$(dirname "$0")/lib.sh"
only=${OXL_ONLY:-} # a part of a name: only these

scenario() { # SETTINGS CAPACITY
  local ecu="" plant="" s
  for s in $1; do
    case $s in
    u:*) ecu+="${s#u:}"$'\n' ;;
    p:*) plant+="${s#p:}"$'\n' ;;
    *) fail "cannot read the setting $s" ;;
    esac
  done
  printf '[ecu]\nfront = wide-current\n%s[adapter]\nlatency_ms = 8\n[plant]\ncapacity_mg = %s\n%s' "$ecu" "$2" "$plant"
}

# Each counted run against the pulse whose front-lean is nearest: the delay's interval holds the truth;
# where the rear held, no more is claimed to be stored than was empty at the cut.
cat >compare.jq <<'JQ'
($truth | map(select(.pulse != null and .front_lean_t_s != null))) as $pulses
| [$events[] | select(.event == "run" and .valid and .front_lean_t_s != null) | . as $r
   | ($pulses | min_by(.front_lean_t_s - $r.front_lean_t_s | fabs)) as $t
   | {dropped, reasons, truth: (if .dropped then $t.delay_s else $t.empty_mg end),
      low: (if .dropped then .delay_low_s else .o2_low_mg end), high: (if .dropped then .delay_high_s else null end)}
   | .inside = ((.low // 0) <= (.truth // 1e9) and (.truth // 1e9) <= (.high // 1e9))]
JQ

check_verdict() { # NAME CAPACITY
  local verdict
  verdict=$(jq -r 'select(.event == "result") | .verdict' "$2.events")
  case $2-$verdict in
  "$dead-good" | "$sound-bad") fail "$1: a converter of $2 mg is called $verdict" ;;
  esac
  echo "$1, $2 mg: ${verdict:-no result}, $(jq length "$2.cmp") runs, outside: $(jq -c 'map(select(.inside | not))' "$2.cmp")"
}

dead=60 sound=1500
said='purge|mixture-swings|target-lambda|trim-limit|loop-left|loop-fault|engine-stop|hybrid'
runs=0 outside=0 seed=0
while IFS='|' read -r name settings id by want; do
  case $name in '#'* | '') continue ;; esac
  name=$(xargs <<<"$name") id=$(xargs <<<"$id") by=$(xargs <<<"$by") want=$((want))
  case $name in *"$only"*) ;; *) continue ;; esac
  seed=$((seed + 1)) # each another car and another hand
  heard=0
  for mg in $dead $sound; do
    checks=$((checks + 1))
    scenario "$settings" $mg >habit.ini
    rm -f habit.truth
    timeout 900 "$oxylag" demo --scenario ./habit.ini --seed $seed -y --runs 3 --virtual-time --json --truth habit.truth \
      >$mg.events 2>err
    rc=$?
    # Runs that count are a result whatever ends the test.
    [ $rc = 0 ] || [ $rc = $want ] || fail "$name, $mg mg: exit $rc, expected $want: $(tail -1 err)"
    jq -n --slurpfile truth habit.truth --slurpfile events $mg.events -f compare.jq >$mg.cmp || fail "$name: no JSON"
    check_verdict "$name" $mg
    runs=$((runs + $(jq length $mg.cmp)))
    outside=$((outside + $(jq 'map(select(.inside | not)) | length' $mg.cmp)))
    # One interval in twenty may miss, but none by far that does not say what bends it.
    jq -e 'all(.[]; .inside or (.reasons | length > 0) or
      (.dropped and (.truth // 1e9) < .high + 0.3 and .truth > .low - 0.3))' $mg.cmp >far || fail "$name, $mg mg: $(jq -c . $mg.cmp)"
    found=$(jq -r 'select(.event == "check") | .id' $mg.events | grep -xE "$said" | sort -u | tr '\n' ' ')
    [ -n "$id" ] && grep -qw -- "$id" <<<"$found" && heard=$((heard + 1))
    [ "$name" != plain ] || [ -z "$found" ] || fail "plain: said $found"
  done
  case $by in all) least=2 ;; one) least=1 ;; *) least=0 ;; esac
  [ $heard -ge $least ] || fail "$name: $id is said in $heard tests of 2"
done <"$here/habits.txt"
checks=$((checks + 1))
echo "$runs runs, the truth outside the interval in $outside"
[ -n "$only" ] || [ $runs -ge 40 ] || fail "only $runs runs were compared"
[ $((outside * 100)) -le $((runs * 5)) ] || fail "the truth is outside in $outside of $runs runs"
done_testing

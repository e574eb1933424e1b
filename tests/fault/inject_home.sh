#!/usr/bin/env bash
# The home screen on a terminal of its own while one allocation, open, read or write fails: settings that are
# kept, a test that is left at its cautions, a lesson, the class, a past recording; and ports --test. None may
# crash, hang or leave the terminal in other modes; an exit that is not 0 has its sentence; the settings are
# the old ones or the new ones, what was kept stays, and what the link check found is whole.
#   inject_home.sh OXYLAG SHIM
typed=$(realpath "$(dirname "$0")")/typed.py
. "$(dirname "$0")/injecting.sh" "$1" "$2"
export TERM=xterm-256color LC_ALL=C.UTF-8
unset DISPLAY WAYLAND_DISPLAY XDG_CONFIG_HOME XDG_DATA_HOME XDG_CACHE_HOME
few=2 ends=1 wider=20 kinds='alloc open'
[ -z "${OXL_LONG:-}" ] || few=100 ends=20 wider=1.3 kinds='alloc open read write fread pwrite open64'
mkdir -p begin/.config/oxylag begin/.local/share/oxylag
printf 'technician = Lee\n' >begin/.config/oxylag/settings.ini
"$oxylag" demo -y --virtual-time --runs 1 --no-deeper --packets 16 --quiet --plain --scenario dead \
  --out begin/.local/share/oxylag/dead.jsonl >/dev/null 2>&1
echo '{"trainee":"Ada","lesson":"good.jsonl","when":"","score":6,"of":12,"verdict":null,"answer":null,"sha256":""}' \
  >begin/.local/share/oxylag/class.txt
declare -A keys=(
  [settings]='5 Kim^[OA ^M q' [test]='3 1 ^M 4711^[OA^[OA^M a ^[ ^[ ^[ q' [lesson]='3 2 Kim^[OA^M 2 3 ^[ ^[ ^[ q'
  [class]='3 3 ^[ ^[ q' [past]='4 ^M 1 ^[ 6 ^[ ^[ q')

# one WALK PLAN: in a home of its own, so that several go on at once
one() {
  local command=("$oxylag")
  [ "$1" = ports ] && command+=(ports --test sim:good)
  cp -r begin "$1.$2" && cd "$1.$2" || exit
  command=(env HOME="$PWD" LD_PRELOAD="$shim" OXL_FAULT="$2" OXL_FAULT_COUNT=counts "${command[@]}")
  [ "$1" = ports ] || command=(python3 "$typed" "${keys[$1]}" "${command[@]}")
  timeout 900 "${command[@]}" >out 2>err </dev/null
  echo $? >rc
}
# What it says at its end, without what moves the cursor.
said() { cat out err | sed 's/\x1b[^a-zA-Z]*[a-zA-Z]//g'; }
figures() { sed 's/[0-9.]\+/N/g' "$1"; } # they differ from time to time
judge() { # WALK PLAN
  cases=$((cases + 1))
  cd "$work/$1.$2" || return
  local rc
  rc=$(cat rc)
  case $rc in
  0) ;;
  2 | 3 | 4 | 5 | 6 | 7 | 70) said | saw 'oxylag: ' || fail "$1 $2: exit $rc without a sentence" ;;
  *) fail "$1 $2: exit $rc: $(said | tail -c 300)" ;;
  esac
  cmp -s .local/share/oxylag/class.txt "$work/begin/.local/share/oxylag/class.txt" || fail "$1 $2: the class is lost"
  cmp -s .local/share/oxylag/dead.jsonl "$work/begin/.local/share/oxylag/dead.jsonl" || fail "$1 $2: a recording is lost"
  local now
  now=$(grep -v '^;' .config/oxylag/settings.ini)
  case $now in
  "technician = Lee" | "technician = LeeKim" | "technician = Kim") ;;
  *) fail "$1 $2: the settings are \"$now\"" ;;
  esac
  [ "$1 $rc" != 'ports 0' ] || cmp -s <(figures out) <(figures "$work/ports.none/out") || fail "$1 $2: exit 0 and other lines: $(cat out)"
  cd "$work" && rm -rf "${1:?}.$2"
}
walk() { # NAME
  local call plans=() plan i n
  (one "$1" none)
  cp "$1.none/counts" counts
  [ "$(cat "$1.none/rc")" = 0 ] || fail "$1: fails when nothing is injected: $(cat "$1.none/out")"
  for call in $kinds; do
    n=$(count_of $call)
    [ "$n" -gt 0 ] && echo "$1: $n calls of $call"
    for i in $([ "$n" = 0 ] || steps "$n"); do plans+=("$call:$i"); done
  done
  n=$(count_of write)
  [ "$n" = 0 ] || plans+=(write:1:on "write:$((n / 2)):on")
  for plan in "${plans[@]}"; do
    (one "$1" "$plan") &
    [ "$(jobs -rp | wc -l)" -lt 4 ] || wait -n
  done
  wait
  for plan in "${plans[@]}"; do judge "$1" "$plan"; done
}
for name in settings test lesson class past ports; do walk $name; done
# Curses ends the process when it cannot start for want of memory: the terminal is as it was all the same.
export OXL_FAULT_CURSES=1
(one class none)
for i in $(seq 30 $([ -n "${OXL_LONG:-}" ] && echo 1 || echo 6) 60); do
  (one class "alloc:$i")
  cases=$((cases + 1))
  case $(cat "class.alloc:$i/rc") in 97 | 98) fail "curses, alloc:$i: exit $(cat "class.alloc:$i/rc")" ;; esac
done
done_injecting

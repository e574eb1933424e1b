#!/usr/bin/env bash
# Every allocation, open, read and write of what lists, checks and keeps past tests fails in turn:
# recordings with and without its cache, its check, the lessons, the class, a quiz that is kept, and the
# history of a vehicle. None may crash or hang; what is listed is whole or says what is missing; nothing that
# was kept is lost.
#   inject_past.sh OXYLAG SHIM
. "$(dirname "$0")/injecting.sh" "$1" "$2"
export HOME=$work/home XDG_DATA_HOME=$work/data XDG_CACHE_HOME=$work/cache XDG_CONFIG_HOME=$work/config
own=$XDG_DATA_HOME/oxylag
mkdir -p "$own" home config
for scenario in dead aged; do
  "$oxylag" demo -y --virtual-time --runs 1 --no-deeper --packets 16 --quiet --plain --scenario $scenario \
    --out "$own/$scenario.jsonl" >/dev/null 2>&1
done
sed -i '1s/"started":"[^"]*"/"started":"2026-11-02T09:00:00+01:00"/' "$own/dead.jsonl"
echo junk >"$own/junk.jsonl"
printf '%s\n' 'verdict q' >answers
for who in Ada Ben; do
  "$oxylag" replay "$own/aged.jsonl" --quiz --answers answers --trainee $who >/dev/null 2>&1
done
class=$own/class.txt
cp "$class" class.kept
"$oxylag" recordings >/dev/null 2>&1
cp -r cache cache.warm

list_cold() { rm -rf cache; under recordings --json; }
list_warm() { rm -rf cache; cp -r cache.warm cache; under recordings --json; }
check() { rm -rf cache; under recordings --check "$own/dead.jsonl"; }
lessons() { under lessons; }
results() { under lessons --class; }
quiz() { cp class.kept "$class"; under replay "$own/aged.jsonl" --quiz --answers answers --trainee Cleo; }
history() { rm -rf cache; cp -r cache.warm cache; under report --history 0003; }

# A recording that could not be read is listed with the reason, and is all that may differ; a line of the
# class that could not be read is counted in a sentence.
is_whole() {
  case $1 in
  list_*) # the other half of a pair may be the one that could not be read
    sed 's/"before":"[^"]*"//' "$1.sound" >rows.sound
    [ "$(wc -l <out)" = "$(wc -l <"$1.sound")" ] && ! grep -q '"unreadable".*"why":""' out &&
      ! grep -v '"kind":"unreadable"' out | sed 's/"before":"[^"]*"//' | saw -vxFf rows.sound ;;
  quiz | check) grep -q '^oxylag: no memory for all' err && return ;;&
  quiz) cmp -s out "$1.sound" && [ "$(wc -l <"$class")" = 3 ] && head -2 "$class" | cmp -s - class.kept ;;
  results) cmp -s out "$1.sound" || grep -q '^oxylag: .* damaged' err ;;
  *) cmp -s out "$1.sound" ;;
  esac
}
kinds='alloc open read write fread pread pwrite open64'
many() { steps "$1"; }
# A recording that could not be read makes a check fail, which is no lack of memory of the program's.
is_refused() { [ "$rc" = 70 ] || { [ "$1 $rc" = 'check 3' ] && grep -q 'UNREADABLE: .*memory' out; }; }
every list_cold list_warm check lessons results quiz history
# Whatever failed: the results that were there are there.
quiz_keeps() { # PLAN
  injected "$1" quiz
  head -2 "$class" | cmp -s - class.kept || fail "quiz $1: a result that was kept is lost"
}
for i in $(seq 12); do quiz_keeps "write:$i:torn"; done
done_injecting

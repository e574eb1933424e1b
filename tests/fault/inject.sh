#!/usr/bin/env bash
# Every allocation, open, read, write and sync of a short test, its replay and its report fails in
# turn. None may crash or hang the program, each gives a documented exit code and a sentence, and
# what was recorded up to there stays, line by line as in the sound recording.
#   inject.sh OXYLAG SHIM
. "$(dirname "$0")/injecting.sh" "$1" "$2"

demo() { # FILE
  under demo -y --"$kind" --virtual-time --runs 1 --scenario aged --out "$1"
}
kind=json demo sound.rec >sound.events || { echo "the sound run failed"; exit 1; }
tail -n +2 sound.rec >sound.body # the first line has the date

# What is left is the beginning of the sound recording, in whole lines, and it plays.
check_left() { # PLAN
  [ -s cut.rec ] || return 0
  tail -c 1 cut.rec | od -An -c | saw '\\n' || fail "$1: ends within a line"
  tail -n +2 cut.rec >cut.body
  [ ! -s cut.body ] || cmp -s -n "$(stat -c %s cut.body)" cut.body sound.body ||
    fail "$1: the recording differs from the sound one"
  timeout 900 "$oxylag" replay cut.rec --virtual-time --json >/dev/null 2>replay.err
  case $? in 0 | 6) ;; *) fail "$1: what is left does not play: $(cat replay.err)" ;; esac
  grep -q differ replay.err && fail "$1: replay of what is left differs"
}

for kind in json plain; do
  rm -f cut.rec
  counted demo cut.rec
  cp counts counts.demo
  for call in alloc open read write sync; do
    cp counts.demo counts
    n=$(count_of $call)
    echo "demo --$kind: $n calls of $call"
    for i in $(steps "$n"); do
      modes=once
      [ $call = write ] && modes="once on torn"
      [ $call = write ] && [ $kind = plain ] && modes=torn
      for mode in $modes; do
        rm -f cut.rec
        injected "$call:$i:$mode" demo cut.rec
        case $call in
        write | sync) reached $call "$i" || {
          echo "demo --$kind: no call $i of $call this time"
          cases=$((cases - 1))
          continue
        } ;;
        esac
        check_left "$call:$i:$mode"
        case $call in
        write | sync) # the test goes on without its recording to its result, and says so
          # The first sync is the folder's, which not every file system knows.
          { [ $rc = 2 ] && grep -q 'recording stopped' err; } || [ $call:$i = sync:1 ] ||
            fail "$call:$i:$mode: exit $rc: $(cat err)"
          grep -qE '"result"|RESULT' out || fail "$call:$i:$mode: no result" ;;
        alloc) # said, or it did not matter: then nothing may be missing
          [ $rc = 70 ] || { [ $rc = 0 ] && [ "$(wc -l <out)" -gt 20 ] &&
            cmp -s cut.body sound.body; } || fail "$call:$i: exit $rc: $(cat err)" ;;
        esac
      done
    done
  done
done

play() { under replay sound.rec --virtual-time --json; }
report_text() { under report sound.rec; }
report_json() { under report --format json sound.rec; }
report_csv() { under report --format csv sound.rec; }
# Set by a library that ends the process when memory is refused: the program may not go with it.
report_html() { under report --format html sound.rec; }
report_pdf() { under report --format pdf sound.rec; }
report_file() { rm -f page; under report --out page sound.rec && cat page; }
profile() { under profiles ./p.ini; }
"$oxylag" profiles wide-maf >p.ini
every play report_text report_json report_csv report_html report_pdf report_file profile
done_injecting

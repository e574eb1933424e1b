#!/usr/bin/env bash
# The house rules that a script can check.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
fail=0
complain() {
  echo "house: $*"
  fail=1
}

for entry in $(ls -A); do
  case $entry in
  README.md | DEVELOPERS.md | LICENSE | CMakeLists.txt | src | include | tests | profiles | docs | \
    examples | build | build-* | .*) ;;
  *) complain "$entry does not belong at the top level" ;;
  esac
done

while read -r lines file; do
  [ "$file" = total ] || [ "$lines" -le 450 ] || complain "$file has $lines lines: two rooms in one?"
done < <(find src include tests -name '*.[ch]' -print0 | xargs -0 wc -l)

# The pure core knows no clock, no file, no terminal.
core='src/base src/wire src/vehicle src/grade src/poll src/measure src/profile src/proc src/record src/sim'
if grep -nE '\b(fopen|open|read|write|printf|puts|time|clock_gettime|gettimeofday|sleep|usleep|nanosleep|rand|getenv)\(' \
  -r $core --include='*.c' | grep -vE '^\S+\s*(\*|//)|[a-z_](open|read|write|time)\(|s[n]?printf|->'; then
  complain "the core does input, output or reads a clock (above)"
fi
if grep -rlE '#include <(curses|ncurses)' src include | grep -v '^src/ui/term_curses.c$'; then
  complain "only src/ui/term_curses.c may know curses"
fi
for known in portaudio:device.c espeak:speech.c; do
  if grep -rlE "#include <.*${known%:*}" src include | grep -v "^src/sound/${known#*:}\$"; then
    complain "only src/sound/${known#*:} may know ${known%:*}"
  fi
done
if grep -rnE '\b(sprintf|strcpy|strcat|gets|atoi|atof)\(' src include; then
  complain "banned calls (above)"
fi
# The program only reads: service 04 clears codes, 08 commands actuators.
if grep -rnE '"0?4(\\r)?"|"08[0-9A-F]{2}' src/poll; then
  complain "the poller may send a request that is not a reading (above)"
fi

# A part of the poller is written by the file that owns it: every file compiles with the others' const.
parts=$(mktemp -d)
for c in src/poll/*.c; do
  awk -v me="${c##*/}" '/\/\* [a-z_]+\.c/ && /^    [a-z].*;/ {
      match($0, /\/\* [a-z_]+\.c/); owner = substr($0, RSTART + 3, RLENGTH - 3)
      if (owner != me && !/\*wire;/) sub(/^    /, "    const ")
    } { print }' src/poll/poll_parts.h >"$parts/poll_parts.h"
  gcc -std=c17 -D_POSIX_C_SOURCE=200809L -Iinclude -Isrc -Isrc/poll -fsyntax-only -Werror -Wcast-qual \
    -include "$parts/poll_parts.h" "$c" || complain "${c##*/} writes another's part of the poller"
done
rm -r "$parts"

# Who may write what of the procedure stands behind each field of struct oxl_proc.
fields=$(sed -n '/^struct oxl_proc {/,/^};/p' src/proc/proc.h |
  sed -n 's@^ *\([^/]*\);  */\* \([a-z_]*\.c\).*@\2 \1@p')
[ "$(wc -l <<<"$fields")" = "$(sed -n '/^struct oxl_proc {/,/^};/p' src/proc/proc.h | grep -c '^ .*;')" ] ||
  complain "src/proc/proc.h: a field of struct oxl_proc without the file that writes it"
while read -r owner declared; do
  for name in $(grep -oE '[a-z_]+(\[[^]]*\])?(,|\)\(.*|$)' <<<"$declared" | sed -E 's/[[,)].*//'); do
    at="(p->|proc\.)$name\b(\.[a-z_]+|\[[^]]*\])*"
    if grep -nE "$at( [-+*/|&^]?= |\+\+|--)|(\+\+|--)$at|oxl_proc_since\(&$at|memset\(&?$at|[a-z] \*[a-z_]+ = &$at" src/proc/*.c |
      grep -v "^src/proc/$owner:" | grep -vE '^[^:]*:[0-9]+: *const struct|: *for \(const'; then
      complain "only src/proc/$owner writes $name (above)"
    fi
  done
done <<<"$fields"

# Every public header compiles alone.
for h in include/oxylag/*.h; do
  echo "#include \"oxylag/$(basename "$h")\"" |
    gcc -std=c17 -Wall -Wextra -Werror -Iinclude -fsyntax-only -x c - || complain "$h needs others"
done
exit $fail

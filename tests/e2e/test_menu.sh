#!/usr/bin/env bash
# From the menu: the desktop entry, the icon and the description, by the tools that judge them, and the
# entry started on a display that nobody sees.
. "$(dirname "$0")/lib.sh"
build=$(dirname "$oxylag")
[ -f "$build/CMakeCache.txt" ] || exit 77
export LC_ALL=C.UTF-8

[ -s "$build/oxylag.1.gz" ] || check "the manual is made" cmake --build "$build" --target manual
check "install" cmake --install "$build" --prefix "$work/usr"
entry=usr/share/applications/oxylag.desktop
icon=usr/share/icons/hicolor/scalable/apps/oxylag.svg
about=usr/share/metainfo/oxylag.metainfo.xml
for f in $entry $icon $about; do check "installed: $f" test -s $f; done

value() { sed -n "s/^$1=//p" $entry; }
same() { # WHAT FOUND EXPECTED
  checks=$((checks + 1))
  [ "$2" = "$3" ] || fail "$1: found \"$2\", expected \"$3\""
}
same "the entry starts the installed program" "$(value Exec)" "$(basename usr/bin/oxy*)"
same "the entry asks for a terminal" "$(value Terminal)" true
same "the entry's icon is the one installed" "$(value Icon).svg" "$(basename $icon)"
same "the description names the entry" "$(sed -n 's/.*launchable type="desktop-id">\(.*\)<.*/\1/p' $about)" oxylag.desktop
same "the description has the version" "$(sed -n 's/.*release version="\([^"]*\)".*/\1/p' $about)" \
  "$("$oxylag" --version | cut -d' ' -f2)"

# Outside checks; each refuses a broken copy, so it does look.
broken() { # TOOL.. FILE EXPRESSION
  local file=${*: -2:1} expression=${*: -1}
  sed "$expression" "$file" >"broken-$(basename "$file")"
  ! "${@:1:$#-2}" "broken-$(basename "$file")"
}
if command -v desktop-file-validate >/dev/null; then
  check "desktop-file-validate" desktop-file-validate $entry
  check "it refuses an entry without a name" broken desktop-file-validate $entry /^Name=/d
fi
if command -v appstreamcli >/dev/null; then
  check "appstreamcli" appstreamcli validate --no-net --pedantic $about
  check "it refuses a description without a summary" broken appstreamcli validate --no-net $about /summary/d
fi
if command -v rsvg-convert >/dev/null; then
  for size in 16 48 256; do
    check "the icon at $size" rsvg-convert -w $size -h $size $icon -o icon.png
    checks=$((checks + 1))
    [ "$(wc -c <icon.png)" -gt $((size * 10)) ] || fail "the icon at $size is next to empty"
  done
fi

# The entry, started by the desktop's own launcher: the program gets a terminal and no argument. What
# is started first notes that and gives way to the real one.
if command -v Xvfb >/dev/null && command -v xterm >/dev/null && command -v gio >/dev/null; then
  Xvfb -displayfd 3 -screen 0 1024x768x24 3>display >/dev/null 2>&1 &
  cleanup_pids+=($!)
  for _ in $(seq 300); do [ -s display ] && break || sleep 0.1; done
  mkdir -p first
  cat >first/oxylag <<SH
#!/bin/sh
{ echo "\$# \$(ps -o comm= -p \$PPID)"; tty; } >"$work/started.new"
mv "$work/started.new" "$work/started"
"$oxylag" --version >"$work/ran"
SH
  chmod +x first/oxylag
  DISPLAY=:$(cat display) PATH=$work/first:$PATH check "gio launch" timeout 900 gio launch $entry
  for _ in $(seq 300); do [ -s ran ] && break || sleep 0.1; done
  same "started without argument by a terminal" "$(head -1 started)" "0 xterm"
  checks=$((checks + 2))
  grep -q '^/dev/pts/' started || fail "started without a terminal: $(cat started)"
  grep -q '^oxylag ' ran || fail "the program did not run: $(cat ran)"
fi
done_testing

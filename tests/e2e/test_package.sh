#!/usr/bin/env bash
# What is installed: the program from a prefix, its manual page, completion and documents; the Debian
# package and what is in it.
. "$(dirname "$0")/lib.sh"
build=$(dirname "$oxylag")
[ -f "$build/CMakeCache.txt" ] || exit 77
export LC_ALL=C.UTF-8

[ -s "$build/oxylag.1.gz" ] || check "the manual is made" cmake --build "$build" --target manual
check "install" cmake --install "$build" --prefix "$work/usr"
for f in bin/oxylag share/man/man1/oxylag.1.gz share/bash-completion/completions/oxylag \
  share/zsh/vendor-completions/_oxylag share/doc/oxylag/first-test.md share/doc/oxylag/training.md \
  share/doc/oxylag/examples/aged.jsonl share/oxylag/lessons/aged.jsonl share/doc/oxylag/profiles/wide-maf.ini \
  share/doc/oxylag/copyright share/doc/oxylag/changelog.gz; do
  check "installed: $f" test -s "usr/$f"
done
check "the installed program runs" usr/bin/oxylag demo -y --virtual-time --scenario dead --runs 1
checks=$((checks + 1))
grep -q 'RESULT: bad' check.out || fail "the installed program's demo has no result"
check "an installed example replays" usr/bin/oxylag replay usr/share/doc/oxylag/examples/dead.jsonl \
  --virtual-time

# The manual page names every command and every option, and its markup is clean.
gunzip -c usr/share/man/man1/oxylag.1.gz >oxylag.1
page=oxylag.1
commands=$("$oxylag" --help | sed -n 's/^  \([a-z][a-z]*\)  .*/\1/p' | grep -v '^oxylag$')
checks=$((checks + 1))
[ "$(wc -w <<<"$commands")" -ge 9 ] || fail "commands: $commands"
for c in $commands; do
  check "manual: $c" grep -q "^\.SS oxylag $c$" $page
  section=$(sed -n "/^\.SS oxylag $c$/,/^\.S[SH]/p" $page | sed 's/\\-/-/g')
  for o in $("$oxylag" "$c" --help | sed -n 's/^  \(-.,\|   \) *\(--[^ ]*\).*/\2/p'); do
    checks=$((checks + 1))
    grep -qE -- "^\.B (-., )?$o( |$)" <<<"$section" || fail "manual: $c $o is missing"
  done
done
if command -v groff >/dev/null; then
  groff -man -ww -Wbreak -z $page >groff.out 2>&1
  checks=$((checks + 1))
  [ -s groff.out ] && fail "groff: $(head -3 groff.out)"
fi

# Completion, as bash would ask for it.
# shellcheck disable=SC2034
complete_words() { # WORDS...; the last one is being typed
  COMP_WORDS=("$@")
  COMP_CWORD=$(($# - 1))
  COMPREPLY=()
  _oxylag
  echo "${COMPREPLY[*]}"
}
PATH=$work/usr/bin:$PATH
# shellcheck disable=SC1091
. usr/share/bash-completion/completions/oxylag
completes() { # EXPECTED WORDS...
  local want=$1 got
  shift
  checks=$((checks + 1))
  got=$(complete_words "$@")
  [[ " $got " == *" $want "* ]] || fail "completion of \"$*\": \"$got\" lacks \"$want\""
}
completes import oxylag im
completes '--virtual-time' oxylag demo --vi
completes aged oxylag demo --scenario ag
completes wide-maf oxylag run -P wide
completes mono oxylag replay x --theme m
completes kline oxylag profiles k
completes bell oxylag demo --sound b
completes '--voice' oxylag replay --vo
checks=$((checks + 1))
[[ $(complete_words oxylag ports --by) == "" ]] || fail "completion offers an option of another command"
for c in $commands; do completes "$c" oxylag "$c"; done
if command -v zsh >/dev/null; then check "zsh reads its completion" zsh -n usr/share/zsh/vendor-completions/_oxylag; fi

# The package.
if command -v dpkg-deb >/dev/null && command -v dpkg-shlibdeps >/dev/null; then
  check "cpack" cpack -G DEB --config "$build/CPackConfig.cmake" -B "$work/pack"
  deb=$(echo "$work"/pack/oxylag_*.deb)
  check "a package" test -s "$deb"
  dpkg-deb -c "$deb" | awk '{ print $6 }' >contents.txt
  for f in ./usr/bin/oxylag ./usr/share/man/man1/oxylag.1.gz ./usr/share/doc/oxylag/copyright \
    ./usr/share/bash-completion/completions/oxylag ./usr/share/oxylag/lessons/good.jsonl \
    ./usr/share/applications/oxylag.desktop ./usr/share/icons/hicolor/scalable/apps/oxylag.svg \
    ./usr/share/metainfo/oxylag.metainfo.xml; do
    check "in the package: $f" grep -qx "$f" contents.txt
  done
  checks=$((checks + 2))
  grep -qE '^\./(usr/(local|include)|tmp|work)' contents.txt && fail "it does not belong: $(grep -E local contents.txt)"
  for lib in libc6 libjansson4 libinih1 libnettle8 libserialport0 libncursesw6; do
    dpkg-deb -f "$deb" Depends | saw "$lib" || fail "the package does not depend on $lib"
  done
  if command -v lintian >/dev/null; then
    check "lintian has nothing to say" lintian --allow-root --fail-on error,warning "$deb"
    checks=$((checks + 1))
    [ -s check.out ] && fail "lintian: $(head -5 check.out)"
  fi
  # Who may open an adapter is said once: at the first installation, not when it is renewed.
  dpkg-deb -e "$deb" control
  checks=$((checks + 2))
  sh control/postinst configure '' | saw 'group dialout' || fail "the package does not name the group"
  [ -z "$(sh control/postinst configure 0.1)" ] || fail "it is said again at each renewal"
fi
done_testing

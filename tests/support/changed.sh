#!/usr/bin/env bash
# The sources to look at closely, one a line: those that differ from where main was (on main itself: from
# the commit before), and those that include a header that does. All of them with OXL_LONG=1, and where
# there is nothing to compare with (no git, a clone of one commit).
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
everything() {
  find src -name '*.c' | sort
  exit
}
[ -z "${OXL_LONG:-}" ] || everything
main=$(git rev-parse -q --verify origin/main 2>/dev/null || git rev-parse -q --verify main 2>/dev/null) || main=HEAD
from=$(git merge-base HEAD "$main" 2>/dev/null) || everything
[ "$from" != "$(git rev-parse HEAD)" ] || from=$(git rev-parse -q --verify HEAD~1) || everything
{
  git diff --name-only "$from" -- src include
  git ls-files --others --exclude-standard -- src include
} | while read -r file; do
  case $file in
  *.c) [ ! -e "$file" ] || echo "$file" ;;
  *.h) grep -rlE --include='*.c' "#include \"([a-z]+/)?$(basename "$file")\"" src || true ;;
  esac
done | sort -u

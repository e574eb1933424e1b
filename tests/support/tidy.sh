#!/usr/bin/env bash
# clang-tidy over every source of the program, two at a time. $1: a build folder.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
find src -name '*.c' -print0 |
  xargs -0 -P 2 -n 4 clang-tidy-14 -p "${1:-build}" --quiet 2>/dev/null

#!/usr/bin/env bash
# A libserialport that cannot list ports: that is said, and a port that is named works all the same.
# ports.sh OXYLAG SHIM
shim=$(realpath "$2")
. "$(dirname "$0")/../e2e/lib.sh" "$1"
unlisted=(env "LD_PRELOAD=$shim" OXL_FAULT_PORTS=1 "$oxylag")
for command in ports "ports --json" "run -y" inspect; do
  # shellcheck disable=SC2086
  refuse 2 "does not list its serial ports: name the adapter's, such as --port" "${unlisted[@]}" $command
done
check "a port that is named" "${unlisted[@]}" run --port sim:dead -y --virtual-time --out named.jsonl
check "its recording" test -s named.jsonl
done_testing

#!/usr/bin/env bash
# A full run over a pseudo-terminal, real binary on both sides; the adapter's speed is found.
. "$(dirname "$0")/lib.sh"
. "$here/serve.sh"
serve_and_test pty another-speed 1
checks=$((checks + 1))
grep -q '"speed":38400' served.rec || fail "the adapter's speed was not found by trying"
# What libserialport's own path cannot be given here is a device with a sysfs entry: the open path
# of src/link/link_serial.c is covered up to its refusal of a pty (tests/unit/link).
done_testing

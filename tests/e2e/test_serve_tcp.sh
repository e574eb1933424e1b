#!/usr/bin/env bash
# A full run over TCP, real binary on both sides.
. "$(dirname "$0")/lib.sh"
. "$here/serve.sh"
serve_and_test tcp:127.0.0.1:0 dead 1
done_testing

#!/usr/bin/env bash
# Sends the service requests that follow the contract, nearly follow it, and do
# not: documented answers only, none of the 500s, none over two seconds of
# processor time, no goroutine left behind, memory back at rest.
#
#   deploy/check/fuzz.sh                            5,000 requests
#   deploy/check/fuzz.sh -requests 1000000          a million
#   deploy/check/fuzz.sh -seed 7 -only 1234         one of them again, with its answer
set -euo pipefail
cd "$(dirname "$0")/../.."
exec go run ./deploy/check/fuzz "$@"

#!/usr/bin/env bash
# Looks for code that no program reaches and for what a careful reader of Go would
# mend, with two published tools at exact versions:
#
#   deadcode without tests  what no program reaches (cmd/meniscus, the checks,
#                           the generator), so that code which only a test calls
#                           is found; httpapi/judge, pdftext and pgtest are
#                           for tests
#   deadcode with tests     what not even a test reaches, in those two as well
#   staticcheck             unused names and fields, mistakes, style
set -uo pipefail

deadcode=golang.org/x/tools/cmd/deadcode@v0.52.0
staticcheck=honnef.co/go/tools/cmd/staticcheck@v0.8.2
for_tests='^internal/(httpapi/judge|pdftext|pgtest)/'

# look runs a tool, and writes what it found; a tool that fails is a finding.
look() {
  local said found
  echo "dead: $*"
  said=$(go run "$@" ./...)
  local code=$?
  found=$(grep -vE "$leave_out" <<<"$said" | grep .)
  [ -z "$found" ] || echo "$found"
  [ -z "$found" ] && { [ "$code" -eq 0 ] || [ -n "$said" ]; }
}

failed=0
leave_out=$for_tests look "$deadcode" || failed=1
leave_out='^$' look "$deadcode" -test || failed=1
leave_out='^$' look "$staticcheck" || failed=1
exit "$failed"

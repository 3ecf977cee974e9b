#!/usr/bin/env bash
# Kills the service and its database ten times while callers write, and then with pgbouncer between
# them; `go run ./deploy/faults -kills 200` does so for longer.
set -euo pipefail
go run ./deploy/faults -kills 10
go run ./deploy/faults -kills 6 -pooler

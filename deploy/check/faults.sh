#!/usr/bin/env bash
# Kills the service and its database ten times while callers write; `go run ./deploy/faults -kills
# 200` does so for longer.
set -euo pipefail
go run ./deploy/faults -kills 10

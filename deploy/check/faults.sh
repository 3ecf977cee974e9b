#!/usr/bin/env bash
# Kills the service and its database while callers write: a single server; one behind pgbouncer; and a
# cluster that Patroni and etcd manage, whose leader ends alone and then with all its machine.
# `go run ./deploy/faults -kills 200` does so for longer.
set -euo pipefail
go run ./deploy/faults -kills 10
go run ./deploy/faults -kills 6 -pooler
go run ./deploy/faults -kills 4 -callers 3 -cluster -seed 2

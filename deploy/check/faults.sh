#!/usr/bin/env bash
# Breaks the service and its database while callers write: a single server; one behind pgbouncer; a
# cluster that Patroni and etcd manage, whose leader ends alone and then with all its machine; a
# clock that steps back; and a full disk, where one may be mounted. They run beside each other, since
# each waits for leases to end. `go run ./deploy/faults -kills 200` does so for longer.
set -euo pipefail

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -trimpath -o "$work/meniscus" ./cmd/meniscus
go build -trimpath -o "$work/faults" ./deploy/faults

names=() jobs=()
try() { # ON KILLS SEED
  "$work/faults" -program "$work/meniscus" -on "$1" -kills "$2" -callers 2 -seed "$3" > "$work/$1" 2>&1 &
  names+=("$1") jobs+=($!)
}
try server 10 1
try pooler 6 4
try cluster 4 2
try clock 4 2
mkdir "$work/mounted"
if [ "$(id -u)" = 0 ] && mount -t tmpfs tmpfs "$work/mounted" 2> /dev/null; then
  umount "$work/mounted"
  try disk 4 2
else
  echo "NOT checked: a full disk, since no disk can be mounted here"
fi
rmdir "$work/mounted"

status=0
for i in "${!jobs[@]}"; do
  wait "${jobs[$i]}" || status=1
  echo "on ${names[$i]}:"
  cat "$work/${names[$i]}"
done
exit $status

#!/usr/bin/env bash
# Builds a local Postgres image from Debian's packages, for machines that have a
# container engine but cannot pull an image:
#
#   deploy/test-image.sh [TAG]        (default meniscus-postgres:15)
#   MENISCUS_TEST_IMAGE=meniscus-postgres:15 TESTCONTAINERS_HOST_OVERRIDE=127.0.0.1 go test ./...
#
# It wants root, debootstrap and a running engine (docker). The image answers to
# POSTGRES_USER, POSTGRES_PASSWORD and POSTGRES_DB; its data goes with the
# container. It is for tests alone.
set -euo pipefail

tag=${1:-meniscus-postgres:15}
here=$(cd "$(dirname "$0")" && pwd)
. /etc/os-release
suite=$VERSION_CODENAME
# The mirror that this machine already uses.
mirror=$(apt-get indextargets --format '$(SITE)' "Created-By: Packages" | sed -n 1p)
[ -n "$mirror" ] || { echo "test-image: apt knows no mirror; run apt-get update first" >&2; exit 1; }

root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
chmod 755 "$root"

echo "test-image: unpacking $suite with Postgres"
# A cluster made while unpacking would only be thrown away.
mkdir -p "$root/etc/postgresql-common"
printf 'create_main_cluster = false\n' > "$root/etc/postgresql-common/createcluster.conf"
debootstrap --variant=minbase --include=postgresql "$suite" "$root" "$mirror" > "$root.log" 2>&1 || {
  tail -n 20 "$root.log" >&2
  exit 1
}
rm -rf "$root.log" "$root"/var/cache/apt/* "$root"/var/lib/apt/lists/* "$root"/usr/share/{doc,man,locale}

bin=$(cd "$root" && ls -d usr/lib/postgresql/*/bin | sort -V | tail -n 1)
install -m 755 "$here/test-image-entry.sh" "$root/usr/local/bin/entry"
install -d -m 777 "$root/var/run/postgresql"

echo "test-image: importing as $tag"
tar -C "$root" -c . | docker import \
  --change "ENV PATH=/$bin:/usr/local/bin:/usr/bin:/bin PGDATA=/var/lib/postgresql/data" \
  --change 'ENTRYPOINT ["/usr/local/bin/entry"]' \
  --change 'CMD ["postgres"]' \
  --change 'EXPOSE 5432' \
  - "$tag"

#!/bin/sh
# The entry of the test image: makes a cluster on the first start, then becomes
# the server as the user postgres.
set -eu

if [ "$(id -u)" = 0 ]; then
  install -d -o postgres -g postgres -m 700 "$PGDATA"
  exec setpriv --reuid postgres --regid postgres --clear-groups "$0" "$@"
fi

user=${POSTGRES_USER:-postgres}
base=${POSTGRES_DB:-$user}

if [ ! -s "$PGDATA/PG_VERSION" ]; then
  : "${POSTGRES_PASSWORD:?POSTGRES_PASSWORD must be set}"
  secret=$(mktemp)
  printf '%s\n' "$POSTGRES_PASSWORD" > "$secret"
  initdb -D "$PGDATA" --encoding=UTF8 --locale=C --username="$user" --pwfile="$secret" \
    --auth-local=trust --auth-host=scram-sha-256 --no-sync --no-instructions > /dev/null
  rm -f "$secret"
  printf 'host all all all scram-sha-256\n' >> "$PGDATA/pg_hba.conf"
  if [ "$base" != postgres ]; then
    pg_ctl -D "$PGDATA" -w -s -o "-c listen_addresses=''" start
    createdb -U "$user" "$base"
    pg_ctl -D "$PGDATA" -w -s -m fast stop
  fi
fi

exec "$@" -c listen_addresses='*'

#!/usr/bin/env bash
# Plays a loss: the blocks of deploy/backup/README.md as they stand, on a cluster of its own. What
# was recorded before a moment has to come back, byte for byte; what was recorded after it has to
# be gone, and followers, checkpoints and keys have to notice.
set -euo pipefail

bin=$(ls -d /usr/lib/postgresql/*/bin 2> /dev/null | sort -V | tail -n 1)
bin=${bin:-$(pg_config --bindir)}
work=$(mktemp -d)
chmod 755 "$work"
service=
as=() # Postgres does not run as root
[ "$(id -u)" != 0 ] || as=(env --chdir=/ setpriv --reuid=postgres --regid=postgres --clear-groups)
mkdir "$work/pg" "$work/backup" "$work/backup/wal"
[ ${#as[@]} -eq 0 ] || chown -R postgres: "$work"

export PATH="$bin:$PATH" PGDATA="$work/pg/data" BACKUP="$work/backup"
export BACKUP_URL="host=$work/pg user=postgres dbname=postgres" UNTIL=
dsn() { echo "postgres:///meniscus?host=$work/pg&user=$1"; }
export MENISCUS_OWNER_DATABASE_URL=$(dsn meniscus_owner) MENISCUS_DATABASE_URL=$(dsn meniscus_app)
export MENISCUS_WORKER_DATABASE_URL=$(dsn meniscus_worker) MENISCUS_ADDRESS=127.0.0.1:0
export MENISCUS_LOG_KEY=$(openssl rand -base64 32) MENISCUS_KEY= MENISCUS_URL=

end() {
  [ -z "$service" ] || kill "$service" 2> /dev/null || true
  "${as[@]}" pg_ctl --pgdata="$PGDATA" --mode=immediate --silent stop 2> /dev/null || true
  rm -rf "$work"
}
trap end EXIT
trap 'echo "backup: ended at line $LINENO, which did not come about"' ERR

faults=0
held=0
holds() { # WHAT COMMAND: something that must be so
  local what=$1
  shift
  if "$@" > "$work/said" 2>&1; then
    held=$((held + 1))
  else
    faults=$((faults + 1))
    echo "not so: $what"
    head -n 20 "$work/said"
  fi
}
compared() { # BLOCK: verify, which waits until the worker has looked at everything
  for _ in $(seq 60); do
    block "$1" > "$work/verified" 2>&1 && return 0
    grep -q 'Try again in a moment' "$work/verified" || break
    sleep 1
  done
  cat "$work/verified"
  return 1
}
fails_with() { # TEXT COMMAND: ends with an error that says so
  local text=$1
  shift
  ! "$@" > "$work/failed" 2>&1 && { grep -q "$text" "$work/failed" || { cat "$work/failed"; return 1; }; }
}

# block runs a block of the paper, named after its fence, as whoever is before it.
block() {
  local name=$1
  shift
  awk -v fence="\`\`\`sh $name" '$0 == fence { on = 1; next } /^```/ { on = 0 } on' deploy/backup/README.md > "$work/block"
  [ -s "$work/block" ] || { echo "no block $name"; return 1; }
  "$@" bash -eu "$work/block"
}

sql() { # STATEMENT DATABASE
  "${as[@]}" psql --no-psqlrc --quiet --tuples-only --no-align --host="$work/pg" --username=postgres \
    --dbname="${2:-meniscus}" --command="$1"
}

serve() {
  "$work/meniscus" serve 2> "$work/log" &
  service=$!
  for _ in $(seq 200); do
    MENISCUS_URL=http://$(jq -r 'select(.msg == "serving").address' "$work/log" 2> /dev/null)
    [ "$MENISCUS_URL" = http:// ] || return 0
    kill -0 $service || { cat "$work/log"; return 1; }
    sleep 0.1
  done
  return 1
}
stop() { kill $service && wait $service || true; service=; }

same_export() { # FILE: an export of now is this one, byte for byte
  meniscus export -url "$MENISCUS_URL" "$work/now.ndjson" && cmp "$work/now.ndjson" "$1"
}
ask() { curl -sS -H "Authorization: Bearer $MENISCUS_KEY" "$@"; }
record() { # FROM TO: specimens with these numbers
  for n in $(seq "$1" "$2"); do
    ask -f -o "$work/recorded" -H "Content-Type: application/json" "$MENISCUS_URL/v1/specimens" -d \
      '{"source": {"system": "drill", "recordId": "'$n'"}, "statement": {"collection": "drill", "bodyKind": "bone",
        "identifiers": [{"kind": "catalogue-number", "value": "LV.DRILL/'$n'"}]}}'
  done
}
logged() { ask "$MENISCUS_URL/v1/log/checkpoint" | sed -n 2p; }
until_logged() { # N: the sealer has given so many entries their numbers
  for _ in $(seq 600); do [ "$(logged)" = "$1" ] && return 0; sleep 0.1; done
  echo "the log has $(logged) entries, and not $1"
  return 1
}

CGO_ENABLED=0 go build -trimpath -o "$work/meniscus" ./cmd/meniscus
export PATH="$work:$PATH"
"${as[@]}" initdb --pgdata="$PGDATA" --auth=trust --username=postgres --no-instructions > "$work/made"
block archive "${as[@]}"
"${as[@]}" tee -a "$PGDATA/postgresql.conf" > "$work/made" <<CONF
listen_addresses = ''
unix_socket_directories = '$work/pg'
CONF
"${as[@]}" pg_ctl --pgdata="$PGDATA" --wait --silent --log="$work/pg/log" start
sql 'create role meniscus_owner login createrole' postgres
sql 'create database meniscus owner meniscus_owner' postgres
meniscus migrate > "$work/made" 2>&1
meniscus roles > "$work/made" 2>&1
MENISCUS_KEY=$(meniscus found -name "Museum of the Lower Valley" -person "Ilse Varga" | sed -n 's/^Key (shown once): //p')
serve

record 1 5
block copy "${as[@]}" > "$work/made"
record 6 10
until_logged 11 # the person too
chmod 777 "$BACKUP"
block export 2> "$work/made"
cp "$BACKUP/museum.ndjson" "$work/then.ndjson"
UNTIL=$(sql 'select clock_timestamp()')

record 11 13 # what will be lost
until_logged 14
ask "$MENISCUS_URL/v1/log/checkpoint" > "$work/later"
later=$(ask "$MENISCUS_URL/v1/changes?limit=100" | jq -r .cursor)
earlier=$(ask "$MENISCUS_URL/v1/changes?limit=3" | jq -r .cursor)
sql 'select pg_switch_wal()' > "$work/made"
archived() {
  for _ in $(seq 100); do
    [ "$(sql 'select count(*) from pg_ls_archive_statusdir() where name like $$%.ready$$')" = 0 ] && return 0
    sleep 0.1
  done
  return 1
}
holds 'the archive keeps up' archived

stop
"${as[@]}" pg_ctl --pgdata="$PGDATA" --mode=immediate --silent stop # the machine is lost
block restore "${as[@]}" > "$work/made"
for _ in $(seq 100); do [ "$(sql 'select pg_is_in_recovery()')" = f ] && break; sleep 0.1; done
serve # its worker goes on where it was
holds 'verify finds the restored record as the checkpoint was made of it' compared verify
holds 'it has what was recorded before that moment' test "$(logged)" = 11
holds 'its export is the one of then, byte for byte' same_export "$work/then.ndjson"
holds 'a follower who has seen more is sent back to the beginning' \
  test "$(ask "$MENISCUS_URL/v1/changes?cursor=$later" | jq -r .code)" = feed-reset
holds 'a follower who has not goes on' \
  test "$(ask "$MENISCUS_URL/v1/changes?cursor=$earlier&limit=100" | jq '.items | length')" = 8
record 1 13 # the catalogue sends everything again
until_logged 14
holds 'what was sent again is recorded once' test "$(ask "$MENISCUS_URL/v1/specimens?limit=100" | jq '.items | length')" = 13
holds 'a checkpoint of later is contradicted' \
  fails_with 'do not give the checkpoint of 14 entries' meniscus verify -checkpoint "$work/later"

sql 'create database other owner meniscus_owner' postgres
stop
for name in MENISCUS_OWNER_DATABASE_URL MENISCUS_DATABASE_URL MENISCUS_WORKER_DATABASE_URL; do
  export "$name=${!name/\/meniscus\?//other?}"
done
meniscus migrate > "$work/made" 2>&1
meniscus roles > "$work/made" 2>&1
block institution > "$work/made"
MENISCUS_KEY=$(sed -n 's/^Key (shown once): //p' "$work/made")
export INSTITUTION=$(sed -n 's/^Institution //p' "$work/made")
serve
holds 'the export is restored elsewhere' block records
holds 'and is the same file again' same_export "$work/then.ndjson"
holds 'which the checkpoint of then still proves' compared verify-institution

echo "backup: $held things hold, $faults do not"
[ "$faults" -eq 0 ]

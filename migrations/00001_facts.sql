-- +goose Up
-- Who: institutions, the keys that act for them.
create table institution (
  id         uuid primary key,
  name       text not null,
  ror        text,
  time_zone  text not null default 'UTC',
  settings   text not null default '{}',
  created_at timestamptz not null default now());

create table access_key (
  institution_id uuid not null,
  id             uuid not null,
  name           text not null,
  secret_sha256  bytea not null check (length(secret_sha256) = 32),
  scopes         text[] not null,
  person_id      uuid not null,
  request_id     uuid not null,
  created_at     timestamptz not null default now(),
  expires_at     timestamptz,
  revoked_at     timestamptz,
  primary key (id, institution_id));
create index access_key_request on access_key (institution_id, request_id);

-- Facts: one append-only table. Every table of 00002 can be rebuilt from it.
create table entry (
  institution_id uuid not null,
  id             uuid not null,
  kind           text collate "C" not null,
  record_id      uuid not null,
  revision       int  not null check (revision >= 1),
  act            text collate "C" not null check (act in ('stated','amended','retracted','redacted')),
  request_id     uuid not null,
  recorded_at    timestamptz not null default now(),
  recorded_by    uuid not null,
  source_system  text collate "C",
  source_id      text collate "C",
  nonce          bytea,
  digest         bytea not null check (length(digest) = 32),
  body           text,
  check ((nonce is null) = (body is null)),
  check ((source_system is null) = (source_id is null)),
  primary key (id, institution_id));
create unique index entry_revision on entry (institution_id, record_id, revision);
create unique index entry_source on entry (institution_id, source_system, source_id)
  where source_id is not null and revision = 1;
create index entry_request on entry (institution_id, request_id);

-- Order: tickets are written with the entries; places are given after commit.
create table unsealed (
  ticket         bigint generated always as identity primary key,
  institution_id uuid not null,
  entry_id       uuid not null);

create table place (
  institution_id uuid not null,
  seq            bigint not null check (seq >= 1),
  entry_id       uuid not null,
  record_id      uuid not null,
  sealed_at      timestamptz not null,
  primary key (institution_id, seq));
create unique index place_entry on place (entry_id, institution_id);
create index place_record on place (institution_id, record_id, seq);

-- Request keys: what makes a repeated create one create.
create table request_key (
  institution_id uuid not null,
  key_sha256     bytea not null,
  fingerprint    bytea not null,
  request_id     uuid not null,
  recorded_at    timestamptz not null default now(),
  primary key (institution_id, key_sha256));
create index request_key_recorded on request_key using brin (recorded_at);

-- The only change of a fact: its words go, its digest and its place stay. It
-- runs as the owner, and only for the institution that the caller acts for.
-- +goose StatementBegin
create function redact(p_institution uuid, p_entry uuid) returns void
language sql security definer set search_path = pg_catalog, public as $$
  update public.entry set body = null, nonce = null
   where institution_id = p_institution and id = p_entry
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid
$$;
-- +goose StatementEnd
revoke all on function redact(uuid, uuid) from public;

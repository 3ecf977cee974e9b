-- +goose Up
-- A key may replace another, once.
alter table access_key add column replaces uuid;
create unique index access_key_replaces on access_key (institution_id, replaces) where replaces is not null;

-- An earlier end of a key, in the way of 00120: it only ever comes nearer.
-- +goose StatementBegin
create function end_access_key(p_institution uuid, p_key uuid, p_at timestamptz) returns void
language sql security definer set search_path = pg_catalog, public as $$
  update public.access_key set expires_at = least(expires_at, greatest(p_at, now()))
   where institution_id = p_institution and id = p_key and revoked_at is null
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid
$$;
-- +goose StatementEnd
revoke all on function end_access_key(uuid, uuid, timestamptz) from public;

-- To export everything is a scope of its own; who could, still can.
update access_key set scopes = scopes || '{export}' where scopes @> '{integrate}' and not scopes @> '{export}';

-- When a key was last used, roughly: written now and then, and not by requests.
create table key_use (
  institution_id uuid not null,
  key_id         uuid not null,
  used_at        timestamptz not null,
  primary key (key_id, institution_id));

-- Who did what with which key, newest last: an id has its time in it (UUIDv7). It holds no names, no
-- addresses, and nothing that was sent.
create table access_log (
  institution_id uuid not null,
  id             uuid not null,
  what           text collate "C" not null,
  times          int  not null check (times >= 1),
  key_id         uuid,
  person_id      uuid,
  record_id      uuid,
  primary key (institution_id, id));
create index access_log_record on access_log (institution_id, record_id, id) where record_id is not null;
create index access_log_person on access_log (institution_id, person_id, id) where person_id is not null;

-- +goose StatementBegin
do $$ declare t text; begin
  foreach t in array array['key_use', 'access_log'] loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd

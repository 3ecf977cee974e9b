-- +goose Up
-- A person who signed in with a browser. It is there until it is ended; nothing of it ever changes.
create table browser_session (
  institution_id uuid not null,
  id             uuid not null,
  secret_sha256  bytea not null check (length(secret_sha256) = 32),
  person_id      uuid not null,
  scopes         text[] not null,
  ends_at        timestamptz not null,
  primary key (id, institution_id));
create index browser_session_person on browser_session (institution_id, person_id);
create index browser_session_ends on browser_session (institution_id, ends_at);
alter table browser_session enable row level security;
create policy own on browser_session
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

-- +goose Up
-- How the bodies of a collection's specimens are made, for those whose own records do not say it: every choice is kept,
-- the last one of a collection counts.
create table collection_body (
  institution_id uuid not null,
  collection     text collate "C" not null,
  id             uuid not null,
  traits         text not null,                 -- as they were sent: JSON
  chosen_by      uuid not null,
  chosen_at      timestamptz not null default now(),
  primary key (collection, institution_id, id));

alter table collection_body enable row level security;
create policy own on collection_body
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

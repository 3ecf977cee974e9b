-- +goose Up
-- What the worker could not work out, so that it goes on with everything else.
-- The record is a specimen, a plan, or what an entry that could not be read is
-- about; place is that of the entry, or that up to which the record was read.
create table set_aside (
  institution_id uuid not null,
  record_id      uuid not null,
  kind           text collate "C" not null,
  place          bigint not null,
  why            text collate "C" not null check (why in ('panic', 'excess', 'failed', 'unfinished')),
  attempts       int not null default 1,
  since          timestamptz not null,
  try_at         timestamptz not null,
  primary key (record_id, institution_id));
create index set_aside_due on set_aside (try_at);
alter table set_aside enable row level security;
create policy own on set_aside using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

-- The specimens that are being worked out. What stands here when a worker begins
-- may be what ended the last one, and is worked out alone.
alter table layers_cursor add column trying uuid[] not null default '{}';

-- +goose Up
-- Imports of old treatment cards: what they mean, how far they are, and the
-- lines that need a person's eye. The cards themselves are records.
create table import (
  institution_id uuid not null,
  id             uuid not null,
  request_id     uuid not null,
  created_by     uuid not null,
  created_at     timestamptz not null default now(),
  finished_at    timestamptz,
  name           text not null,
  dry_run        boolean not null,
  format         text not null,
  mapping        text not null,
  state          text not null default 'waiting' check (state in ('waiting','running','stopped','done')),
  leased_until   timestamptz,
  position       bigint not null default 0,
  digest         bytea,
  lines_read     bigint not null default 0,
  taken          bigint not null default 0,
  replayed       bigint not null default 0,
  doubtful       bigint not null default 0,
  refused        bigint not null default 0,
  primary key (id, institution_id));
create index import_request on import (institution_id, request_id);

create table import_line (
  institution_id uuid not null,
  import_id      uuid not null,
  line           bigint not null,
  outcome        text collate "C" not null check (outcome in ('refused','doubtful')),
  raw            text not null,
  reasons        text not null,
  doubts         text not null,
  treatment_id   uuid,
  primary key (import_id, institution_id, line));

-- +goose StatementBegin
do $$ declare t text; begin
  foreach t in array array['import', 'import_line'] loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd

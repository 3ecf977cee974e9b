-- +goose Up
-- Where changes are delivered to. Not facts: a catalogue's plumbing, not part of
-- the record, and not exported.
create table webhook (
  institution_id uuid not null,
  id             uuid not null,
  url            text not null,
  name           text not null,
  kinds          text[] not null,
  content        text collate "C" not null check (content in ('whole','reference')),
  request_id     uuid not null,
  created_by     uuid not null,
  created_at     timestamptz not null default now(),
  stopped_at     timestamptz,
  stopped_why    text collate "C" check (stopped_why in ('asked','gone','failing')),
  check ((stopped_at is null) = (stopped_why is null)),
  primary key (id, institution_id));
create index webhook_request on webhook (institution_id, request_id);

-- Encrypted with the operator's key; several are in force while one is replaced.
create table webhook_secret (
  institution_id uuid not null,
  webhook_id     uuid not null,
  id             uuid not null,
  kept           bytea not null,
  request_id     uuid not null,
  made_at        timestamptz not null default now(),
  ends_at        timestamptz,
  primary key (webhook_id, institution_id, id),
  constraint webhook_secret_of foreign key (webhook_id, institution_id) references webhook (id, institution_id) on delete cascade);
create index webhook_secret_request on webhook_secret (institution_id, request_id);

-- A cursor, not a queue: what comes next, when, and who is at it. The one without
-- an end follows the order; those with an end are redeliveries.
create table delivery (
  institution_id uuid not null,
  id             uuid not null,
  webhook_id     uuid not null,
  request_id     uuid not null,
  from_seq       bigint,
  next_seq       bigint not null check (next_seq >= 1),
  last_seq       bigint,
  check ((from_seq is null) = (last_seq is null)),
  attempts       int not null default 0,
  failing_since  timestamptz,
  due_at         timestamptz not null default '-infinity',
  lease          uuid,
  leased_until   timestamptz,
  ended_at       timestamptz,
  primary key (id, institution_id),
  constraint delivery_of foreign key (webhook_id, institution_id) references webhook (id, institution_id) on delete cascade);
create index delivery_webhook on delivery (institution_id, webhook_id, id);
create index delivery_due on delivery (due_at) where ended_at is null;

-- What was tried, and what came of it; kept for 30 days.
create table delivery_attempt (
  institution_id uuid not null,
  webhook_id     uuid not null,
  id             uuid not null,
  redelivery_id  uuid,
  entry_id       uuid not null,
  seq            bigint not null,
  attempt        int not null,
  attempted_at   timestamptz not null,
  took_ms        int not null,
  outcome        text collate "C" not null check (outcome in ('accepted','refused','unreachable','gone')),
  status         int,
  sentence       text not null,
  primary key (webhook_id, institution_id, id),
  constraint delivery_attempt_of foreign key (webhook_id, institution_id) references webhook (id, institution_id) on delete cascade);
create index delivery_attempt_when on delivery_attempt using brin (attempted_at);

-- +goose StatementBegin
do $$ declare t text; begin
  foreach t in array array['webhook', 'webhook_secret', 'delivery', 'delivery_attempt'] loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd

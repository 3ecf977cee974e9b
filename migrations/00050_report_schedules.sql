-- +goose Up
-- Reports that are made by the calendar. Not facts: they are made from the record
-- and not part of it, and are not exported.
create table report_schedule (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null default 1,
  body           text not null,                 -- the statement as it was made
  report         text collate "C" not null,
  query          text not null,                 -- what the report is asked for, as a query string
  media_type     text collate "C" not null,
  rule           text not null,
  starts         timestamp not null,            -- by the zone's clocks
  zone           text not null,
  period         text collate "C" not null default '',
  each_missed    boolean not null,
  keep_days      int not null,
  webhooks       uuid[] not null,
  request_id     uuid not null,
  created_by     uuid not null,
  created_at     timestamptz not null default now(),
  next_due_at    timestamptz,                   -- null: it never comes again
  ended_at       timestamptz,
  primary key (id, institution_id));
create index report_schedule_request on report_schedule (institution_id, request_id);
create index report_schedule_due on report_schedule (next_due_at) where ended_at is null;

-- One for each time that was due: the row is what makes it once.
create table report_run (
  institution_id uuid not null,
  id             uuid not null,
  schedule_id    uuid not null,
  due_at         timestamptz not null,
  missed         int not null default 0,        -- earlier times that it stands for, too
  from_day       date,
  until_day      date,
  report         text collate "C" not null,     -- as the schedule said when it was due
  query          text not null,
  media_type     text collate "C" not null,
  keep_days      int not null,
  attempts       int not null default 0,
  try_at         timestamptz not null default '-infinity',
  lease          uuid,
  leased_until   timestamptz,
  made_at        timestamptz,
  failed_at      timestamptz,
  sentence       text not null default '',      -- why it failed, or fails
  file           uuid,                          -- the lease under which the file was made
  size           bigint,
  sha256         bytea,
  kept_until     timestamptz,
  dropped_at     timestamptz,
  primary key (id, institution_id),
  unique (institution_id, schedule_id, due_at),
  constraint report_run_of foreign key (schedule_id, institution_id) references report_schedule (id, institution_id));
create index report_run_open on report_run (try_at) where made_at is null and failed_at is null;
create index report_run_kept on report_run (kept_until) where dropped_at is null;

-- A file in pieces, compressed (gzip); each belongs to the lease that it was made
-- under, so that two makers cannot mix theirs.
create table report_piece (
  institution_id uuid not null,
  run_id         uuid not null,
  file           uuid not null,
  position       int not null,
  body           bytea not null,
  primary key (run_id, institution_id, file, position),
  constraint report_piece_of foreign key (run_id, institution_id) references report_run (id, institution_id));

-- Who is to be told of a run.
create table report_notice (
  institution_id uuid not null,
  run_id         uuid not null,
  webhook_id     uuid not null,
  attempts       int not null default 0,
  failing_since  timestamptz,
  due_at         timestamptz not null default '-infinity',
  lease          uuid,
  leased_until   timestamptz,
  delivered_at   timestamptz,
  given_up_at    timestamptz,
  status         int,
  sentence       text not null default '',
  primary key (run_id, institution_id, webhook_id),
  constraint report_notice_of foreign key (run_id, institution_id) references report_run (id, institution_id),
  constraint report_notice_to foreign key (webhook_id, institution_id) references webhook (id, institution_id) on delete cascade);
create index report_notice_open on report_notice (due_at) where delivered_at is null and given_up_at is null;
create index report_notice_webhook on report_notice (institution_id, webhook_id);

-- +goose StatementBegin
do $$ declare t text; begin
  foreach t in array array['report_schedule', 'report_run', 'report_piece', 'report_notice'] loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd

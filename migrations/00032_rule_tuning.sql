-- +goose Up
-- An institution's own severities of the rules of checks: every choice is kept,
-- the last one counts.
create table rule_tuning (
  institution_id uuid not null,
  rule           text collate "C" not null,
  id             uuid not null,
  severity       text collate "C" not null check (severity in ('block','warn','info')),
  reason         text not null,
  chosen_by      uuid not null,
  chosen_at      timestamptz not null default now(),
  primary key (rule, institution_id, id));

alter table rule_tuning enable row level security;
create policy own on rule_tuning
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

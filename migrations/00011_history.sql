-- +goose Up
-- Specimens that a treatment was on before it was amended to another: without
-- it nobody could find what was believed of the first one.
create table treatment_was_on (
  institution_id uuid not null,
  specimen_id    uuid not null,
  treatment_id   uuid not null,
  primary key (specimen_id, institution_id, treatment_id));

alter table treatment_was_on enable row level security;
create policy own on treatment_was_on
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

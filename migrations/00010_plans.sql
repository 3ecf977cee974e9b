-- +goose Up
-- Proposed treatments. The treatments that carry one out point back to it.
create table plan (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  specimen_id    uuid not null,
  action         text collate "C",
  authorised     boolean not null default false,
  primary key (id, institution_id),
  constraint plan_specimen foreign key (specimen_id, institution_id) references specimen (id, institution_id));
create index plan_of on plan (institution_id, specimen_id, id);
create index treatment_carries_out on treatment (institution_id, plan_id, id) where plan_id is not null;
create index batch_input_named on batch_input (institution_id, material_id, batch_id) where material_id is not null;

alter table plan enable row level security;
create policy own on plan
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

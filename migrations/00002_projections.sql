-- +goose Up
-- Projections of the revision in force: what is filtered, joined and reported.
-- They may be rebuilt from the entries, and a check compares them.
create table person (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  display_name   text,
  folded_name    text collate "C",
  primary key (id, institution_id));
create index person_name on person (institution_id, folded_name) where folded_name is not null;

create table specimen (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  collection     text collate "C",
  body_kind      text collate "C",
  parent_id      uuid,
  merged_into    uuid,
  primary key (id, institution_id));
create index specimen_parent on specimen (institution_id, parent_id) where parent_id is not null;

create table specimen_identifier (
  institution_id uuid not null,
  specimen_id    uuid not null,
  position       int not null,
  kind           text collate "C" not null,
  value          text collate "C" not null,
  folded         text collate "C" not null,
  collection     text collate "C",
  primary key (specimen_id, institution_id, position));
create index specimen_identifier_value on specimen_identifier (institution_id, value, kind, specimen_id);
create index specimen_identifier_folded on specimen_identifier (institution_id, folded, specimen_id);

create table supply (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  code           text collate "C",
  material_id    text collate "C",
  received       date,
  expiry         date,
  primary key (id, institution_id));
create index supply_material on supply (institution_id, material_id, id);

create table batch (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  code           text collate "C",
  kind           text collate "C",
  made_earliest  date,
  made_latest    date,
  primary key (id, institution_id));

create table batch_input (
  institution_id uuid not null,
  batch_id       uuid not null,
  position       int not null,
  part           text collate "C" not null,
  supply_id      uuid,
  from_batch_id  uuid,
  material_id    text collate "C",
  words          text,
  check (num_nonnulls(supply_id, from_batch_id, material_id, words) = 1),
  primary key (batch_id, institution_id, position),
  constraint batch_input_supply foreign key (supply_id, institution_id) references supply (id, institution_id),
  constraint batch_input_batch foreign key (from_batch_id, institution_id) references batch (id, institution_id));
create index batch_input_from on batch_input (institution_id, from_batch_id, batch_id) where from_batch_id is not null;
create index batch_input_of on batch_input (institution_id, supply_id, batch_id) where supply_id is not null;

create table amount_change (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  batch_id       uuid not null,
  kind           text collate "C",
  primary key (id, institution_id),
  constraint amount_change_batch foreign key (batch_id, institution_id) references batch (id, institution_id));
create index amount_change_of on amount_change (institution_id, batch_id, id);

create table treatment (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  specimen_id    uuid not null,
  joined_to_id   uuid,
  action         text collate "C",
  earliest       date,
  latest         date,
  event_id       uuid,
  plan_id        uuid,
  primary key (id, institution_id),
  constraint treatment_specimen foreign key (specimen_id, institution_id) references specimen (id, institution_id),
  constraint treatment_joined_to foreign key (joined_to_id, institution_id) references specimen (id, institution_id));
create index treatment_of on treatment (institution_id, specimen_id, id);
create index treatment_joined on treatment (institution_id, joined_to_id, id) where joined_to_id is not null;
create index treatment_dated on treatment (institution_id, earliest, id) include (action, latest, specimen_id) where not retracted;
create index treatment_event on treatment (institution_id, event_id) where event_id is not null;

create table treatment_area (
  institution_id uuid not null,
  treatment_id   uuid not null,
  path           text collate "C" not null,
  primary key (treatment_id, institution_id, path));

create table treatment_person (
  institution_id uuid not null,
  treatment_id   uuid not null,
  position       int not null,
  person_id      uuid not null,
  part           text collate "C" not null,
  primary key (treatment_id, institution_id, position));
create index treatment_person_of on treatment_person (institution_id, person_id, treatment_id);

create table treatment_use (
  institution_id uuid not null,
  treatment_id   uuid not null,
  position       int not null,
  role           text collate "C",
  batch_id       uuid,
  supply_id      uuid,
  material_id    text collate "C",
  words          text,
  certainty      text collate "C" not null,
  check (num_nonnulls(batch_id, supply_id, material_id, words) = 1),
  primary key (treatment_id, institution_id, position),
  constraint treatment_use_batch foreign key (batch_id, institution_id) references batch (id, institution_id),
  constraint treatment_use_supply foreign key (supply_id, institution_id) references supply (id, institution_id));
create index treatment_use_by_batch on treatment_use (institution_id, batch_id, treatment_id) where batch_id is not null;
create index treatment_use_by_supply on treatment_use (institution_id, supply_id, treatment_id) where supply_id is not null;
create index treatment_use_by_material on treatment_use (institution_id, material_id, treatment_id) where material_id is not null;

-- One row for each material that the words of a use may mean.
create table treatment_use_candidate (
  institution_id uuid not null,
  treatment_id   uuid not null,
  position       int not null,
  material_id    text collate "C" not null,
  primary key (treatment_id, institution_id, position, material_id));
create index treatment_use_candidate_of on treatment_use_candidate (institution_id, material_id, treatment_id);

create table treatment_removes (
  institution_id uuid not null,
  treatment_id   uuid not null,
  removed_id     uuid not null,
  primary key (treatment_id, institution_id, removed_id));
create index treatment_removes_what on treatment_removes (institution_id, removed_id, treatment_id);

-- Findings beside a record; the statement is not touched.
create table finding (
  institution_id uuid not null,
  record_id      uuid not null,
  position       int not null,
  rule           text collate "C" not null,
  severity       text collate "C" not null check (severity in ('block','warn','info')),
  area           text collate "C",
  layers         uuid[] not null default '{}',
  sentence       text not null,
  remedy         text,
  source         text,
  as_of_seq      bigint,
  primary key (record_id, institution_id, position));

-- The walls: a row is seen and written only by the institution that the
-- transaction acts for. Without the setting nothing is seen.
-- +goose StatementBegin
do $$ declare t text; begin
  for t in
    select c.relname from pg_class c join pg_attribute a on a.attrelid = c.oid and a.attname = 'institution_id'
     where c.relkind = 'r' and c.relnamespace = current_schema()::regnamespace
  loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd
alter table institution enable row level security;
create policy own on institution using (id = nullif(current_setting('app.institution', true), '')::uuid);

-- +goose Up
-- What package stack answers of each layer, kept for reports. It can be made
-- again from the entries; as_of_seq is the place up to which the institution's
-- entries were looked at, computed_on the day that ages were taken on.
create table specimen_state (
  institution_id uuid not null,
  specimen_id    uuid not null,
  as_of_seq      bigint not null,
  computed_on    date not null,
  primary key (specimen_id, institution_id));

create table layer_state (
  institution_id uuid not null,
  treatment_id   uuid not null,
  position       int not null,
  specimen_id    uuid not null,
  role           text collate "C" not null,
  state          text collate "C" not null,
  redissolvable  text collate "C" not null,
  removable      text collate "C" not null,
  retreatable    text collate "C" not null,
  body           text not null,
  primary key (treatment_id, institution_id, position));
create index layer_state_of on layer_state (institution_id, specimen_id);

-- Every material that a layer is, or may be.
create table layer_material (
  institution_id uuid not null,
  treatment_id   uuid not null,
  position       int not null,
  material_id    text collate "C" not null,
  primary key (treatment_id, institution_id, position, material_id));
create index layer_material_of on layer_material (institution_id, material_id, treatment_id);

-- Which revision of a treatment its findings are of.
create table treatment_check (
  institution_id uuid not null,
  treatment_id   uuid not null,
  revision       int not null,
  as_of_seq      bigint not null,
  primary key (treatment_id, institution_id));

-- How far the institution's entries were looked at.
create table layers_cursor (
  institution_id uuid not null primary key,
  seq            bigint not null);

-- +goose StatementBegin
do $$ declare t text; begin
  foreach t in array array['specimen_state', 'layer_state', 'layer_material', 'treatment_check', 'layers_cursor'] loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd

-- +goose Up
-- An institution's own materials: which there are, and which built-in one each is
-- like. What is known of them stands in the statement.
create table material (
  institution_id uuid not null,
  id             uuid not null,
  revision       int not null,
  retracted      boolean not null default false,
  like_id        text collate "C",
  primary key (id, institution_id));
create index material_of_institution on material (institution_id, id) where not retracted;
create index material_like on material (institution_id, like_id, id) where like_id is not null;

alter table material enable row level security;
create policy own on material
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

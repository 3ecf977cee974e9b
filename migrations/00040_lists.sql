-- +goose Up
-- What lists are filtered by, and what went into a batch after it was made.
alter table supply add column received_latest date;
create index supply_received on supply (institution_id, received, id);

-- Words are followed by what they may mean; without any meaning they may mean
-- anything.
alter table batch_input add column candidates text[] not null default '{}';
create index batch_input_in_words on batch_input (institution_id, batch_id) where words is not null;
create index batch_made on batch (institution_id, made_earliest, id) where not retracted;

create table batch_person (
  institution_id uuid not null,
  batch_id       uuid not null,
  position       int not null,
  person_id      uuid not null,
  part           text collate "C" not null,
  primary key (batch_id, institution_id, position));
create index batch_person_of on batch_person (institution_id, person_id, batch_id);

-- What a batch was topped up with goes into it as an input does.
alter table amount_change
  add column earliest date,
  add column latest date,
  add column person_id uuid,
  add column with_batch_id uuid,
  add column with_supply_id uuid,
  add column with_material_id text collate "C",
  add column with_words text,
  add column with_candidates text[] not null default '{}',
  add check (num_nonnulls(with_batch_id, with_supply_id, with_material_id, with_words) <= 1),
  add constraint amount_change_with_batch foreign key (with_batch_id, institution_id) references batch (id, institution_id),
  add constraint amount_change_with_supply foreign key (with_supply_id, institution_id) references supply (id, institution_id);
create index amount_change_with_batch on amount_change (institution_id, with_batch_id, batch_id) where with_batch_id is not null;
create index amount_change_with_supply on amount_change (institution_id, with_supply_id, batch_id) where with_supply_id is not null;
create index amount_change_with_material on amount_change (institution_id, with_material_id, batch_id) where with_material_id is not null;
create index amount_change_with_words on amount_change (institution_id, batch_id) where with_words is not null;

-- A plan is filtered as the treatment that it proposes.
alter table plan
  add column joined_to_id uuid,
  add column earliest date,
  add column latest date,
  add constraint plan_joined_to foreign key (joined_to_id, institution_id) references specimen (id, institution_id);
create index plan_joined on plan (institution_id, joined_to_id, id) where joined_to_id is not null;

create table plan_area (
  institution_id uuid not null,
  plan_id        uuid not null,
  path           text collate "C" not null,
  primary key (plan_id, institution_id, path));

create table plan_person (
  institution_id uuid not null,
  plan_id        uuid not null,
  position       int not null,
  person_id      uuid not null,
  part           text collate "C" not null,
  primary key (plan_id, institution_id, position));
create index plan_person_of on plan_person (institution_id, person_id, plan_id);

create table plan_use (
  institution_id uuid not null,
  plan_id        uuid not null,
  position       int not null,
  role           text collate "C",
  batch_id       uuid,
  supply_id      uuid,
  material_id    text collate "C",
  words          text,
  certainty      text collate "C" not null,
  check (num_nonnulls(batch_id, supply_id, material_id, words) = 1),
  primary key (plan_id, institution_id, position));
create index plan_use_by_batch on plan_use (institution_id, batch_id, plan_id) where batch_id is not null;
create index plan_use_by_supply on plan_use (institution_id, supply_id, plan_id) where supply_id is not null;
create index plan_use_by_material on plan_use (institution_id, material_id, plan_id) where material_id is not null;

-- One row for each thing that went into a batch, as it was made or later. A batch
-- that was retracted is still followed, because what used it is on record; a
-- top-up that was retracted did not happen.
create view went_into as
select i.institution_id, i.batch_id, i.supply_id, i.from_batch_id, i.material_id, i.words, i.candidates,
       null::uuid as change_id, null::date as earliest, null::date as latest
  from batch_input i
union all
select c.institution_id, c.batch_id, c.with_supply_id, c.with_batch_id, c.with_material_id, c.with_words, c.with_candidates,
       c.id, c.earliest, c.latest
  from amount_change c
 where c.kind = 'topped-up' and not c.retracted
   and num_nonnulls(c.with_batch_id, c.with_supply_id, c.with_material_id, c.with_words) = 1;
alter view went_into set (security_invoker = true);

-- A specimen's record and those that were merged into it.
-- +goose StatementBegin
create function records_of(p_institution uuid, p_specimen uuid) returns setof uuid
language sql stable as $$
  with recursive family(id) as (
    select p_specimen
    union
    select m.id from family f join specimen m on m.institution_id = p_institution and m.merged_into = f.id)
  select id from family
$$;
-- +goose StatementEnd

-- +goose StatementBegin
do $$ declare t text; begin
  foreach t in array array['batch_person', 'plan_area', 'plan_person', 'plan_use'] loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd

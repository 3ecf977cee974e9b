-- +goose Up
-- Where a specimen's record stood at each revision at which it was merged into
-- another or was a part: without it nobody could tell which records were one
-- specimen at an earlier place. A revision without a row stood for itself.
create table specimen_stood (
  institution_id uuid not null,
  specimen_id    uuid not null,
  revision       int not null,
  merged_into    uuid,
  parent_id      uuid,
  part_areas     text[],
  split_earliest date,
  split_latest   date,
  split_recorded timestamptz,
  primary key (specimen_id, institution_id, revision));
create index specimen_stood_merged on specimen_stood (institution_id, merged_into, specimen_id) where merged_into is not null;

insert into specimen_stood
select institution_id, id, revision, merged_into, parent_id, part_areas, split_earliest, split_latest, split_recorded
  from specimen where merged_into is not null or part_areas is not null;
insert into specimen_stood (institution_id, specimen_id, revision, merged_into)
select institution_id, record_id, revision, (body::jsonb ->> 'mergedInto')::uuid
  from entry where kind = 'specimen' and body is not null and body::jsonb ? 'mergedInto'
on conflict do nothing;

alter table specimen_stood enable row level security;
create policy own on specimen_stood
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

-- The revision of a record that was in force at a place; null before its first.
-- +goose StatementBegin
create function revision_at(p_institution uuid, p_record uuid, p_place bigint) returns int
language sql stable as $$
  select e.revision from place p join entry e on e.id = p.entry_id and e.institution_id = p.institution_id
   where p.institution_id = p_institution and p.record_id = p_record and p.seq <= p_place and e.act <> 'redacted'
   order by p.seq desc limit 1
$$;
-- +goose StatementEnd

-- The records whose treatments were a specimen's at a place, as treatments_on
-- finds them now: its own, those merged into it, and those that it was part of.
-- +goose StatementBegin
create function family_at(p_institution uuid, p_specimen uuid, p_place bigint)
returns table (id uuid, because text, split_earliest date, split_latest date, split_recorded timestamptz, areas text[])
language sql stable as $$
  with recursive family(id, because, earliest, latest, recorded, areas) as (
    select p_specimen, null::text, null::date, null::date, null::timestamptz, null::text[]
    union
    select n.* from family f cross join lateral (
      select s.specimen_id, coalesce(f.because, 'merged'), f.earliest, f.latest, f.recorded, f.areas
        from specimen_stood s
       where s.institution_id = p_institution and s.merged_into = f.id
         and s.revision = revision_at(p_institution, s.specimen_id, p_place)
      union all
      select s.parent_id, 'split', least(f.earliest, s.split_earliest), least(f.latest, s.split_latest),
             least(f.recorded, s.split_recorded), coalesce(f.areas, s.part_areas)
        from specimen_stood s
       where s.institution_id = p_institution and s.specimen_id = f.id and s.part_areas is not null
         and s.revision = revision_at(p_institution, f.id, p_place)
      union all
      select s.merged_into, f.because, f.earliest, f.latest, f.recorded, f.areas
        from specimen_stood s
       where s.institution_id = p_institution and s.specimen_id = f.id and f.because = 'split' and s.merged_into is not null
         and s.revision = revision_at(p_institution, f.id, p_place)
    ) n
  )
  select family.id, family.because, earliest, latest, recorded, family.areas from family
$$;
-- +goose StatementEnd

-- Plans are checked as treatments are; the findings stand beside them.
create table plan_check (
  institution_id uuid not null,
  plan_id        uuid not null,
  revision       int not null,
  as_of_seq      bigint not null,
  primary key (plan_id, institution_id));
alter table plan_check enable row level security;
create policy own on plan_check
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

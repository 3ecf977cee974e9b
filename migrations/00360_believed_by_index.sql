-- +goose Up
-- Batches that a record named before it was amended: what was believed of a batch is found by
-- its id, and not by reading all that was ever amended.
create table batch_was_in (
  institution_id uuid not null,
  batch_id       uuid not null,
  part           text collate "C" not null check (part in ('change', 'taken', 'treatment')),
  record_id      uuid not null,
  primary key (batch_id, institution_id, part, record_id));
alter table batch_was_in enable row level security;
create policy own on batch_was_in
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

insert into batch_was_in (institution_id, batch_id, part, record_id)
select distinct e.institution_id, b.id, case e.kind when 'amount-change' then 'change' when 'batch' then 'taken' else 'treatment' end,
       e.record_id
  from entry later
  join entry e on e.institution_id = later.institution_id and e.record_id = later.record_id and e.revision < later.revision
 cross join lateral regexp_matches(e.body, '[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}', 'g') as named(id)
  join batch b on b.institution_id = e.institution_id and b.id = named.id[1]::uuid and b.id <> e.record_id
 where later.revision > 1 and later.kind in ('amount-change', 'batch', 'treatment')
on conflict do nothing;

-- The records whose treatments were a specimen's at a sequence number: see 00130.
-- Each is looked up by index, however many merges and parts there are.
-- +goose StatementBegin
create or replace function family_at(p_institution uuid, p_specimen uuid, p_sequence bigint)
returns table (id uuid, because text, split_earliest date, split_latest date, split_recorded timestamptz, areas text[])
language sql stable as $$
  with recursive family(id, because, earliest, latest, recorded, areas) as (
    select p_specimen, null::text, null::date, null::date, null::timestamptz, null::text[]
    union
    select distinct w.id, w.because, max(w.earliest) over same, max(w.latest) over same, max(w.recorded) over same, w.areas from (
      select n.* from family f cross join lateral (
        select s.specimen_id as id, coalesce(f.because, 'merged') as because, f.earliest, f.latest, f.recorded, f.areas
          from specimen_stood s
         where s.institution_id = p_institution and s.merged_into = f.id
           and s.revision = revision_at(p_institution, s.specimen_id, p_sequence)
        union all
        select s.parent_id, 'split', least(f.earliest, s.split_earliest), least(f.latest, s.split_latest),
               least(f.recorded, s.split_recorded), coalesce(f.areas, s.part_areas)
          from specimen_stood s
         where s.institution_id = p_institution and s.specimen_id = f.id and s.part_areas is not null
           and s.revision = revision_at(p_institution, f.id, p_sequence)
        union all
        select s.merged_into, f.because, f.earliest, f.latest, f.recorded, f.areas
          from specimen_stood s
         where s.institution_id = p_institution and s.specimen_id = f.id and f.because = 'split' and s.merged_into is not null
           and s.revision = revision_at(p_institution, f.id, p_sequence)
        offset 0) n) w
    window same as (partition by w.id, w.because, w.areas, w.latest is null)
  )
  select family.id, family.because, earliest, latest, recorded, family.areas from family
$$;
-- +goose StatementEnd

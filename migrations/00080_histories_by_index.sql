-- +goose Up
-- The same answers as before, by index however few or many rows there are: as
-- one statement, whose family of records the planner takes for hundreds, it read
-- all treatments of the museum for each specimen.

-- Where a specimen's record went: itself, unless it was merged.
-- +goose StatementBegin
create or replace function survivor_of(p_institution uuid, p_specimen uuid) returns uuid
language plpgsql stable as $$
declare
  stands uuid := p_specimen;
  went uuid;
begin
  for step in 1 .. 100 loop
    select s.merged_into into went from specimen s where s.institution_id = p_institution and s.id = stands;
    exit when went is null;
    stands := went;
  end loop;
  return stands;
end $$;
-- +goose StatementEnd

-- The treatments of a specimen: see 00031. Nearly every specimen is no part, and
-- none was merged into it; then its treatments are those that are stated about it.
-- +goose StatementBegin
create or replace function treatments_on(p_institution uuid, p_specimen uuid)
returns table (id uuid, revision int, retracted boolean, earliest date, stated_about uuid, because text, certain boolean, within text[])
language plpgsql stable rows 10 set enable_seqscan = off as $$
#variable_conflict use_column
begin
  if not exists (select from specimen s where s.institution_id = p_institution and s.merged_into = p_specimen)
     and not exists (select from specimen s where s.institution_id = p_institution and s.id = p_specimen and s.part_areas is not null) then
    return query
      select t.id, t.revision, t.retracted, t.earliest, p_specimen, null::text, true, null::text[]
        from treatment t where t.institution_id = p_institution and t.specimen_id = p_specimen
      union
      select t.id, t.revision, t.retracted, t.earliest, p_specimen, null::text, true, null::text[]
        from treatment t where t.institution_id = p_institution and t.joined_to_id = p_specimen
      order by 1;
    return;
  end if;
  return query
  with recursive family(id, because, earliest, latest, recorded, areas) as (
    select p_specimen, null::text, null::date, null::date, null::timestamptz, null::text[]
    union
    select n.* from family f cross join lateral (
      select s.id, coalesce(f.because, 'merged'), f.earliest, f.latest, f.recorded, f.areas
        from specimen s where s.institution_id = p_institution and s.merged_into = f.id
      union all
      select s.parent_id, 'split', least(f.earliest, s.split_earliest), least(f.latest, s.split_latest),
             least(f.recorded, s.split_recorded), coalesce(f.areas, s.part_areas)
        from specimen s where s.institution_id = p_institution and s.id = f.id and s.part_areas is not null
      union all
      select s.merged_into, f.because, f.earliest, f.latest, f.recorded, f.areas
        from specimen s where s.institution_id = p_institution and s.id = f.id and f.because = 'split' and s.merged_into is not null
    ) n
  ), held as (
    select t.*, f.id as about, f.because, f.earliest as split_earliest, f.latest as split_latest, f.recorded, f.areas
      from family f join treatment t on t.institution_id = p_institution and t.specimen_id = f.id
    union all
    select t.*, f.id, f.because, f.earliest, f.latest, f.recorded, f.areas
      from family f join treatment t on t.institution_id = p_institution and t.joined_to_id = f.id
  )
  select distinct on (h.id) h.id, h.revision, h.retracted, h.earliest, h.about, h.because,
         h.because is distinct from 'split' or coalesce(h.latest < h.split_earliest, false), h.areas
    from held h
   where h.because is distinct from 'split' or (
         case when h.split_latest is null or coalesce(h.earliest, h.latest) is null
              then (select e.recorded_at from entry e where e.institution_id = p_institution and e.record_id = h.id and e.revision = 1) <= h.recorded
              else coalesce(h.earliest, h.latest) <= h.split_latest end
         and (h.areas = '{}'
              or not exists (select from treatment_area a where a.institution_id = p_institution and a.treatment_id = h.id)
              or exists (select from treatment_area a cross join unnest(h.areas) as went(path)
                          where a.institution_id = p_institution and a.treatment_id = h.id
                            and (a.path = 'whole' or a.path = went.path or a.path ^@ (went.path || '/') or went.path ^@ (a.path || '/')))))
   order by h.id, h.because nulls first;
end $$;
-- +goose StatementEnd

-- +goose Up
-- Two records that are one specimen, and parts of a specimen that became
-- specimens. A part has its areas (none where they are not known) and when it
-- went, both as a day and as the moment at which it was recorded.
alter table specimen add column part_areas text[];
alter table specimen add column split_earliest date;
alter table specimen add column split_latest date;
alter table specimen add column split_recorded timestamptz;
create index specimen_merged on specimen (institution_id, merged_into, id) where merged_into is not null;

-- Where a specimen's record went: itself, unless it was merged.
-- +goose StatementBegin
create function survivor_of(p_institution uuid, p_specimen uuid) returns uuid
language sql stable as $$
  with recursive went(id, into_id, depth) as (
    select s.id, s.merged_into, 0 from specimen s where s.institution_id = p_institution and s.id = p_specimen
    union all
    select s.id, s.merged_into, w.depth + 1
      from went w join specimen s on s.institution_id = p_institution and s.id = w.into_id
     where w.depth < 100)
  select coalesce((select id from went order by depth desc limit 1), p_specimen)
$$;
-- +goose StatementEnd

-- Refuses what a merge made at the same moment as another would break: a circle,
-- or a survivor that was itself merged or retracted. Both rows are locked, in
-- the order of their ids.
-- +goose StatementBegin
create function check_merge(p_institution uuid, p_merged uuid, p_into uuid) returns void
language plpgsql as $$
declare stands boolean;
begin
  perform 1 from specimen where institution_id = p_institution and id in (p_merged, p_into) order by id for update;
  select not retracted and merged_into is null into stands from specimen where institution_id = p_institution and id = p_into;
  if p_merged = p_into or not coalesce(stands, false) then
    raise exception 'the survivor does not stand' using errcode = 'check_violation', constraint = 'specimen_merge';
  end if;
end $$;
-- +goose StatementEnd

-- The treatments of a specimen: its own, those stated about records that were
-- merged into it (because 'merged'), and, of a part, those of the specimen that
-- it came from, up to the split and where their areas meet (because 'split').
-- What was certainly before the split is certain; where dates cannot tell, what
-- may have been before it is inherited, and where there are none, what was
-- recorded before it.
-- +goose StatementBegin
create function treatments_on(p_institution uuid, p_specimen uuid)
returns table (id uuid, revision int, retracted boolean, earliest date, stated_about uuid, because text, certain boolean, within text[])
language sql stable as $$
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
   order by h.id, h.because nulls first
$$;
-- +goose StatementEnd

-- The parts of a specimen that inherited one of its treatments.
-- +goose StatementBegin
create function inheritors_of(p_institution uuid, p_treatment uuid, p_specimen uuid) returns uuid[]
language sql stable as $$
  with recursive below(id, part) as (
    select p_specimen, false
    union
    select n.* from below b cross join lateral (
      select s.id, true from specimen s
       where s.institution_id = p_institution and s.parent_id = b.id and s.part_areas is not null and not s.retracted
      union all
      select s.id, b.part from specimen s where s.institution_id = p_institution and s.merged_into = b.id
      union all
      select s.merged_into, b.part from specimen s where s.institution_id = p_institution and s.id = b.id and s.merged_into is not null
    ) n)
  select array_agg(distinct b.id) from below b
   where b.part and exists (select from treatments_on(p_institution, b.id) t where t.id = p_treatment and t.because = 'split')
$$;
-- +goose StatementEnd

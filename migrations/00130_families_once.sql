-- +goose Up
-- The same answers as before, however many merges and splits there are. Each way from
-- a part up to a record had its own dates, so that there were as many rows as
-- combinations of them. A treatment is inherited if one of the ways lets it through,
-- and the latest days let the most through: in each step, those of all ways to a
-- record are taken together. Ways on which nobody knows when the part went stay apart,
-- because there the order of recording tells.

-- The records whose treatments are a specimen's: see treatments_on in 00031.
-- +goose StatementBegin
create function family_of(p_institution uuid, p_specimen uuid)
returns table (id uuid, because text, earliest date, latest date, recorded timestamptz, areas text[])
language plpgsql stable rows 10 set enable_seqscan = off as $$
#variable_conflict use_column
begin
  return query
  with recursive family(id, because, earliest, latest, recorded, areas) as (
    select p_specimen, null::text, null::date, null::date, null::timestamptz, null::text[]
    union
    select distinct w.id, w.because, max(w.earliest) over same, max(w.latest) over same, max(w.recorded) over same, w.areas from (
      select n.* from family f cross join lateral (
        select s.id, coalesce(f.because, 'merged') as because, f.earliest, f.latest, f.recorded, f.areas
          from specimen s where s.institution_id = p_institution and s.merged_into = f.id
        union all
        select s.parent_id, 'split', least(f.earliest, s.split_earliest), least(f.latest, s.split_latest),
               least(f.recorded, s.split_recorded), coalesce(f.areas, s.part_areas)
          from specimen s where s.institution_id = p_institution and s.id = f.id and s.part_areas is not null
        union all
        select s.merged_into, f.because, f.earliest, f.latest, f.recorded, f.areas
          from specimen s where s.institution_id = p_institution and s.id = f.id and f.because = 'split' and s.merged_into is not null
      ) n) w
    window same as (partition by w.id, w.because, w.areas, w.latest is null)
  )
  select f.id, f.because, f.earliest, f.latest, f.recorded, f.areas from family f;
end $$;
-- +goose StatementEnd

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
  with family as materialized (
    select * from family_of(p_institution, p_specimen)
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
   order by h.id, h.because nulls first, 7 desc, h.about;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create or replace function family_at(p_institution uuid, p_specimen uuid, p_place bigint)
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
      ) n) w
    window same as (partition by w.id, w.because, w.areas, w.latest is null)
  )
  select family.id, family.because, earliest, latest, recorded, family.areas from family
$$;
-- +goose StatementEnd

-- +goose Up
-- The same answers as before, found in one walk down from the treatment, however many
-- parts and treatments there are: each part was asked for all of its treatments.

-- The parts of a specimen that inherited one of its treatments: see treatments_on in
-- 00130, whose ways this goes down. A record is reached with what the ways to it have
-- in common, so that it has a few rows however many ways there are.
--   own      the treatment is the record's own, or that of one merged into it
--   split    there was a split
--   stands   from the specimen itself, and no part on the way was retracted
--   passes   the treatment came before each split whose day is known
--   dated    the day of a split is known
--   recorded the treatment was on record before each split
--   holds    the last split took an area of the treatment along, and only merges into
--            others followed
-- +goose StatementBegin
create or replace function inheritors_of(p_institution uuid, p_treatment uuid, p_specimen uuid) returns uuid[]
language plpgsql stable set enable_seqscan = off as $$
declare
  done treatment;
  day date;
  said timestamptz;
  areas text[];
begin
  if not exists (select from specimen s where s.institution_id = p_institution and s.parent_id = p_specimen)
     and not exists (select from specimen s where s.institution_id = p_institution and s.merged_into = p_specimen)
     and not exists (select from specimen s where s.institution_id = p_institution and s.id = p_specimen and s.merged_into is not null) then
    return null;
  end if;
  select * into done from treatment t where t.institution_id = p_institution and t.id = p_treatment;
  day := coalesce(done.earliest, done.latest);
  said := (select e.recorded_at from entry e where e.institution_id = p_institution and e.record_id = p_treatment and e.revision = 1);
  areas := array(select a.path from treatment_area a where a.institution_id = p_institution and a.treatment_id = p_treatment);
  return (
    with recursive below(id, own, split, stands, passes, dated, recorded, holds) as (
      select s, true, false, s = p_specimen, true, false, true, false
        from unnest(array[done.specimen_id, done.joined_to_id]) s where s is not null
      union
      select n.* from below b cross join lateral (
        select s.id, false, true, b.stands and not s.retracted,
               b.passes and coalesce(day <= s.split_latest, true), b.dated or s.split_latest is not null,
               b.recorded and coalesce(said <= s.split_recorded, false),
               areas = '{}' or s.part_areas = '{}' or exists (
                 select from unnest(areas) a cross join unnest(s.part_areas) as went(path)
                  where a = 'whole' or a = went.path or a ^@ (went.path || '/') or went.path ^@ (a || '/'))
          from specimen s where s.institution_id = p_institution and s.parent_id = b.id and s.part_areas is not null
        union all
        select s.merged_into, b.own, b.split, b.stands, b.passes, b.dated, b.recorded, b.holds
          from specimen s where s.institution_id = p_institution and s.id = b.id and s.merged_into is not null
        union all
        select s.id, false, b.split, b.stands, b.passes, b.dated, b.recorded, false
          from specimen s where s.institution_id = p_institution and s.merged_into = b.id
      ) n
    ), inherited as (
      select b.id from below b group by b.id
      having bool_or(b.split and b.stands) and not bool_or(b.own)
         and bool_or(b.holds and b.passes and (b.recorded or day is not null and b.dated))
    )
    select array_agg(i.id order by i.id) from inherited i);
end $$;
-- +goose StatementEnd

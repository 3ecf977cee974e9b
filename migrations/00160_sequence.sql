-- +goose Up
-- An entry's place in its institution's order is called its sequence everywhere.
alter table place rename to sequenced;
alter table sequenced rename constraint place_pkey to sequenced_pkey;
alter index place_entry rename to sequenced_entry;
alter index place_record rename to sequenced_record;
alter table restored_place rename to restored_sequence;
alter table restored_sequence rename constraint restored_place_pkey to restored_sequence_pkey;
alter table set_aside rename column place to sequence;

-- Gives the waiting entries their sequence numbers: see place_restored in 00060.
drop function place_restored(uuid);
-- +goose StatementBegin
create function sequence_restored(p_institution uuid) returns bigint
language plpgsql security definer set search_path = pg_catalog, public as $$
declare numbered bigint;
begin
  if p_institution is distinct from nullif(current_setting('app.institution', true), '')::uuid
     or exists (select from public.sequenced where institution_id = p_institution)
     or exists (select from public.unsealed where institution_id = p_institution) then
    raise exception 'the institution is not empty' using errcode = 'check_violation', constraint = 'restored_into_empty';
  end if;
  insert into public.sequenced (institution_id, seq, entry_id, record_id, sealed_at)
  select institution_id, seq, entry_id, record_id, sealed_at from public.restored_sequence
   where institution_id = p_institution order by seq;
  get diagnostics numbered = row_count;
  delete from public.restored_sequence where institution_id = p_institution;
  return numbered;
end $$;
-- +goose StatementEnd
revoke all on function sequence_restored(uuid) from public;

-- The revision of a record that was in force at a sequence number; null before its first.
drop function revision_at(uuid, uuid, bigint);
-- +goose StatementBegin
create function revision_at(p_institution uuid, p_record uuid, p_sequence bigint) returns int
language sql stable as $$
  select e.revision from sequenced s join entry e on e.id = s.entry_id and e.institution_id = s.institution_id
   where s.institution_id = p_institution and s.record_id = p_record and s.seq <= p_sequence and e.act <> 'redacted'
   order by s.seq desc limit 1
$$;
-- +goose StatementEnd

-- The records whose treatments were a specimen's at a sequence number: see 00130.
drop function family_at(uuid, uuid, bigint);
-- +goose StatementBegin
create function family_at(p_institution uuid, p_specimen uuid, p_sequence bigint)
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
      ) n) w
    window same as (partition by w.id, w.because, w.areas, w.latest is null)
  )
  select family.id, family.because, earliest, latest, recorded, family.areas from family
$$;
-- +goose StatementEnd

-- +goose Up
-- An export can be made into an institution again, entry by entry, with the
-- places that the entries had. They wait here until the last one is in.
create table restored_place (
  institution_id uuid not null,
  seq            bigint not null check (seq >= 1),
  entry_id       uuid not null,
  record_id      uuid not null,
  sealed_at      timestamptz not null,
  primary key (seq, institution_id));

alter table restored_place enable row level security;
create policy own on restored_place
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

-- Gives the waiting entries their places, all in one statement, if nothing of
-- the institution has a place or waits for one. It runs as the owner, because
-- the application gives no places, and only for the institution that the caller
-- acts for.
-- +goose StatementBegin
create function place_restored(p_institution uuid) returns bigint
language plpgsql security definer set search_path = pg_catalog, public as $$
declare placed bigint;
begin
  if p_institution is distinct from nullif(current_setting('app.institution', true), '')::uuid
     or exists (select from public.place where institution_id = p_institution)
     or exists (select from public.unsealed where institution_id = p_institution) then
    raise exception 'the institution is not empty' using errcode = 'check_violation', constraint = 'restored_into_empty';
  end if;
  insert into public.place (institution_id, seq, entry_id, record_id, sealed_at)
  select institution_id, seq, entry_id, record_id, sealed_at from public.restored_place where institution_id = p_institution order by seq;
  get diagnostics placed = row_count;
  delete from public.restored_place where institution_id = p_institution;
  return placed;
end $$;
-- +goose StatementEnd
revoke all on function place_restored(uuid) from public;

-- What the projections still hold of a record whose words are gone: without it
-- nothing could tell which specimen a redacted treatment was on.
-- +goose StatementBegin
create function remains_of(p_institution uuid, p_kind text, p_record uuid) returns jsonb
language plpgsql stable set timezone = 'UTC' as $$
declare remains jsonb;
begin
  execute format('select to_jsonb(t) - ''institution_id'' - ''id'' from %I t where institution_id = $1 and id = $2', replace(p_kind, '-', '_'))
     into remains using p_institution, p_record;
  if p_kind = 'treatment' then
    remains := remains || jsonb_build_object('was_on', coalesce(
      (select jsonb_agg(w.specimen_id order by w.specimen_id) from treatment_was_on w where w.institution_id = p_institution and w.treatment_id = p_record), '[]'));
  end if;
  if p_kind = 'specimen' then
    remains := remains || jsonb_build_object('stood', coalesce(
      (select jsonb_agg(to_jsonb(s) - 'institution_id' - 'specimen_id' order by s.revision) from specimen_stood s
        where s.institution_id = p_institution and s.specimen_id = p_record), '[]'));
  end if;
  return remains;
end $$;
-- +goose StatementEnd

-- Puts back what remains_of gave.
-- +goose StatementBegin
create function put_remains(p_institution uuid, p_kind text, p_record uuid, p_remains jsonb) returns void
language plpgsql as $$
declare kept text;
begin
  select string_agg(format('%I = excluded.%I', a.attname, a.attname), ', ') into kept from pg_attribute a
   where a.attrelid = replace(p_kind, '-', '_')::regclass and a.attnum > 0 and not a.attisdropped and a.attname not in ('id', 'institution_id');
  execute format('insert into %I select (jsonb_populate_record(null::%1$I, $1)).* on conflict (id, institution_id) do update set %s', replace(p_kind, '-', '_'), kept)
    using p_remains || jsonb_build_object('institution_id', p_institution, 'id', p_record);
  if p_kind = 'treatment' then
    insert into treatment_was_on (institution_id, specimen_id, treatment_id)
    select p_institution, w::uuid, p_record from jsonb_array_elements_text(coalesce(p_remains -> 'was_on', '[]')) w on conflict do nothing;
  end if;
  if p_kind = 'specimen' then
    insert into specimen_stood
    select (jsonb_populate_record(null::specimen_stood, s || jsonb_build_object('institution_id', p_institution, 'specimen_id', p_record))).*
      from jsonb_array_elements(coalesce(p_remains -> 'stood', '[]')) s on conflict do nothing;
  end if;
end $$;
-- +goose StatementEnd

-- What names a record may be projected before it while an export is restored;
-- everywhere else each statement is checked at its end, as before.
-- +goose StatementBegin
do $$ declare c record; begin
  for c in
    select con.conname, con.conrelid::regclass as tab from pg_constraint con
     where con.contype = 'f' and con.connamespace = current_schema()::regnamespace
       and con.confrelid in ('specimen'::regclass, 'supply'::regclass, 'batch'::regclass)
  loop
    execute format('alter table %s alter constraint %I deferrable initially immediate', c.tab, c.conname);
  end loop;
end $$;
-- +goose StatementEnd

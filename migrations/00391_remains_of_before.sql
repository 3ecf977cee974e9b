-- +goose Up
-- What is left of a specimen whose words were redacted says that it is restricted, and nothing where it is not: so
-- do exports of before.
-- +goose StatementBegin
create or replace function remains_of(p_institution uuid, p_kind text, p_record uuid) returns jsonb
language plpgsql stable set timezone = 'UTC' as $$
declare remains jsonb;
begin
  execute format('select to_jsonb(t) - ''institution_id'' - ''id'' - ''reach'' from %I t where institution_id = $1 and id = $2',
      replace(p_kind, '-', '_'))
     into remains using p_institution, p_record;
  if p_kind = 'treatment' then
    remains := remains || jsonb_build_object('was_on', coalesce(
      (select jsonb_agg(w.specimen_id order by w.specimen_id) from treatment_was_on w
        where w.institution_id = p_institution and w.treatment_id = p_record), '[]'));
  end if;
  if p_kind = 'specimen' then
    if remains ->> 'restricted' is distinct from 'true' then
      remains := remains - 'restricted';
    end if;
    remains := remains || jsonb_build_object('stood', coalesce(
      (select jsonb_agg(to_jsonb(s) - 'institution_id' - 'specimen_id' order by s.revision) from specimen_stood s
        where s.institution_id = p_institution and s.specimen_id = p_record), '[]'));
  end if;
  return remains;
end $$;

create or replace function put_remains(p_institution uuid, p_kind text, p_record uuid, p_remains jsonb) returns void
language plpgsql as $$
declare named text; kept text;
begin
  select string_agg(format('%I', a.attname), ', '), string_agg(format('%I = excluded.%1$I', a.attname), ', ')
           filter (where a.attname not in ('id', 'institution_id'))
    into named, kept from pg_attribute a
   where a.attrelid = replace(p_kind, '-', '_')::regclass and a.attnum > 0 and not a.attisdropped and a.attgenerated = '';
  execute format('insert into %1$I (%2$s) select %2$s from jsonb_populate_record(null::%1$I, $1) '
      'on conflict (id, institution_id) do update set %3$s',
      replace(p_kind, '-', '_'), named, kept)
    using jsonb_build_object('restricted', false) || p_remains || jsonb_build_object('institution_id', p_institution, 'id', p_record);
  if p_kind = 'treatment' then
    insert into treatment_was_on (institution_id, specimen_id, treatment_id)
    select p_institution, w::uuid, p_record from jsonb_array_elements_text(coalesce(p_remains -> 'was_on', '[]')) w
        on conflict do nothing;
  end if;
  if p_kind = 'specimen' then
    insert into specimen_stood
    select (jsonb_populate_record(null::specimen_stood,
               s || jsonb_build_object('institution_id', p_institution, 'specimen_id', p_record))).*
      from jsonb_array_elements(coalesce(p_remains -> 'stood', '[]')) s on conflict do nothing;
  end if;
end $$;
-- +goose StatementEnd

-- +goose Up
-- What may have happened between two days is found by index: the days that a date spans, to
-- the next of a few numbers, or 0 where a bound is open. See internal/postgres/reach.go.
-- +goose StatementBegin
do $$
declare d record;
begin
  for d in select * from (values
    ('treatment', 'earliest', 'latest', 'include (action, latest, specimen_id)'),
    ('plan', 'earliest', 'latest', ''),
    ('batch', 'made_earliest', 'made_latest', ''),
    ('supply', 'received', 'received_latest', ''),
    ('amount_change', 'earliest', 'latest', '')) x(of_table, first_day, last_day, with_columns)
  loop
    execute format('alter table %I add column reach int not null generated always as (case
        when %2$I is null or %3$I is null then 0 when %3$I - %2$I < 1 then 1 when %3$I - %2$I < 31 then 31
        when %3$I - %2$I < 366 then 366 when %3$I - %2$I < 3653 then 3653 when %3$I - %2$I < 36525 then 36525
        else 0 end) stored', d.of_table, d.first_day, d.last_day);
    execute format('create index %I on %I (institution_id, reach, %I, id) %s where not retracted',
      d.of_table || '_by_day', d.of_table, d.first_day, d.with_columns);
  end loop;
end $$;
-- +goose StatementEnd
drop index treatment_dated;
drop index batch_made;
drop index supply_received;

-- What remains of a redacted record is what was projected; a column that the database works
-- out itself is neither told nor put back.
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
    using p_remains || jsonb_build_object('institution_id', p_institution, 'id', p_record);
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

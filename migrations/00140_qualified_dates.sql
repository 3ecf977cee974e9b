-- +goose Up
-- A date that is uncertain or approximate may mean a unit of its own precision
-- more on each side (internal/edtf). What was projected before has the days of
-- the text alone, and is widened here. Words that were redacted cannot be asked.

-- The margin of one end of a date.
-- +goose StatementBegin
create function pg_temp.margin(p_end text) returns interval language sql immutable as $$
  select case when p_end !~ '[?~%]$' then null
              when p_end ~ '^\d{4}.$' then interval '1 year'
              when p_end ~ '^\d{4}-\d\d.$' then interval '1 month'
              when p_end ~ '^\d{4}-\d\d-\d\d.$' then interval '1 day' end
$$;

create function pg_temp.from_day(p_day date, p_date text) returns date language sql immutable as $$
  select coalesce(greatest((p_day - pg_temp.margin(split_part(p_date, '/', 1)))::date, date '0001-01-01'), p_day)
   where p_day is not null
$$;

create function pg_temp.to_day(p_day date, p_date text) returns date language sql immutable as $$
  select coalesce(least(((p_day + 1 + pg_temp.margin(split_part(p_date, '/', -1)))::date - 1), date '9999-12-31'), p_day)
   where p_day is not null
$$;
-- +goose StatementEnd

-- The statement in force of every record that names a qualified date.
create temporary table said on commit drop as
select distinct on (institution_id, record_id) institution_id, record_id, kind, body::json -> 'statement' as words
  from entry where body is not null and act in ('stated', 'amended') order by institution_id, record_id, revision desc;
delete from said where words::text !~ '[?~%]["/]';

update treatment t set earliest = pg_temp.from_day(earliest, d), latest = pg_temp.to_day(latest, d)
  from (select institution_id, record_id, words #>> '{dates,edtf}' as d from said where kind = 'treatment') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '[?~%]';
update plan t set earliest = pg_temp.from_day(earliest, d), latest = pg_temp.to_day(latest, d)
  from (select institution_id, record_id, words #>> '{treatment,dates,edtf}' as d from said where kind = 'plan') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '[?~%]';
update amount_change t set earliest = pg_temp.from_day(earliest, d), latest = pg_temp.to_day(latest, d)
  from (select institution_id, record_id, words #>> '{date,edtf}' as d from said where kind = 'amount-change') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '[?~%]';
update batch t set made_earliest = pg_temp.from_day(made_earliest, d), made_latest = pg_temp.to_day(made_latest, d)
  from (select institution_id, record_id, words #>> '{made,edtf}' as d from said where kind = 'batch') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '[?~%]';
update supply t set received = pg_temp.from_day(received, d), received_latest = pg_temp.to_day(received_latest, d)
  from (select institution_id, record_id, words #>> '{received,edtf}' as d from said where kind = 'supply') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '[?~%]';
update supply t set expiry = pg_temp.to_day(expiry, d)
  from (select institution_id, record_id, words #>> '{expiry,edtf}' as d from said where kind = 'supply') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '[?~%]';
update specimen t set split_earliest = pg_temp.from_day(split_earliest, d), split_latest = pg_temp.to_day(split_latest, d)
  from (select institution_id, record_id, words #>> '{partOf,date,edtf}' as d from said where kind = 'specimen') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '[?~%]';
update specimen_stood t set split_earliest = pg_temp.from_day(split_earliest, d), split_latest = pg_temp.to_day(split_latest, d)
  from (select institution_id, record_id, revision, body::json #>> '{statement,partOf,date,edtf}' as d
          from entry where kind = 'specimen' and body is not null) s
 where s.institution_id = t.institution_id and s.record_id = t.specimen_id and s.revision = t.revision and d ~ '[?~%]';

-- The layers are worked out again: the areas that they reach, and what follows
-- from dates.
delete from layers_cursor;
alter table layer_state add column areas text[] not null default '{}';

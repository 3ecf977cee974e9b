-- +goose Up
-- A season may be that of either half of the earth (internal/edtf): spring and autumn
-- are March to November, summer and winter June to the next February. What was
-- projected before has the months of the north alone, and is widened here. Words that
-- were redacted cannot be asked.

-- +goose StatementBegin
create function pg_temp.from_day(p_date text) returns date language sql immutable as $$
  select make_date(left(p_date, 4)::int, case when right(p_date, 1) in ('1', '3') then 3 else 6 end, 1)
$$;

create function pg_temp.to_day(p_date text) returns date language sql immutable as $$
  select case when right(p_date, 1) in ('1', '3') then make_date(left(p_date, 4)::int, 11, 30)
              when left(p_date, 4) = '9999' then date '9999-12-31'
              else make_date(left(p_date, 4)::int + 1, 3, 1) - 1 end
$$;
-- +goose StatementEnd

-- The statement in force of every record that names a season.
create temporary table said on commit drop as
select distinct on (institution_id, record_id) institution_id, record_id, kind, body::json -> 'statement' as words
  from entry where body is not null and act in ('stated', 'amended') order by institution_id, record_id, revision desc;
delete from said where words::text !~ '"\d{4}-2[1-4]"';

update treatment t set earliest = pg_temp.from_day(d), latest = pg_temp.to_day(d)
  from (select institution_id, record_id, words #>> '{dates,edtf}' as d from said where kind = 'treatment') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '^\d{4}-2[1-4]$';
update plan t set earliest = pg_temp.from_day(d), latest = pg_temp.to_day(d)
  from (select institution_id, record_id, words #>> '{treatment,dates,edtf}' as d from said where kind = 'plan') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '^\d{4}-2[1-4]$';
update amount_change t set earliest = pg_temp.from_day(d), latest = pg_temp.to_day(d)
  from (select institution_id, record_id, words #>> '{date,edtf}' as d from said where kind = 'amount-change') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '^\d{4}-2[1-4]$';
update batch t set made_earliest = pg_temp.from_day(d), made_latest = pg_temp.to_day(d)
  from (select institution_id, record_id, words #>> '{made,edtf}' as d from said where kind = 'batch') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '^\d{4}-2[1-4]$';
update supply t set received = pg_temp.from_day(d), received_latest = pg_temp.to_day(d)
  from (select institution_id, record_id, words #>> '{received,edtf}' as d from said where kind = 'supply') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '^\d{4}-2[1-4]$';
update specimen t set split_earliest = pg_temp.from_day(d), split_latest = pg_temp.to_day(d)
  from (select institution_id, record_id, words #>> '{partOf,date,edtf}' as d from said where kind = 'specimen') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '^\d{4}-2[1-4]$';
update supply t set expiry = pg_temp.to_day(d)
  from (select institution_id, record_id, words #>> '{expiry,edtf}' as d from said where kind = 'supply') s
 where s.institution_id = t.institution_id and s.record_id = t.id and d ~ '^\d{4}-2[1-4]$';
update specimen_stood t set split_earliest = pg_temp.from_day(d), split_latest = pg_temp.to_day(d)
  from (select institution_id, record_id, revision, body::json #>> '{statement,partOf,date,edtf}' as d
          from entry where kind = 'specimen' and body is not null) s
 where s.institution_id = t.institution_id and s.record_id = t.specimen_id and s.revision = t.revision
   and d ~ '^\d{4}-2[1-4]$';

-- The layers are worked out again: what follows from dates.
delete from layers_cursor;

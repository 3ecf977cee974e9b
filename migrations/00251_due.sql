-- +goose Up
-- What records say is to be done, and from which day on: internal/record/due.go. Day 0001-01-01 is
-- of a plan or a solution without a date.
create table due (
  institution_id uuid not null,
  record_id      uuid not null,
  what           text collate "C" not null,
  day            date not null,
  primary key (record_id, institution_id, what));
create index due_by_day on due (institution_id, day, what, record_id);

alter table due enable row level security;
create policy own on due
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

-- What was recorded before: the first and last days of a date that is a day, a month or a year,
-- with a margin of one unit where it is qualified, or of an interval of these. Seasons, sets and
-- dates with unspecified digits are read when their record is next amended.
-- +goose StatementBegin
create function pg_temp.first_day(p_date text) returns date language plpgsql immutable as $$
declare d text := rtrim(split_part(p_date, '/', 1), '?~%'); unit interval; first date;
begin
  unit := case when d ~ '^\d{4}$' then '1 year' when d ~ '^\d{4}-(0[1-9]|1[0-2])$' then '1 month'
               when d ~ '^\d{4}-(0[1-9]|1[0-2])-\d\d$' then '1 day' end;
  if unit is null or left(d, 4) = '0000' then return null; end if;
  first := (d || case when length(d) = 4 then '-01-01' when length(d) = 7 then '-01' else '' end)::date;
  return case when split_part(p_date, '/', 1) ~ '[?~%]$' then greatest((first - unit)::date, date '0001-01-01') else first end;
end $$;

create function pg_temp.last_day(p_date text) returns date language plpgsql immutable as $$
declare written text := split_part(p_date, '/', -1); d text := rtrim(split_part(p_date, '/', -1), '?~%'); unit interval; next date;
begin
  unit := case when d ~ '^\d{4}$' then '1 year' when d ~ '^\d{4}-(0[1-9]|1[0-2])$' then '1 month'
               when d ~ '^\d{4}-(0[1-9]|1[0-2])-\d\d$' then '1 day' end;
  if unit is null or left(d, 4) = '0000' then return null; end if;
  next := ((d || case when length(d) = 4 then '-01-01' when length(d) = 7 then '-01' else '' end)::date + unit)::date;
  return least(case when written ~ '[?~%]$' then (next + unit)::date else next end - 1, date '9999-12-31');
end $$;
-- +goose StatementEnd

create temporary table said on commit drop as
select distinct on (institution_id, record_id) institution_id, record_id, kind, body::jsonb -> 'statement' as words
  from entry where kind in ('treatment', 'plan', 'supply', 'batch', 'amount-change') and act in ('stated', 'amended')
 order by institution_id, record_id, revision desc;
delete from said where words is null;

insert into due (institution_id, record_id, what, day)
select institution_id, record_id, what, day from (
  select institution_id, record_id, 'next-check' as what,
         coalesce(pg_temp.first_day(words #>> '{nextCheck,edtf}'), pg_temp.last_day(words #>> '{nextCheck,edtf}')) as day
    from said where kind = 'treatment'
  union all
  select s.institution_id, s.record_id, 'drying', t.latest
    from said s join treatment t on t.institution_id = s.institution_id and t.id = s.record_id
   where s.kind = 'treatment' and s.words #>> '{drying,state}' in ('touch-dry', 'handling-dry')
  union all
  select s.institution_id, s.record_id, 'authorisation',
         coalesce(p.earliest, pg_temp.first_day(s.words #>> '{proposed,edtf}'), date '0001-01-01')
    from said s join plan p on p.institution_id = s.institution_id and p.id = s.record_id
   where s.kind = 'plan' and not p.authorised
  union all
  select s.institution_id, s.record_id, 'supply-expires', t.expiry
    from said s join supply t on t.institution_id = s.institution_id and t.id = s.record_id
   where s.kind = 'supply' and coalesce(s.words ->> 'state', '') not in ('empty', 'discarded')
  union all
  select institution_id, record_id, 'batch-expires', pg_temp.last_day(words #>> '{expires,edtf}')
    from said where kind = 'batch' and coalesce(words ->> 'state', '') not in ('spent', 'discarded')
  union all
  select s.institution_id, s.record_id, 'clear-check',
         coalesce(pg_temp.last_day(s.words #>> '{clearCheck,date,edtf}'), b.made_latest, date '0001-01-01')
    from said s join batch b on b.institution_id = s.institution_id and b.id = s.record_id
   where s.kind = 'batch' and s.words ->> 'state' = 'dissolving' and s.words #>> '{clearCheck,result}' is distinct from 'clear'
  union all
  select s.institution_id, s.record_id, 'strength-check', c.latest
    from said s join amount_change c on c.institution_id = s.institution_id and c.id = s.record_id
   where s.kind = 'amount-change' and c.kind in ('evaporated', 'topped-up') and s.words #> '{amount,quantity}' is null) x
 where day is not null;

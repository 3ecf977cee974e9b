-- +goose Up
-- Specimens that are restricted. Queries of a session whose setting app.withhold is 'on' read the words of what is on
-- record of such a specimen as told gives them.
alter table specimen add column restricted boolean not null default false;
create index specimen_restricted on specimen (institution_id) where restricted;

-- Whether a specimen is restricted: its own record, or one that it was merged with.
-- +goose StatementBegin
create function restricted_specimen(p_institution uuid, p_specimen uuid) returns boolean language sql stable as $$
  select exists (
    select from (
      select case when s.merged_into is null
                   and not exists (select from specimen m where m.institution_id = p_institution and m.merged_into = s.id)
                  then array[s.id] else array(select records_of(p_institution, survivor_of(p_institution, s.id))) end as ids
        from specimen s where s.institution_id = p_institution and s.id = p_specimen) f
      join specimen x on x.institution_id = p_institution and x.id = any(f.ids)
     where x.restricted)
$$;

-- Whether a record is restricted: a specimen, and a treatment or a plan of one or for one.
create function restricted(p_institution uuid, p_kind text, p_record uuid) returns boolean language plpgsql stable as $$
begin
  return case p_kind
    when 'specimen' then restricted_specimen(p_institution, p_record)
    when 'treatment' then exists (
      select from treatment t where t.institution_id = p_institution and t.id = p_record
         and (restricted_specimen(p_institution, t.specimen_id) or restricted_specimen(p_institution, t.joined_to_id)))
    when 'plan' then exists (
      select from plan t where t.institution_id = p_institution and t.id = p_record
         and (restricted_specimen(p_institution, t.specimen_id) or restricted_specimen(p_institution, t.joined_to_id)))
    else false end;
end $$;

-- Whether a record is withheld from this session.
create function withheld(p_institution uuid, p_kind text, p_record uuid) returns boolean language plpgsql stable as $$
begin
  return coalesce(current_setting('app.withhold', true), '') = 'on' and restricted(p_institution, p_kind, p_record);
end $$;

-- The body of an entry as this session is told it. What is withheld of a specimen keeps its numbers, its collection and
-- its hazards.
create function told(p_kind text, p_record uuid, p_body text) returns text language plpgsql stable as $$
declare
  institution uuid := nullif(current_setting('app.institution', true), '')::uuid;
  body jsonb;
begin
  if p_body is null or not withheld(institution, p_kind, p_record) then
    return p_body;
  end if;
  body := p_body::jsonb;
  return jsonb_strip_nulls(jsonb_build_object(
    'withheld', jsonb_build_object('because', 'restricted', 'specimen', case p_kind
      when 'treatment' then (select jsonb_build_object('id', t.specimen_id) from treatment t
                              where t.institution_id = institution and t.id = p_record)
      when 'plan' then (select jsonb_build_object('id', t.specimen_id) from plan t
                         where t.institution_id = institution and t.id = p_record) end),
    'mergedInto', case jsonb_typeof(body -> 'mergedInto') when 'string' then jsonb_build_object('id', body -> 'mergedInto')
                                                          else body -> 'mergedInto' end,
    'redactedRevisions', body -> 'redactedRevisions',
    'statement', case when p_kind = 'specimen' and body ? 'statement' then jsonb_build_object(
      'identifiers', (select jsonb_agg(i - 'remark') from jsonb_array_elements(body -> 'statement' -> 'identifiers') i),
      'collection', body -> 'statement' -> 'collection',
      'hazards', (select jsonb_agg(jsonb_build_object('hazard', h -> 'hazard', 'status', h -> 'status'))
                    from jsonb_array_elements(body -> 'statement' -> 'hazards') h)) end))::text;
end $$;

-- A change of a record that is withheld from this session fails.
create function not_withheld(p_institution uuid, p_kind text, p_record uuid) returns void language plpgsql as $$
begin
  if withheld(p_institution, p_kind, p_record) then
    raise exception 'the record is restricted' using errcode = 'MN002';
  end if;
end $$;
-- +goose StatementEnd

-- +goose Up
-- The only change of a fact: its words go, its digest and its place stay, and
-- never without an entry after it that says that they were taken. It runs as the
-- owner, and only for the institution that the caller acts for.
-- +goose StatementBegin
create or replace function redact(p_institution uuid, p_entry uuid) returns void
language plpgsql security definer set search_path = pg_catalog, public as $$
begin
  update public.entry e set body = null, nonce = null
   where e.institution_id = p_institution and e.id = p_entry
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid
     and exists (select from public.entry said
                  where said.institution_id = p_institution and said.record_id = e.record_id and said.revision > e.revision and said.act = 'redacted');
  if not found then
    raise exception 'no entry says that the words were taken' using errcode = 'check_violation', constraint = 'redaction_unsaid';
  end if;
end $$;
-- +goose StatementEnd

-- +goose Up
-- What opens in the name of a person ends when the person is erased, in the way of 00120: keys are revoked, and
-- lose their names; tokens are no longer known, and sessions are over.
-- +goose StatementBegin
create function shut_out(p_institution uuid, p_person uuid) returns void
language sql security definer set search_path = pg_catalog, public as $$
  delete from public.token_person where institution_id = p_institution and person_id = p_person
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid;
  delete from public.browser_session where institution_id = p_institution and person_id = p_person
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid;
  update public.access_key set revoked_at = coalesce(revoked_at, now()), name = 'erased'
   where institution_id = p_institution and person_id = p_person
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid
$$;
-- +goose StatementEnd
revoke all on function shut_out(uuid, uuid) from public;

-- +goose Up
-- The end of a key. It runs as the owner, so that the application's role can end
-- a key and not give it back, and only for the institution that the caller acts
-- for. Ending a key again changes nothing.
-- +goose StatementBegin
create function revoke_access_key(p_institution uuid, p_key uuid) returns void
language sql security definer set search_path = pg_catalog, public as $$
  update public.access_key set revoked_at = now()
   where institution_id = p_institution and id = p_key and revoked_at is null
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid
$$;
-- +goose StatementEnd
revoke all on function revoke_access_key(uuid, uuid) from public;

-- The end of a webhook's secrets but one, in the same way: an end only ever
-- comes nearer.
-- +goose StatementBegin
create function end_webhook_secrets(p_institution uuid, p_webhook uuid, p_but uuid, p_overlap interval) returns void
language sql security definer set search_path = pg_catalog, public as $$
  update public.webhook_secret set ends_at = least(ends_at, now() + p_overlap)
   where institution_id = p_institution and webhook_id = p_webhook and id <> p_but
     and p_institution = nullif(current_setting('app.institution', true), '')::uuid
$$;
-- +goose StatementEnd
revoke all on function end_webhook_secrets(uuid, uuid, uuid, interval) from public;

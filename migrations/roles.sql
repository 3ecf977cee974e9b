-- The roles' rights on this database; run after every migration, as the owner.
-- Safe to run again. The roles themselves are made by the caller: they are
-- cluster-wide, and their passwords are not in here. A role has the rights below
-- and no others: what an earlier version of this file gave is taken back first.
revoke all on all tables in schema public from meniscus_app, meniscus_worker;
grant usage on schema public to meniscus_app, meniscus_worker;
grant select on goose_db_version to meniscus_app, meniscus_worker;

-- The application states facts and never changes them.
grant select, insert on entry, request_key, source_record to meniscus_app;
grant insert (institution_id, entry_id) on unsealed to meniscus_app; -- its ticket is the database's to give
grant select on sequenced, institution, log_leaf to meniscus_app;
grant select, insert (institution_id, verifier) on log_key to meniscus_app;
grant execute on function redact(uuid, uuid) to meniscus_app;
grant select, insert on restored_sequence to meniscus_app;
grant execute on function sequence_restored(uuid) to meniscus_app;

-- A key is made as it is and can be ended; nothing else of it ever changes.
grant select, insert (institution_id, id, name, secret_sha256, scopes, person_id, request_id, expires_at, replaces)
  on access_key to meniscus_app;
grant execute on function revoke_access_key(uuid, uuid), end_access_key(uuid, uuid, timestamptz),
  shut_out(uuid, uuid) to meniscus_app;
grant select, insert, update (used_at) on key_use to meniscus_app;

grant select, insert on token_person to meniscus_app;
grant select, insert, delete on browser_session to meniscus_app;

-- What is in the access log stays there; the worker clears away what is old.
grant select, insert on access_log to meniscus_app;

-- Projections are the application's to keep up.
grant select, insert, update on person, specimen, supply, batch, amount_change, treatment, plan to meniscus_app;
grant select, insert on treatment_was_on, batch_was_in, specimen_stood, import_line to meniscus_app;
grant select, insert on import to meniscus_app;
grant update (state, position, digest, lines_read, taken, replayed, doubtful, refused, leased_until, finished_at) on import to meniscus_app;
grant select, insert, update on material to meniscus_app;
grant select on went_into to meniscus_app;
grant select, insert, delete on specimen_identifier, batch_input, batch_person, plan_area, plan_person, plan_use, treatment_area, treatment_person,
  treatment_use, treatment_use_candidate, treatment_removes, finding, due to meniscus_app;
grant select, insert, update on specimen_state, treatment_check, plan_check, layers_cursor to meniscus_app;
grant select, insert, delete on layer_state, layer_material to meniscus_app;
grant select, insert, update, delete on set_aside to meniscus_app;
grant select, insert on rule_tuning, collection_body to meniscus_app;

-- Webhooks are plumbing: they come and go.
grant select, insert, delete on webhook to meniscus_app;
grant update (stopped_at, stopped_why) on webhook to meniscus_app;
grant select, insert on webhook_secret to meniscus_app;
grant execute on function end_webhook_secrets(uuid, uuid, uuid, interval) to meniscus_app;
grant select, insert on delivery to meniscus_app;
grant update (due_at, attempts, failing_since) on delivery to meniscus_app;
grant select on delivery_attempt to meniscus_app;

-- Reports by the calendar are asked for by the application and made by the worker.
grant select, insert on report_schedule to meniscus_app;
grant update (revision, body, report, query, media_type, rule, starts, zone, period, each_missed, keep_days, webhooks, next_due_at, ended_at)
  on report_schedule to meniscus_app;
grant select on report_run, report_piece, report_notice to meniscus_app;

-- The worker seals, delivers and clears away; it reads everything but keys.
grant select on all tables in schema public to meniscus_worker;
revoke select on access_key, browser_session from meniscus_worker;
grant insert on sequenced, log_leaf to meniscus_worker;
grant delete on unsealed, request_key, access_log to meniscus_worker;
grant update (stopped_at, stopped_why) on webhook to meniscus_worker;
grant update on delivery to meniscus_worker;
grant insert, delete on delivery_attempt to meniscus_worker;
grant update (next_due_at) on report_schedule to meniscus_worker;
grant insert, update on report_run, report_notice to meniscus_worker;
grant insert, delete on report_piece to meniscus_worker;

do $$ declare t text; begin
  for t in select c.relname from pg_class c where c.relkind = 'r' and c.relrowsecurity and c.relnamespace = 'public'::regnamespace loop
    if not exists (select from pg_policies where schemaname = 'public' and tablename = t and policyname = 'worker') then
      execute format('create policy worker on %I to meniscus_worker using (true) with check (true)', t);
    end if;
  end loop;
end $$;

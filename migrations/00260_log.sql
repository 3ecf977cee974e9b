-- +goose Up
-- An institution's log (RFC 9162): what each entry's leaf adds to its tree. That is the
-- leaf's hash, and after it the hashes of the complete subtrees that end with the leaf, from
-- the smallest. Rows are added in the order of sequence, and never changed.
create table log_leaf (
  institution_id uuid not null,
  seq            bigint not null check (seq >= 1),
  hashes         bytea not null check (length(hashes) >= 32 and length(hashes) % 32 = 0),
  primary key (institution_id, seq));

-- The public keys that ever signed a log, so that old checkpoints can be checked.
create table log_key (
  institution_id uuid not null,
  verifier       text collate "C" not null,
  since          timestamptz not null default now(),
  primary key (verifier, institution_id));

-- +goose StatementBegin
do $$ declare t text; begin
  foreach t in array array['log_leaf', 'log_key'] loop
    execute format('alter table %I enable row level security', t);
    execute format($p$create policy own on %I
      using (institution_id = nullif(current_setting('app.institution', true), '')::uuid)$p$, t);
  end loop;
end $$;
-- +goose StatementEnd

-- What is restored brings its leaves: see 00160.
alter table restored_sequence add column hashes bytea not null;
-- +goose StatementBegin
create or replace function sequence_restored(p_institution uuid) returns bigint
language plpgsql security definer set search_path = pg_catalog, public as $$
declare numbered bigint;
begin
  if p_institution is distinct from nullif(current_setting('app.institution', true), '')::uuid
     or exists (select from public.sequenced where institution_id = p_institution)
     or exists (select from public.unsealed where institution_id = p_institution) then
    raise exception 'the institution is not empty' using errcode = 'check_violation', constraint = 'restored_into_empty';
  end if;
  insert into public.sequenced (institution_id, seq, entry_id, record_id, sealed_at)
  select institution_id, seq, entry_id, record_id, sealed_at from public.restored_sequence
   where institution_id = p_institution order by seq;
  get diagnostics numbered = row_count;
  insert into public.log_leaf (institution_id, seq, hashes)
  select institution_id, seq, hashes from public.restored_sequence where institution_id = p_institution order by seq;
  delete from public.restored_sequence where institution_id = p_institution;
  return numbered;
end $$;
-- +goose StatementEnd

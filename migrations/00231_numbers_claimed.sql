-- +goose Up
-- Refuses to register a specimen under a number that folds as another's does, if that
-- other one was registered since the caller looked: p_known are those that it saw. Who
-- registers such a number at the same moment waits until this transaction has ended.
-- +goose StatementBegin
create function claim_number(p_institution uuid, p_kind text, p_folded text, p_collection text, p_uncollected boolean, p_known uuid[])
returns void language plpgsql as $$
begin
  perform pg_advisory_xact_lock(hashtextextended(concat_ws(' ', p_institution, p_kind, p_folded), 0));
  if exists (select from specimen_identifier i
               join specimen s on s.institution_id = i.institution_id and s.id = i.specimen_id and not s.retracted
              where i.institution_id = p_institution and i.folded = p_folded and i.kind = p_kind
                and case when p_uncollected then i.collection is null
                         else p_collection = '' or i.collection = p_collection end
                and i.specimen_id <> all (p_known)) then
    raise exception 'such a number was registered meanwhile' using errcode = 'unique_violation', constraint = 'number_claimed';
  end if;
end $$;
-- +goose StatementEnd

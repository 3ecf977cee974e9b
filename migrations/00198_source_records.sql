-- +goose Up
-- Which record of a kind a source's id names: the one that was made with it, or one that was here before and that the
-- source stated later.
create table source_record (
  institution_id uuid not null,
  kind           text collate "C" not null,
  source_system  text collate "C" not null,
  source_id      text collate "C" not null,
  record_id      uuid not null,
  primary key (institution_id, source_system, source_id, kind));
insert into source_record (institution_id, kind, source_system, source_id, record_id)
select institution_id, kind, source_system, source_id, record_id from entry where source_id is not null and revision = 1;
drop index entry_source_of_kind;

alter table source_record enable row level security;
create policy own on source_record
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

-- Every revision of such a record has its source. The first that has it enters it; one with the source of another
-- record violates the table's key.
-- +goose StatementBegin
create function keep_source() returns trigger language plpgsql as $$
begin
  if not exists (select from source_record
                  where institution_id = new.institution_id and source_system = new.source_system
                    and source_id = new.source_id and kind = new.kind and record_id = new.record_id and new.revision > 1) then
    insert into source_record (institution_id, kind, source_system, source_id, record_id)
    values (new.institution_id, new.kind, new.source_system, new.source_id, new.record_id);
  end if;
  return null;
end $$;
-- +goose StatementEnd
create trigger entry_source after insert on entry for each row when (new.source_id is not null) execute function keep_source();

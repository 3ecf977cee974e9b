-- +goose Up
-- A source's record id names one record of each kind: its specimen 900 and its
-- treatment 900 are two.
create unique index entry_source_of_kind on entry (institution_id, source_system, source_id, kind)
  where source_id is not null and revision = 1;
drop index entry_source;

-- What a source last said of its record: the last revision whose words begin with
-- the digest of its statement. Revisions that somebody else made have none.
create index entry_said on entry (institution_id, record_id, revision) where body ^@ '{"sourceDigest":';

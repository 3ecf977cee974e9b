-- +goose Up
-- A number without spaces, dashes and case: two specimens of one collection
-- whose numbers of one kind are alike in it clash.
alter table specimen_identifier add column plain text collate "C";
update specimen_identifier set plain = lower(regexp_replace(normalize(value, NFKC), '[[:space:]‐‑‒–—―−-]', '', 'g'));
alter table specimen_identifier alter column plain set not null;
create index specimen_identifier_plain on specimen_identifier (institution_id, plain, kind, specimen_id);

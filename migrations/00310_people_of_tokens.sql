-- +goose Up
-- The person in whose name the holder of an access token records: found by the digest of the
-- issuer and its name for them, which is kept nowhere else.
create table token_person (
  institution_id uuid not null,
  subject_sha256 bytea not null check (length(subject_sha256) = 32),
  person_id      uuid not null,
  primary key (subject_sha256, institution_id));
alter table token_person enable row level security;
create policy own on token_person
  using (institution_id = nullif(current_setting('app.institution', true), '')::uuid);

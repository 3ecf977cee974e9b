-- +goose Up
-- What was read and changed: by which operation, with what outcome, and of which sort the record is, as the
-- address names it.
alter table access_log add column operation text collate "C", add column status int, add column sort text collate "C";

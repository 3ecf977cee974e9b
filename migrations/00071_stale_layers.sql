-- +goose Up
-- Finds the layers that were worked out on an earlier day.
create index specimen_state_computed on specimen_state (computed_on);

-- +goose Up
-- Ends a transaction that begins on a premise which no longer holds.
-- +goose StatementBegin
create function premise_broken() returns boolean language plpgsql as $$
begin
  raise exception 'what was remembered of the database is no longer so; it is asked anew' using errcode = 'MN001';
end $$;
-- +goose StatementEnd

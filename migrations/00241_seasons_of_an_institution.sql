-- +goose Up
-- Whose seasons an institution means; null where it does not say.
alter table institution add column seasons text constraint institution_seasons check (seasons in ('northern', 'southern'));

-- The layers are worked out again: what no solvent reaches, and what happened to a damaged one, is
-- kept of each now.
delete from layers_cursor;

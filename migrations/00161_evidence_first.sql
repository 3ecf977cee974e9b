-- +goose Up
-- What decides an answer about a layer comes first in its evidence, of which reports
-- keep the first entry: layers are worked out again.
delete from layers_cursor;

-- +goose Up
-- The strengths and contents of layers now come of everything on record of their
-- batches, so that all layers and findings are worked out again.
delete from layers_cursor;

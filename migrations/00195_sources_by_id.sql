-- +goose Up
-- A finding keeps its sources one a line, each with its id, its kind and its citation. What was kept as one text is a
-- source of that text.
update finding set source = 'earlier-' || left(md5(source), 16) || E'\t' || 'citation' || E'\t' ||
                            replace(replace(source, E'\n', ' '), E'\t', ' ')
 where source is not null;

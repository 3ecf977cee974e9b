-- +goose Up
-- A finding keeps whether it asks for what nobody recorded about a moment that is past, and what of the body would settle it.
alter table finding
  add column unanswerable boolean not null default false,
  add column traits       text[]  not null default '{}';

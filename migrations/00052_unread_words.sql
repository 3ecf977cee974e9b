-- +goose Up
-- Words are looked through where nobody has said what they mean.
create index treatment_use_in_words on treatment_use (institution_id, treatment_id, position) where words is not null;

package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"
)

// CollectionBody is how the bodies of a collection's specimens are made, where their own
// records do not say it.
type CollectionBody struct {
	Collection string    `db:"collection"`
	Traits     string    `db:"traits"` // JSON, as it was sent
	By         uuid.UUID `db:"chosen_by"`
	At         time.Time `db:"chosen_at"`
}

// CollectionBodies gives the choices in force: the last one of each collection, at most
// limit.
func (s Tenant) CollectionBodies(ctx context.Context, limit int) ([]CollectionBody, error) {
	return collect[CollectionBody](ctx, s, `
		select distinct on (collection) collection, traits, chosen_by, chosen_at from collection_body
		 where institution_id = $1 order by collection, id desc limit $2`, s.institution, limit)
}

// ChooseCollectionBody adds a choice. What depends on layers is computed again.
func (s Tenant) ChooseCollectionBody(ctx context.Context, id uuid.UUID, c CollectionBody) error {
	b := newBatch(s.institution)
	b.Queue(`insert into collection_body (institution_id, collection, id, traits, chosen_by) values ($1, $2, $3, $4, $5)`,
		s.institution, c.Collection, id, c.Traits, c.By)
	b.Queue(`update layers_cursor set seq = 0 where institution_id = $1`, s.institution)
	return s.run(ctx, b)
}

// ChosenBody is a choice of how a collection's bodies are made, with its id.
type ChosenBody struct {
	ID uuid.UUID `db:"id"`
	CollectionBody
}

// ChosenBodies gives every choice that was ever made, in the order of their ids, after one.
func (s Tenant) ChosenBodies(ctx context.Context, after uuid.UUID, limit int) ([]ChosenBody, error) {
	return collect[ChosenBody](ctx, s, `
		select id, collection, traits, chosen_by, chosen_at from collection_body
		 where institution_id = $1 and id > $2 order by id limit $3`, s.institution, after, limit)
}

// ChooseBody restores a choice of how a collection's bodies are made.
func (r *Restoration) ChooseBody(ctx context.Context, c ChosenBody) error {
	b := newBatch(r.institution)
	b.Queue(`insert into collection_body (institution_id, collection, id, traits, chosen_by, chosen_at)
		values ($1, $2, $3, $4, $5, $6)`, r.institution, c.Collection, c.ID, c.Traits, c.By, c.At)
	return refused(r.run(ctx, b))
}

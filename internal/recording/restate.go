package recording

import (
	"context"
	"sync"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// Restated is a new statement of an existing record, of the contract's schema.
type Restated struct {
	Kind  record.Kind
	Self  uuid.UUID
	Words []byte
}

// UnderstandAll is Understand of many statements, whose names are looked up in one round trip. The
// faults of each stand apart. Whom or what it names must be on record: it implies no record.
func (a Author) UnderstandAll(ctx context.Context, of []Restated) ([]Draft, []fault.List, error) {
	base, err := a.Materials(ctx)
	if err != nil {
		return nil, nil, err
	}
	seasons := sync.OnceValues(func() (*string, error) { return a.seasons(ctx) })
	drafts, faults := make([]Draft, len(of)), make([]fault.List, len(of))
	var read []*statement.Reading
	var places []int
	for i, x := range of {
		reading, words, err := a.readAgain(ctx, x, base, seasons)
		if found := fault.From(err); len(found) > 0 && found[0].Kind != fault.Forbidden {
			faults[i] = found
			continue
		}
		if err != nil {
			return nil, nil, err
		}
		drafts[i] = Draft{Words: words, Value: reading.Value, reading: reading}
		read, places = append(read, reading), append(places, i)
	}
	resolved, err := resolve(ctx, a.Store, read)
	if err != nil {
		return nil, nil, err
	}
	for n, i := range places {
		faults[i] = append(faults[i], resolved.Faults[n]...)
		faults[i] = append(faults[i], newIn(resolved.Implied, read[n])...)
		if len(faults[i]) > 0 {
			continue
		}
		if drafts[i].Words, err = read[n].Words(drafts[i].Words); err != nil {
			return nil, nil, err
		}
	}
	return drafts, faults, nil
}

// readAgain reads a statement and checks it by itself.
func (a Author) readAgain(
	ctx context.Context, x Restated, base *material.Base, seasons func() (*string, error),
) (*statement.Reading, []byte, error) {
	words, err := inMonths(x.Words, seasons)
	if err != nil {
		return nil, nil, err
	}
	reading, err := statement.Read(x.Kind, words)
	if err != nil {
		return nil, nil, err
	}
	if err := a.mayState(ctx, x.Self, reading.Value); err != nil {
		return nil, nil, err
	}
	faults, err := reading.Check(x.Self, base)
	if err == nil {
		err = faults.Err()
	}
	return reading, words, err
}

// newIn are the faults of a reading that names records which are not here yet.
func newIn(implied []postgres.Entry, r *statement.Reading) (faults fault.List) {
	for _, e := range implied {
		if pointer, named := r.Where(e.Record); named {
			faults.Add(string(e.Kind)+"-unknown", pointer, "This is new here; record it first, and name it by its id.")
		}
	}
	return faults
}

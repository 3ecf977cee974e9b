package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// Refs is what a statement names of other records.
type Refs struct {
	IDs         map[record.Kind][]uuid.UUID
	Names       []string // people by name, folded
	Identifiers []SpecimenNumber
}

// SpecimenNumber is a specimen by the catalogue's identifier.
type SpecimenNumber struct {
	Kind       string
	Value      string
	Collection string // any if empty
}

// Resolved is what the names mean here.
type Resolved struct {
	Known     map[uuid.UUID]bool
	People    map[string][]uuid.UUID
	Specimens map[SpecimenNumber][]uuid.UUID
}

// Resolve looks up everything that a statement names, in one round trip.
func (s *Store) Resolve(ctx context.Context, institution uuid.UUID, refs Refs) (Resolved, error) {
	b := newBatch(institution)
	r := Resolved{Known: map[uuid.UUID]bool{}, People: map[string][]uuid.UUID{}, Specimens: map[SpecimenNumber][]uuid.UUID{}}
	for kind, ids := range refs.IDs {
		queueKnown(b, kind, ids, r.Known)
	}
	if len(refs.Names) > 0 {
		queuePeople(b, refs.Names, r.People)
	}
	asked := map[SpecimenNumber]bool{}
	for _, number := range refs.Identifiers {
		if !asked[number] {
			queueNumber(b, number, r.Specimens)
		}
		asked[number] = true
	}
	if b.Len() == 1 {
		return r, nil
	}
	return r, s.run(ctx, b)
}

func queueKnown(b *batch, kind record.Kind, ids []uuid.UUID, known map[uuid.UUID]bool) {
	type row struct{ ID uuid.UUID }
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			known[r.ID] = true
		}
	}, &rows, `select id from `+tableOf[kind]+` where institution_id = $1 and id = any($2)`, b.institution, ids)
}

func queuePeople(b *batch, names []string, people map[string][]uuid.UUID) {
	type row struct {
		ID         uuid.UUID
		FoldedName string
	}
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			people[r.FoldedName] = append(people[r.FoldedName], r.ID)
		}
	}, &rows, `
		select id, folded_name from person
		 where institution_id = $1 and folded_name = any($2) and not retracted order by id`, b.institution, names)
}

func queueNumber(b *batch, number SpecimenNumber, specimens map[SpecimenNumber][]uuid.UUID) {
	type row struct{ SpecimenID uuid.UUID }
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			specimens[number] = append(specimens[number], r.SpecimenID)
		}
	}, &rows, `
		select distinct survivor_of($1, i.specimen_id) as specimen_id from specimen_identifier i
		  join specimen s on s.id = i.specimen_id and s.institution_id = i.institution_id
		 where i.institution_id = $1 and i.value = $2 and i.kind = $3 and not s.retracted
		   and ($4::text is null or i.collection = $4) order by 1`,
		b.institution, number.Value, number.Kind, orNull(number.Collection))
}

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

// Named is a record as it is named: an id that is known as one kind says nothing
// of another.
type Named struct {
	Kind record.Kind
	ID   uuid.UUID
}

// Resolved is what the names mean here.
type Resolved struct {
	Known     map[Named]bool
	People    map[string][]uuid.UUID
	Specimens map[SpecimenNumber][]uuid.UUID
}

// Resolve looks up everything that a statement names, in one round trip.
func (s Tenant) Resolve(ctx context.Context, refs Refs) (Resolved, error) {
	r := Resolved{Known: map[Named]bool{}, People: map[string][]uuid.UUID{}, Specimens: map[SpecimenNumber][]uuid.UUID{}}
	if len(refs.IDs)+len(refs.Names)+len(refs.Identifiers) == 0 {
		return r, nil
	}
	b := newBatchPlannedAnew(s.institution)
	for kind, ids := range refs.IDs {
		queueKnown(b, kind, ids, r.Known)
	}
	if len(refs.Names) > 0 {
		queuePeople(b, refs.Names, r.People)
	}
	if len(refs.Identifiers) > 0 {
		queueNumbers(b, refs.Identifiers, r.Specimens)
	}
	return r, s.run(ctx, b)
}

func queueKnown(b *batch, kind record.Kind, ids []uuid.UUID, known map[Named]bool) {
	type row struct{ ID uuid.UUID }
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			known[Named{kind, r.ID}] = true
		}
	}, &rows, `select id from `+kinds[kind].name+` where institution_id = $1 and id = any($2)`, b.institution, ids)
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

func queueNumbers(b *batch, numbers []SpecimenNumber, specimens map[SpecimenNumber][]uuid.UUID) {
	var values, kinds, collections []string
	for _, n := range numbers {
		values, kinds, collections = append(values, n.Value), append(kinds, n.Kind), append(collections, n.Collection)
	}
	type row struct {
		Value, Kind, Collection string
		SpecimenID              uuid.UUID
	}
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			number := SpecimenNumber{Kind: r.Kind, Value: r.Value, Collection: r.Collection}
			specimens[number] = append(specimens[number], r.SpecimenID)
		}
	}, &rows, `
		select distinct a.value, a.kind, a.collection, `+survivor+` as specimen_id
		  from unnest($2::text[], $3::text[], $4::text[]) as a(value, kind, collection)
		 cross join lateral (
			select i.specimen_id, s.merged_into from specimen_identifier i
			  join specimen s on s.id = i.specimen_id and s.institution_id = i.institution_id
			 where i.institution_id = $1 and i.value = a.value and i.kind = a.kind and not s.retracted
			   and (a.collection = '' or i.collection = a.collection)) as hit
		 order by 1, 2, 3, 4`, b.institution, values, kinds, collections)
}

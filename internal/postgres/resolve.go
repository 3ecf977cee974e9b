package postgres

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// Refs are the references of a statement to other records.
type Refs struct {
	IDs         map[record.Kind][]uuid.UUID
	Names       []string // people by name, folded
	Identifiers []SpecimenNumber
	// New are numbers that a specimen is to be registered under; the same and near
	// spellings are looked up, and not the specimens that they name.
	New []SpecimenNumber
	// Uncollected are numbers that are looked for among specimens without a collection.
	Uncollected []SpecimenNumber
}

// SpecimenNumber is a specimen by the catalogue's identifier.
type SpecimenNumber struct {
	Kind       string
	Value      string
	Collection string // any if empty
	// Uncollected restricts the look-up to specimens without a collection.
	Uncollected bool
}

// Named is a reference to a record by kind and id: the same id of another kind is
// another record.
type Named struct {
	Kind record.Kind
	ID   uuid.UUID
}

// Resolved is the result of Resolve: the records that the references name.
type Resolved struct {
	Known     map[Named]bool
	People    map[string][]uuid.UUID
	Specimens map[SpecimenNumber][]uuid.UUID
	// Alike are specimens of the collection whose numbers of the kind fold as these do:
	// at most record.MaxNear for each, the same spelling first.
	Alike map[SpecimenNumber][]Numbered
	Near  map[SpecimenNumber][]Near // of new ones
}

// Resolve looks up all references of a statement, in one round trip.
func (s Tenant) Resolve(ctx context.Context, refs Refs) (Resolved, error) {
	r := Resolved{Known: map[Named]bool{}, People: map[string][]uuid.UUID{}, Specimens: map[SpecimenNumber][]uuid.UUID{},
		Alike: map[SpecimenNumber][]Numbered{}, Near: map[SpecimenNumber][]Near{}}
	if len(refs.IDs)+len(refs.Names)+len(refs.Identifiers)+len(refs.New) == 0 {
		return r, nil
	}
	b := newBatchPlannedAnew(s.institution)
	for kind, ids := range refs.IDs {
		queueKnown(b, kind, ids, r.Known)
	}
	if len(refs.Names) > 0 {
		queuePeople(b, refs.Names, r.People)
	}
	// Each statement sees what is committed by then: a specimen that was seen to carry a
	// number alike is also found by the number.
	if numbers := slices.Concat(refs.Identifiers, refs.New, refs.Uncollected); len(numbers) > 0 {
		queueAlike(b, numbers, r.Alike)
	}
	if len(refs.Identifiers) > 0 {
		queueNumbers(b, refs.Identifiers, r.Specimens)
	}
	if len(refs.New) > 0 {
		queueNear(b, refs.New, r.Near)
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
			   and (a.collection = '' or i.collection = a.collection)
			 order by i.specimen_id limit $5) as hit
		 order by 1, 2, 3, 4`, b.institution, values, kinds, collections, mostHits)
}

// mostAlike is how many specimens of one number are read: a museum may have a hundred
// thousand without a number, all of them written "s.n.".
const mostAlike = 1000

// queueAlike looks for the numbers of specimens that fold as these do, in the same
// collection and of the same kind.
func queueAlike(b *batch, numbers []SpecimenNumber, alike map[SpecimenNumber][]Numbered) {
	var asked []SpecimenNumber
	var nth []int32
	var values, folds, kinds, collections []string
	var uncollected []bool
	seen := map[SpecimenNumber]bool{}
	for _, n := range numbers {
		if seen[n] {
			continue
		}
		seen[n], asked, nth = true, append(asked, n), append(nth, int32(len(nth)))
		values, folds = append(values, n.Value), append(folds, record.Fold(n.Value))
		kinds, collections = append(kinds, n.Kind), append(collections, n.Collection)
		uncollected = append(uncollected, n.Uncollected)
	}
	type row struct {
		Nth int32
		Numbered
	}
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			number := asked[r.Nth]
			alike[number] = append(alike[number], r.Numbered)
		}
	}, &rows, `
		select a.nth, a.value as asked, `+survivor+` as specimen_id, hit.specimen_id as registered, hit.kind, hit.value,
		       hit.collection
		  from unnest($2::int[], $3::text[], $4::text[], $5::text[], $6::text[], $7::boolean[])
		       as a(nth, value, folded, kind, collection, uncollected)
		 cross join lateral (
			select i.specimen_id, i.kind, i.value, i.collection, s.merged_into from (
				select * from specimen_identifier where institution_id = $1 and folded = a.folded and kind = a.kind
				 order by specimen_id limit $9) as i
			  join specimen s on s.id = i.specimen_id and s.institution_id = $1 and not s.retracted
			 where case when a.uncollected then i.collection is null
			            else a.collection = '' or i.collection = a.collection end
			 order by i.value <> a.value, i.specimen_id, i.position limit $8) as hit
		 order by a.nth, hit.value <> a.value, hit.specimen_id`,
		b.institution, nth, values, folds, kinds, collections, uncollected, record.MaxNear, mostAlike)
}

package recording

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// naming looks up what readings name of other records, all in one round trip,
// and puts ids in the place of names. A new name in several readings is one
// person, and a new number one specimen.
type naming struct {
	found   postgres.Resolved
	implied []postgres.Entry // what is not known yet: to be stored first
}

// Resolve looks everything up, and gives the records that are implied and the
// faults of each reading.
func Resolve(ctx context.Context, store postgres.Tenant, readings ...*statement.Reading) (
	implied []postgres.Entry, faults []fault.List, err error,
) {
	found, err := store.Resolve(ctx, refsOf(readings))
	if err != nil {
		return nil, nil, err
	}
	n := naming{found: found}
	faults = make([]fault.List, len(readings))
	for i, r := range readings {
		for _, named := range r.Records {
			if !found.Known[postgres.Named{Kind: named.Kind, ID: named.ID}] {
				faults[i].Add(string(named.Kind)+"-unknown", named.Pointer,
					"There is no %s with this id here; record it first.", string(named.Kind))
			}
		}
		n.people(r, &faults[i])
		n.specimens(r, &faults[i])
	}
	return n.implied, faults, nil
}

func refsOf(readings []*statement.Reading) postgres.Refs {
	refs := postgres.Refs{IDs: map[record.Kind][]uuid.UUID{}}
	for _, r := range readings {
		for _, named := range r.Records {
			refs.IDs[named.Kind] = append(refs.IDs[named.Kind], named.ID)
		}
		for _, p := range r.People {
			refs.Names = append(refs.Names, record.FoldName(p.Name))
		}
		for _, n := range r.Specimens {
			refs.Identifiers = append(refs.Identifiers, numberOf(n))
		}
	}
	return refs
}

func numberOf(n statement.NamedSpecimen) postgres.SpecimenNumber {
	return postgres.SpecimenNumber{Kind: n.Number.Kind, Value: n.Number.Value, Collection: n.Collection}
}

// people puts ids in the place of names; a new name becomes a person.
func (n *naming) people(r *statement.Reading, faults *fault.List) {
	for _, p := range r.People {
		folded := record.FoldName(p.Name)
		known := n.found.People[folded]
		if len(known) > 1 {
			*faults = append(*faults, &fault.Fault{Code: "person-ambiguous", Pointer: p.Pointer + "/name",
				Detail: fmt.Sprintf("%d people here have this name; say which by id.", len(known)),
				Extra:  map[string]any{"candidates": known}})
			continue
		}
		if len(known) == 0 {
			known = []uuid.UUID{uuid.Must(uuid.NewV7())}
			n.found.People[folded] = known
			n.imply(known[0], api.PersonStatement{DisplayName: p.Name}, &record.Person{DisplayName: p.Name})
		}
		r.PutPerson(p, known[0])
	}
}

// specimens puts ids in the place of numbers; a number that is not registered
// yet registers the specimen.
func (n *naming) specimens(r *statement.Reading, faults *fault.List) {
	for _, s := range r.Specimens {
		number := numberOf(s)
		known := n.found.Specimens[number]
		if len(known) > 1 {
			*faults = append(*faults, &fault.Fault{Code: "specimen-ambiguous", Pointer: s.Pointer + "/identifier",
				Detail: fmt.Sprintf("%d specimens here carry this number; say which by id, or name the collection.", len(known)),
				Extra:  map[string]any{"candidates": known}})
			continue
		}
		if len(known) == 0 {
			known = []uuid.UUID{uuid.Must(uuid.NewV7())}
			n.found.Specimens[number] = known
			n.register(known[0], s)
		}
		r.PutSpecimen(s, known[0])
	}
}

// register implies a specimen of which a number is known, and perhaps a collection.
func (n *naming) register(id uuid.UUID, s statement.NamedSpecimen) {
	number := api.Identifier{Kind: api.IdentifierKind(s.Number.Kind), Value: s.Number.Value}
	words := api.SpecimenStatement{Identifiers: []api.Identifier{number}}
	if s.Collection != "" {
		words.Collection = &s.Collection
	}
	n.imply(id, words, &record.Specimen{Identifiers: []record.Identifier{s.Number}, Collection: s.Collection})
}

// imply is a record that a statement makes by naming it.
func (n *naming) imply(id uuid.UUID, words any, value record.Value) {
	body, _ := wire.Encode(words) // texts cannot fail to encode
	n.implied = append(n.implied, First(id, body, value))
}

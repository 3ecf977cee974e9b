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

// naming looks up the references of readings to other records, all in one round trip,
// and replaces names with ids. A new name in several readings is one person, and a new
// number one specimen.
type naming struct {
	found   postgres.Resolved
	implied []postgres.Entry // new records that must be stored first
	// registered are the numbers that are new, and folds what they fold to.
	registered map[postgres.SpecimenNumber]NewNumber
	folds      map[postgres.SpecimenNumber]bool
}

// A Resolution is the result of resolving the references of readings.
type Resolution struct {
	Implied []postgres.Entry // records that they imply, such as a person by name
	// Faults and Numbers are lists for each reading. The numbers are those under which
	// it registers specimens that it names.
	Faults  []fault.List
	Numbers [][]NewNumber
}

// Resolve looks up all references of readings.
func Resolve(ctx context.Context, store postgres.Tenant, readings ...*statement.Reading) (Resolution, error) {
	return resolve(ctx, store, readings)
}

func resolve(
	ctx context.Context, store postgres.Tenant, readings []*statement.Reading, own ...NewNumber,
) (Resolution, error) {
	refs := refsOf(readings)
	for _, number := range own {
		refs.New = append(refs.New, number.among())
		if number.Collection != "" {
			refs.Uncollected = append(refs.Uncollected, number.amongUncollected())
		}
	}
	found, err := store.Resolve(ctx, refs)
	if err != nil {
		return Resolution{}, err
	}
	n := naming{found: found, registered: map[postgres.SpecimenNumber]NewNumber{},
		folds: map[postgres.SpecimenNumber]bool{}}
	out := Resolution{Faults: make([]fault.List, len(readings)), Numbers: make([][]NewNumber, len(readings))}
	for i, r := range readings {
		for _, named := range r.Records {
			if !found.Known[postgres.Named{Kind: named.Kind, ID: named.ID}] {
				out.Faults[i].Add(string(named.Kind)+"-unknown", named.Pointer,
					"There is no %s with this id here; record it first.", string(named.Kind))
			}
		}
		n.people(r, &out.Faults[i])
		out.Numbers[i] = n.specimens(r, &out.Faults[i])
	}
	for _, number := range own {
		number.Alike, number.near, number.looked = found.Alike[number.among()], found.Near[number.among()], true
		if number.Collection != "" {
			number.uncollected = found.Alike[number.amongUncollected()]
		}
		out.Numbers[0] = append(out.Numbers[0], number)
	}
	out.Implied = n.implied
	return out, nil
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

// people replaces names with ids; a new name becomes a person.
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
			n.imply(known[0], api.PersonStatement{Name: p.Name}, &record.Person{Name: p.Name})
		}
		r.PutPerson(p, known[0])
	}
}

// specimens replaces numbers with ids; a new number registers a specimen and is among
// the results.
func (n *naming) specimens(r *statement.Reading, faults *fault.List) (registered []NewNumber) {
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
		if fresh, ok := n.registered[number]; ok {
			fresh.Pointer, fresh.DistinctFrom = s.Pointer+"/identifier", s.DistinctFrom
			registered = append(registered, fresh)
		}
		r.PutSpecimen(s, known[0])
	}
	return registered
}

// register implies a specimen with a number and perhaps a collection.
func (n *naming) register(id uuid.UUID, s statement.NamedSpecimen) {
	asked := numberOf(s)
	fold := postgres.SpecimenNumber{Kind: asked.Kind, Value: record.Fold(asked.Value), Collection: asked.Collection}
	n.registered[asked] = NewNumber{Identifier: s.Number, Collection: s.Collection, Specimen: id,
		Alike: n.found.Alike[asked], Beside: n.folds[fold]}
	n.folds[fold] = true
	number := api.Identifier{Kind: api.IdentifierKind(s.Number.Kind), Value: s.Number.Value}
	words := api.SpecimenStatement{Identifiers: []api.Identifier{number}}
	if s.Collection != "" {
		words.Collection = &s.Collection
	}
	n.imply(id, words, &record.Specimen{Identifiers: []record.Identifier{s.Number}, Collection: s.Collection})
}

// imply adds a record that a statement makes by naming it.
func (n *naming) imply(id uuid.UUID, words any, value record.Value) {
	body, _ := wire.Encode(words) // texts cannot fail to encode
	n.implied = append(n.implied, First(id, body, value))
}

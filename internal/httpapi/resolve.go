package httpapi

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// references gathers what a statement names of other records, looks it all up
// in one round trip, and puts ids in the place of names.
type references struct {
	base      string // what stands before every pointer
	faults    fault.List
	replaced  map[jsontext.Pointer]uuid.UUID // what names have become, by where they stood
	ids       []namedRecord
	people    []namedPerson
	specimens []namedSpecimen
	taken     bool // the statement was recorded before: what it names by id is not looked up
}

type namedRecord struct {
	kind    record.Kind
	id      uuid.UUID
	pointer string
}

type namedPerson struct {
	ref     *api.PersonRef
	pointer string
}

type namedSpecimen struct {
	ref     *api.SpecimenRef
	pointer string
}

func (r *references) record(kind record.Kind, id uuid.UUID, pointer string) {
	r.ids = append(r.ids, namedRecord{kind, id, r.base + pointer})
}

func (r *references) person(ref *api.PersonRef, pointer string) {
	switch {
	case ref == nil:
	case ref.Id != nil:
		r.record(record.KindPerson, *ref.Id, pointer+"/id")
	case ref.Name != nil:
		r.people = append(r.people, namedPerson{ref, r.base + pointer})
	}
}

func (r *references) involvements(list *[]api.Involvement, pointer string) {
	if list == nil {
		return
	}
	for i := range *list {
		r.person(&(*list)[i].Person, fmt.Sprintf("%s/%d/person", pointer, i))
		r.either((*list)[i].Organisation != nil, (*list)[i].OrganisationAnswer, fmt.Sprintf("%s/%d/organisation", pointer, i))
	}
}

// either faults a member that is said although an answer stands in its place.
func (r *references) either(said bool, instead *api.Answer, pointer string) {
	if said && instead != nil {
		r.faults.Add("choice", r.base+pointer+"Answer", "It is said, and said not to be: leave this out, or what it stands in the place of.")
	}
}

func (r *references) specimen(ref *api.SpecimenRef, pointer string) {
	switch {
	case ref == nil:
	case ref.Id != nil:
		r.record(record.KindSpecimen, *ref.Id, pointer+"/id")
	case ref.Identifier != nil:
		r.specimens = append(r.specimens, namedSpecimen{ref, r.base + pointer})
	}
}

// resolve looks everything up. What is implied (a person or a specimen that is
// not known yet) comes back as entries to be stored first.
func (r *references) resolve(ctx context.Context, s *Server, institution uuid.UUID) ([]postgres.Entry, error) {
	if r.taken {
		r.ids = nil
	}
	found, err := s.store.Resolve(ctx, institution, r.asked())
	if err != nil {
		return nil, err
	}
	for _, n := range r.ids {
		if !found.Known[postgres.Named{Kind: n.kind, ID: n.id}] {
			r.faults.Add(string(n.kind)+"-unknown", n.pointer, "There is no %s with this id here; record it first.", string(n.kind))
		}
	}
	var implied []postgres.Entry
	implied = append(implied, r.namePeople(found)...)
	implied = append(implied, r.numberSpecimens(found)...)
	return implied, r.faults.Err()
}

// implied resolves for a caller who may lack the scope of what is implied: a name
// that is new would record a person, which the key's scopes do not open by the
// way.
func (r *references) implied(s *Server, c *call) ([]postgres.Entry, error) {
	implied, err := r.resolve(c.ctx(), s, c.principal.Institution)
	if err != nil {
		return nil, err
	}
	var faults fault.List
	for _, e := range implied {
		if scope := scopeOf[e.Kind]; !c.principal.May(scope) {
			faults = append(faults, &fault.Fault{Kind: fault.Forbidden, Code: "scope-missing", Pointer: r.whereNamed(e.Record),
				Detail: fmt.Sprintf("This is new here, and recording it needs a key with the scope %q; name a %s that is recorded, or let somebody record it first.", string(scope), string(e.Kind))})
		}
	}
	return implied, faults.Err()
}

// whereNamed is where a record that is implied was named first.
func (r *references) whereNamed(id uuid.UUID) string {
	var first string
	for pointer, named := range r.replaced {
		if named == id && (first == "" || string(pointer) < first) {
			first = string(pointer)
		}
	}
	return first
}

func (r *references) asked() postgres.Refs {
	refs := postgres.Refs{IDs: map[record.Kind][]uuid.UUID{}}
	for _, n := range r.ids {
		refs.IDs[n.kind] = append(refs.IDs[n.kind], n.id)
	}
	for _, p := range r.people {
		refs.Names = append(refs.Names, record.FoldName(*p.ref.Name))
	}
	for _, n := range r.specimens {
		refs.Identifiers = append(refs.Identifiers, numberOf(n.ref))
	}
	return refs
}

func numberOf(ref *api.SpecimenRef) postgres.SpecimenNumber {
	n := postgres.SpecimenNumber{Kind: string(ref.Identifier.Kind), Value: ref.Identifier.Value}
	if ref.Identifier.Collection != nil {
		n.Collection = *ref.Identifier.Collection
	}
	return n
}

// namePeople puts ids in the place of names; a new name becomes a person.
func (r *references) namePeople(found postgres.Resolved) []postgres.Entry {
	var implied []postgres.Entry
	for _, p := range r.people {
		folded := record.FoldName(*p.ref.Name)
		known := found.People[folded]
		if len(known) > 1 {
			r.faults = append(r.faults, &fault.Fault{Code: "person-ambiguous", Pointer: p.pointer + "/name",
				Detail: fmt.Sprintf("%d people here have this name; say which by id.", len(known)), Extra: map[string]any{"candidates": known}})
			continue
		}
		if len(known) == 0 {
			id := uuid.Must(uuid.NewV7())
			known = []uuid.UUID{id}
			found.People[folded] = known
			implied = append(implied, impliedPerson(id, *p.ref.Name))
		}
		*p.ref = api.PersonRef{Id: &known[0]}
		r.replace(p.pointer, known[0])
	}
	return implied
}

func impliedPerson(id uuid.UUID, name string) postgres.Entry {
	statement, _ := encode(api.PersonStatement{DisplayName: name}) // one text cannot fail to encode
	return postgres.Entry{Record: id, Kind: record.KindPerson, Revision: 1, Act: ledger.Stated, Body: stated(statement),
		Project: func(p *postgres.Projector) { p.Person(record.Person{DisplayName: name}) }}
}

// numberSpecimens puts ids in the place of numbers; a number that is not
// registered yet registers the specimen.
func (r *references) numberSpecimens(found postgres.Resolved) []postgres.Entry {
	var implied []postgres.Entry
	for _, n := range r.specimens {
		number := numberOf(n.ref)
		known := found.Specimens[number]
		if len(known) > 1 {
			r.faults = append(r.faults, &fault.Fault{Code: "specimen-ambiguous", Pointer: n.pointer + "/identifier",
				Detail: fmt.Sprintf("%d specimens here carry this number; say which by id, or name the collection.", len(known)), Extra: map[string]any{"candidates": known}})
			continue
		}
		if len(known) == 0 {
			id := uuid.Must(uuid.NewV7())
			known = []uuid.UUID{id}
			found.Specimens[number] = known
			implied = append(implied, impliedSpecimen(id, *n.ref.Identifier))
		}
		*n.ref = api.SpecimenRef{Id: &known[0]}
		r.replace(n.pointer, known[0])
	}
	return implied
}

func impliedSpecimen(id uuid.UUID, as api.CataloguedAs) postgres.Entry {
	st := api.SpecimenStatement{
		Identifiers: []api.Identifier{{Kind: api.IdentifierKind(as.Kind), Value: as.Value}},
		Collection:  as.Collection,
	}
	statement, _ := encode(st) // texts cannot fail to encode
	return postgres.Entry{Record: id, Kind: record.KindSpecimen, Revision: 1, Act: ledger.Stated, Body: stated(statement),
		Project: func(p *postgres.Projector) { p.Specimen(specimenOf(st)) }}
}

func (r *references) replace(pointer string, id uuid.UUID) {
	if r.replaced == nil {
		r.replaced = map[jsontext.Pointer]uuid.UUID{}
	}
	r.replaced[jsontext.Pointer(pointer)] = id
}

// statement is the statement as it was made, members in the caller's order and
// digits as they came, without needless space, and with ids in the place of
// names.
func (r *references) statement(raw []byte) ([]byte, error) {
	var out bytes.Buffer
	dec := jsontext.NewDecoder(bytes.NewReader(raw))
	enc := jsontext.NewEncoder(&out)
	for {
		kind := dec.PeekKind()
		if kind == '{' || kind == '}' || kind == '[' || kind == ']' {
			token, err := dec.ReadToken()
			if err := errors.Join(err, enc.WriteToken(token)); err != nil {
				return nil, fmt.Errorf("rewriting a statement: %w", err)
			}
			if dec.StackDepth() == 0 {
				return bytes.TrimSuffix(out.Bytes(), []byte("\n")), nil
			}
			continue
		}
		value, err := dec.ReadValue()
		if err := errors.Join(err, enc.WriteValue(value)); err != nil {
			return nil, fmt.Errorf("rewriting a statement: %w", err)
		}
		if id, ok := r.replaced[jsontext.Pointer(r.base)+dec.StackPointer()]; ok {
			ref := fmt.Appendf(nil, `{"id":%q}`, id.String())
			if err := errors.Join(dec.SkipValue(), enc.WriteValue(ref)); err != nil {
				return nil, fmt.Errorf("rewriting a statement: %w", err)
			}
		}
	}
}

// date reads an answerable date; what is answered with a word has no bounds.
func (r *references) date(d *api.AnswerableDate, pointer string) edtf.Date {
	if d == nil || d.Edtf == nil {
		return edtf.Date{}
	}
	return r.edtf(*d.Edtf, pointer+"/edtf")
}

func (r *references) edtf(text, pointer string) edtf.Date {
	parsed, err := edtf.Parse(text)
	if err != nil {
		_ = r.faults.Merge(r.base+pointer, err) // Parse gives faults alone
	}
	return parsed
}

// deref is the value behind a pointer, or the zero value.
func deref[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}

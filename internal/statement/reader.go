package statement

import (
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// reader reads the members of one statement into a Reading.
type reader struct{ *Reading }

func newReader(value record.Value, words any) reader {
	return reader{&Reading{Value: value, said: words}}
}

// text reads an answerable text.
func text(a *api.AnswerableText) record.Text {
	if a == nil {
		return record.Text{}
	}
	return said(a.Text, a.Answer)
}

// said is a value or the answer in its place.
func said[T any](value *T, answer *api.Answer) record.Said[T] {
	out := record.Said[T]{Answer: record.Answer(deref(answer))}
	if value != nil {
		out.Value, out.Given = *value, true
	}
	return out
}

// beside is a value whose answer is a separate member; only one of the two may be
// given.
func beside[T any](r reader, at string, value *T, answer *api.Answer) record.Said[T] {
	if value != nil && answer != nil {
		r.Faults.Add("choice", at+"Answer", "It is said, and said not to be: leave this out, "+
			"or what it stands in the place of.")
	}
	return said(value, answer)
}

// truth is a yes or no, or that it is not known.
func truth(r reader, at string, value *bool, answer *api.NobodyKnows) record.Said[bool] {
	return beside(r, at, value, (*api.Answer)(answer))
}

func areas(a api.AnswerableAreas) record.Areas { return said(a.Paths, a.Answer) }

// date reads an answerable date.
func (r reader) date(at string, d *api.AnswerableDate) record.Date {
	if d == nil {
		return record.Date{}
	}
	out := record.Date{Answer: record.Answer(deref(d.Answer))}
	if d.Edtf != nil {
		out.Value = r.edtf(at+"/edtf", *d.Edtf)
		out.Given = !out.Value.IsZero()
	}
	return out
}

func (r reader) edtf(at, text string) edtf.Date {
	parsed, err := edtf.Parse(text)
	if err != nil {
		_ = r.Faults.Merge(at, err) // Parse returns only faults
		return edtf.Date{}
	}
	return parsed
}

var massOrVolume = []quantity.Kind{quantity.Mass, quantity.Volume}

// quantity reads a quantity of one of these kinds; nil where there is none or it is not
// valid.
func (r reader) quantity(at string, q *api.Quantity, kinds ...quantity.Kind) *quantity.Quantity {
	if q == nil {
		return nil
	}
	before := len(r.Faults)
	out := Quantity(at, q, &r.Faults)
	if len(r.Faults) > before {
		return nil
	}
	kind := out.Unit.Kind()
	switch {
	case !slices.Contains(kinds, kind):
		r.Faults.Add("unit-of-another-kind", at+"/unit", "Here a unit of %s is wanted, such as %s.", kindsSaid(kinds),
			quantity.UnitsOf(kinds[0])[0])
		return nil
	case q.Value.Sign() < 0 && kind != quantity.Temperature:
		r.Faults.Add("out-of-range", at+"/value", "Write a number that is not below 0.")
		return nil
	}
	return &out
}

func kindsSaid(kinds []quantity.Kind) string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = strings.ReplaceAll(string(k), "-", " ")
	}
	return strings.Join(names, " or ")
}

// amount reads an answerable quantity of one of these kinds.
func (r reader) amount(at string, a *api.AnswerableQuantity, kinds ...quantity.Kind) record.Amount {
	if a == nil {
		return record.Amount{}
	}
	out := record.Amount{Answer: record.Answer(deref(a.Answer))}
	if q := r.quantity(at+"/quantity", a.Quantity, kinds...); q != nil {
		out.Value, out.Given = *q, true
	}
	return out
}

// strength reads a strength as it was said; nil where none was.
func (r reader) strength(at string, s *api.Strength) *record.Strength {
	if s == nil {
		return nil
	}
	asked := api.AskedStrength{
		Basis: s.Basis, Value: s.Value, Unit: s.Unit, Parts: s.Parts, In: s.In, Uncertainty: s.Uncertainty,
	}
	before := len(r.Faults)
	said := Asked(at, &asked, &r.Faults)
	if said.Basis == "" && len(r.Faults) == before {
		r.Faults.Add("strength-basis-missing", at+"/basis",
			"Say what the number is a share of, or with unknown that it is not known.")
	}
	return &record.Strength{Strength: said, UnitSaid: s.Unit != nil, Product: deref(s.Product)}
}

func (r reader) material(at, id string) string {
	r.Materials = append(r.Materials, NamedMaterial{at, id})
	return id
}

// solvents reads shares of solvents; nil where none are said.
func (r reader) solvents(at string, list *[]api.SolventShare) *[]record.SolventShare {
	if list == nil {
		return nil
	}
	shares := make([]record.SolventShare, len(*list))
	for i, s := range *list {
		shares[i] = record.SolventShare{
			Material: r.material(item(at, i)+"/id", s.Id), Fraction: s.Fraction, By: string(deref(s.FractionBy)),
		}
	}
	return &shares
}

// ref adds a reference to a record by its id.
func (r reader) ref(at string, kind record.Kind, id *api.Id) record.Ref {
	if id == nil {
		return record.Ref{}
	}
	r.Records = append(r.Records, NamedRecord{at, kind, *id})
	return *id
}

// IDs are the ids in references, nil if there are none.
func IDs(refs *[]api.RecordRef) (ids []uuid.UUID) {
	for _, ref := range deref(refs) {
		ids = append(ids, ref.Id)
	}
	return ids
}

// idIn is the id in a reference, nil if there is none.
func idIn(ref *api.RecordRef) *api.Id {
	if ref == nil {
		return nil
	}
	return &ref.Id
}

// person adds a reference to a person; into receives the id.
func (r reader) person(at string, p *api.PersonRef, into *record.Ref) {
	switch {
	case p == nil:
	case p.Id != nil:
		*into = r.ref(at+"/id", record.KindPerson, p.Id)
	case p.Name != nil:
		r.People = append(r.People, NamedPerson{at, *p.Name, into})
	}
}

// specimen adds a reference to a specimen; into receives the id.
func (r reader) specimen(at string, s *api.SpecimenRef, into *record.Ref) {
	switch {
	case s == nil:
	case s.Id != nil:
		*into = r.ref(at+"/id", record.KindSpecimen, s.Id)
	case s.Identifier != nil:
		number := record.Identifier{Kind: string(s.Identifier.Kind), Value: s.Identifier.Value}
		r.Specimens = append(r.Specimens, NamedSpecimen{Pointer: at, Number: number,
			Collection: deref(s.Identifier.Collection), DistinctFrom: IDs(s.Identifier.DistinctFrom), into: into})
	}
}

func (r reader) involvements(at string, list *[]api.Involvement) []record.Involvement {
	if list == nil {
		return nil
	}
	people := make([]record.Involvement, len(*list)) // references by name hold pointers into it
	for i, who := range *list {
		place := item(at, i)
		people[i].Part, people[i].Answer = string(who.Part), record.Answer(deref(who.Person.Answer))
		people[i].Organisation = beside(r, place+"/organisation", who.Organisation, who.OrganisationAnswer)
		r.person(place+"/person", &who.Person, &people[i].Person)
	}
	return people
}

// authorisation reads who authorised something. Into must not move, because references
// hold pointers into it.
func (r reader) authorisation(at string, a *api.Authorisation, into *record.Said[record.Authorisation]) {
	if a == nil {
		return
	}
	into.Answer, into.Given = record.Answer(deref(a.Answer)), a.Given != nil
	if g := a.Given; g != nil {
		into.Value = record.Authorisation{
			Date: r.date(at+"/given/date", g.Date), Class: string(deref(g.Class)), Authority: deref(g.Authority),
		}
		r.person(at+"/given/by", &g.By, &into.Value.By)
	}
}

func (r reader) container(at string, c *api.ContainerStatement) *record.Container {
	if c == nil {
		return nil
	}
	return &record.Container{Material: c.Material, Capacity: r.quantity(at+"/capacity", c.Capacity, massOrVolume...),
		Tint: string(deref(c.Tint)), Rinsed: c.Rinsed}
}

func (r reader) document(at string, d *api.DocumentLink) *record.Document {
	if d == nil {
		return nil
	}
	if d.Dated != nil {
		r.edtf(at+"/dated", *d.Dated)
	}
	return &record.Document{URL: d.Url, Title: deref(d.Title)}
}

// item is the JSON Pointer to an item of a list.
func item(at string, i int) string { return at + "/" + strconv.Itoa(i) }

// each reads the items of a list; nil stays nil.
func each[T, U any](list *[]T, read func(int, *T) U) []U {
	if list == nil {
		return nil
	}
	out := make([]U, len(*list))
	for i := range *list {
		out[i] = read(i, &(*list)[i])
	}
	return out
}

// deref is the value behind a pointer, or the zero value.
func deref[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}

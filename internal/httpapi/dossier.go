package httpapi

import (
	"fmt"
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/shelf"
)

// dossier is treatments with every record that they name: specimens, people,
// and batches with all that they were made from.
type dossier struct {
	base        publish.Base
	institution string
	materials   *material.Base
	rows        map[uuid.UUID]postgres.Row // as they stand, by record
	statements  map[uuid.UUID]any          // what they say: *api.…Statement
	names       publish.Known              // what the ids in a statement mean
	shelf       *shelf.Shelf               // what the batches hold
	wanted      []uuid.UUID                // to be read too
	contents    map[holding]*distinctLinks // what supplies and batches hold, once it was asked
}

// address is where the service is reached: as configured, else as it was asked.
func (c *call) address() publish.Base {
	if c.server.publicURL != "" {
		return publish.Base(c.server.publicURL)
	}
	return publish.Base("http://" + c.echo.Request().Host)
}

// newDossier begins an empty dossier for the caller's institution.
func (s *Server) newDossier(c *call) (*dossier, error) {
	in, err := s.store.Institution(c.ctx(), c.principal.Institution)
	if err != nil {
		return nil, err
	}
	known, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	return &dossier{base: c.address(), institution: in.Name, materials: known,
		rows: map[uuid.UUID]postgres.Row{}, statements: map[uuid.UUID]any{}}, nil
}

// mostRounds is how many steps it is followed what names what; what lies beyond is
// named without being told of.
const mostRounds = 50

// add takes rows in and fetches what they name, and what that names, until
// nothing new turns up. What batches were made from is fetched at once.
func (d *dossier) add(s *Server, c *call, rows []postgres.Row) error {
	wanted, err := d.keepAll(rows, d.wanted)
	if err != nil {
		return err
	}
	for range mostRounds {
		wanted = d.missing(wanted)
		if len(wanted) == 0 {
			break
		}
		found, err := s.store.InForceOf(c.ctx(), c.principal.Institution, wanted)
		if err != nil {
			return err
		}
		if wanted, err = d.keepAll(slices.Collect(maps.Values(found)), nil); err != nil {
			return err
		}
		behind, err := d.madeFrom(s, c, stockAmong(found))
		if err != nil {
			return err
		}
		wanted = append(wanted, behind...)
	}
	d.names, d.contents = d.known(), nil
	d.shelf, err = d.onShelf(s, c)
	return err
}

// keepAll reads records and adds the ids that they name.
func (d *dossier) keepAll(rows []postgres.Row, wanted []uuid.UUID) ([]uuid.UUID, error) {
	for _, row := range rows {
		named, err := d.keep(row)
		if err != nil {
			return nil, err
		}
		wanted = append(wanted, named...)
	}
	return wanted, nil
}

func stockAmong(found map[uuid.UUID]postgres.Row) []uuid.UUID {
	var ids []uuid.UUID
	for id, row := range found {
		if row.Kind == record.KindBatch || row.Kind == record.KindSupply {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	return ids
}

func (d *dossier) missing(ids []uuid.UUID) []uuid.UUID {
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	return slices.DeleteFunc(slices.Compact(ids), func(id uuid.UUID) bool {
		_, known := d.rows[id]
		return known || id == uuid.Nil
	})
}

// keep reads a record and gives the ids that it names.
func (d *dossier) keep(row postgres.Row) ([]uuid.UUID, error) {
	d.rows[row.Record] = row
	named := []uuid.UUID{row.RecordedBy}
	raw := statementOf(row.Body)
	if raw == nil {
		return named, nil
	}
	switch row.Kind {
	case record.KindTreatment:
		return d.keepAs(row, raw, new(api.TreatmentStatement), named)
	case record.KindSpecimen:
		return d.keepAs(row, raw, new(api.SpecimenStatement), append(named, mergedInto(row)))
	case record.KindBatch:
		return d.keepAs(row, raw, new(api.BatchStatement), named)
	case record.KindSupply:
		return d.keepAs(row, raw, new(api.SupplyStatement), named)
	case record.KindPerson:
		return d.keepAs(row, raw, new(api.PersonStatement), nil)
	}
	return named, nil
}

func (d *dossier) keepAs(row postgres.Row, raw []byte, st any, named []uuid.UUID) ([]uuid.UUID, error) {
	if err := decodeInto(raw, st); err != nil {
		return nil, fmt.Errorf("reading record %s: %w", row.Record, err)
	}
	d.statements[row.Record] = st
	return append(named, namedBy(st)...), nil
}

// namedBy gives the ids of the records that a statement names.
func namedBy(st any) []uuid.UUID {
	switch st := st.(type) {
	case *api.TreatmentStatement:
		ids := peopleIn(deref(st.People))
		ids = append(ids, deref(st.Specimen.Id))
		if st.JoinedTo != nil {
			ids = append(ids, deref(st.JoinedTo.Id))
		}
		for _, use := range deref(st.Materials) {
			ids = append(ids, refID(use.Used.Batch), refID(use.Used.Supply))
		}
		return append(ids, peopleElsewhere(st)...)
	case *api.SpecimenStatement:
		if st.PartOf != nil {
			return []uuid.UUID{st.PartOf.Specimen}
		}
	case *api.BatchStatement:
		ids := peopleIn(deref(st.MadeBy))
		for _, in := range deref(st.Inputs) {
			ids = append(ids, refID(in.From.Batch), refID(in.From.Supply))
		}
		return ids
	}
	return nil
}

// peopleElsewhere are those whom a treatment names besides those who did it.
func peopleElsewhere(st *api.TreatmentStatement) []uuid.UUID {
	var refs []*api.PersonRef
	if st.Authorisation != nil && st.Authorisation.Given != nil {
		refs = append(refs, &st.Authorisation.Given.By)
	}
	if st.Removal != nil {
		refs = append(refs, st.Removal.ConfirmedBy)
	}
	if st.Reversibility != nil {
		refs = append(refs, st.Reversibility.By)
	}
	if st.OldCard != nil {
		refs = append(refs, st.OldCard.TranscribedBy)
	}
	var ids []uuid.UUID
	for _, ref := range refs {
		if ref != nil {
			ids = append(ids, deref(ref.Id))
		}
	}
	return ids
}

func peopleIn(list []api.Involvement) []uuid.UUID {
	ids := make([]uuid.UUID, 0, len(list))
	for _, who := range list {
		ids = append(ids, deref(who.Person.Id))
	}
	return ids
}

func refID(ref *api.RecordRef) uuid.UUID {
	if ref == nil {
		return uuid.Nil
	}
	return ref.Id
}

// person is whom an id names; one whose name was erased has none.
func (d *dossier) person(id uuid.UUID) publish.Person {
	p := publish.Person{IRI: d.base.Person(id)}
	if st, ok := d.statements[id].(*api.PersonStatement); ok {
		p.Name, p.ORCID = st.DisplayName, deref(st.Orcid)
	}
	return p
}

func (d *dossier) involvements(list []api.Involvement) []publish.Involvement {
	people := make([]publish.Involvement, 0, len(list))
	for _, who := range list {
		out := publish.Involvement{Part: string(who.Part), Organisation: deref(who.Organisation)}
		switch {
		case who.Person.Id != nil:
			out.Person = d.person(*who.Person.Id)
		case who.Person.Answer != nil:
			out.Name = string(*who.Person.Answer)
		}
		people = append(people, out)
	}
	return people
}

// revision is where a record stands.
func (d *dossier) revision(row postgres.Row) publish.Revision {
	var body entryBody
	if row.Body == nil || decodeInto([]byte(*row.Body), &body) != nil {
		body = entryBody{}
	}
	r := publish.Revision{IRI: d.base.Record(row.Record), Number: row.Revision, At: row.RecordedAt, By: d.person(row.RecordedBy),
		Retracted: row.Act == ledger.Retracted, Erased: row.Act != ledger.Retracted && body.Statement == nil}
	if r.Retracted {
		r.Reason = deref(body.Reason)
	}
	if from := body.Received; from != nil {
		r.Received = &publish.Received{Name: from.Name, At: from.RecordedAt, Through: each(deref(from.Via), func(p api.PassedThrough) string { return p.Name })}
	}
	return r
}

// specimen is a specimen without its treatments.
func (d *dossier) specimen(id uuid.UUID) publish.Specimen {
	row := d.rows[id]
	out := publish.Specimen{IRI: d.base.Specimen(id), Institution: d.institution, Revision: d.revision(row), Title: d.titleOf(id), SourceID: deref(row.SystemID)}
	st, ok := d.statements[id].(*api.SpecimenStatement)
	if !ok {
		return out
	}
	for _, number := range st.Identifiers {
		out.Identifiers = append(out.Identifiers, publish.Identifier{Kind: string(number.Kind), Value: number.Value})
	}
	out.Collection, out.Description, out.Body = deref(st.Collection), deref(st.Description), string(deref(st.BodyKind))
	out.Classification, out.Owner = textOf(st.Classification), textOf(st.Owner)
	out.Fields = publish.Fields(statementOf(row.Body), d.names)
	if into := mergedInto(row); into != uuid.Nil {
		link := d.specimenLink(into)
		out.MergedInto = &link
	}
	if st.PartOf != nil {
		link := d.specimenLink(st.PartOf.Specimen)
		out.PartOf = &link
	}
	return out
}

// titleOf is the number that a specimen is known by: its first catalogue number,
// else its first number.
func (d *dossier) titleOf(id uuid.UUID) string {
	st, ok := d.statements[id].(*api.SpecimenStatement)
	if !ok {
		return "specimen " + id.String()
	}
	i := slices.IndexFunc(st.Identifiers, func(n api.Identifier) bool { return n.Kind == api.IdentifierKindCatalogueNumber })
	return st.Identifiers[max(i, 0)].Value
}

func (d *dossier) specimenLink(id uuid.UUID) publish.Link {
	return publish.Link{IRI: d.base.Specimen(id), Label: d.titleOf(id)}
}

// known lets the reader of a whole statement find what its ids mean.
func (d *dossier) known() publish.Known {
	k := publish.Known{Records: map[uuid.UUID]publish.Link{}, Materials: func(id string) (publish.Link, bool) {
		m, ok := d.materials.Material(id)
		return publish.Link{IRI: d.base.Material(id), Label: m.Name}, ok
	}}
	for id, row := range d.rows {
		k.Records[id] = d.link(id, row.Kind)
	}
	return k
}

func (d *dossier) link(id uuid.UUID, kind record.Kind) publish.Link {
	switch kind {
	case record.KindPerson:
		p := d.person(id)
		return publish.Link{IRI: p.IRI, Label: p.Label()}
	case record.KindSpecimen:
		return d.specimenLink(id)
	case record.KindBatch, record.KindSupply:
		return d.stockLink(id, kind)
	case record.KindTreatment:
		return publish.Link{IRI: d.base.Treatment(id), Label: "treatment " + id.String()}
	}
	return publish.Link{IRI: d.base.Record(id), Label: id.String()}
}

// textOf is an answerable text, or "" for what was answered with a word.
func textOf(t *api.AnswerableText) string {
	if t == nil {
		return ""
	}
	return deref(t.Text)
}

func dateOf(d *api.AnswerableDate) publish.Date {
	if d == nil {
		return publish.Date{}
	}
	date, _ := edtf.Parse(deref(d.Edtf)) // what was recorded was read before; nothing gives the zero date
	return publish.Date{Date: date, Answer: string(deref(d.Answer))}
}

func quantityOf(q *api.AnswerableQuantity) publish.Quantity {
	if q == nil || q.Quantity == nil {
		return publish.Quantity{}
	}
	return publish.Quantity{Value: q.Quantity.Value.String(), Unit: q.Quantity.Unit}
}

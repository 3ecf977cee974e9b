package httpapi

import (
	"errors"
	"log/slog"
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/shelf"
	"meniscus/internal/statement"
)

// dossier is treatments with every record that they name: specimens, people,
// and batches with all that they were made from.
type dossier struct {
	base        publish.Base
	institution string
	materials   *material.Base
	rows        map[uuid.UUID]postgres.Row // as they stand, by record
	statements  map[uuid.UUID]record.Value // what they say
	names       publish.Known              // what the ids in a statement mean
	shelf       *shelf.Shelf               // what the batches hold
	wanted      []uuid.UUID                // to be read too
	torn        map[uuid.UUID]record.Kind  // whose words cannot be read
	log         *slog.Logger
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
	in, err := c.tenant().Institution(c.ctx())
	if err != nil {
		return nil, err
	}
	known, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	return &dossier{base: c.address(), institution: in.Name, materials: known,
		rows: map[uuid.UUID]postgres.Row{}, statements: map[uuid.UUID]record.Value{},
		torn: map[uuid.UUID]record.Kind{}, log: s.log}, nil
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
		found, err := c.tenant().InForceOf(c.ctx(), wanted)
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
	if err := d.addTreatments(s, c); err != nil {
		return err
	}
	d.names, d.contents = d.known(), nil
	d.shelf, err = d.onShelf(s, c)
	return err
}

// addTreatments fetches the treatments that others name, to name them, and to say
// which were retracted. What they say themselves is not followed.
func (d *dossier) addTreatments(s *Server, c *call) error {
	var named []uuid.UUID
	for _, value := range d.statements {
		if t, ok := value.(*record.Treatment); ok {
			named = append(named, t.Names()...)
		}
	}
	found, err := c.tenant().InForceOf(c.ctx(), d.missing(named))
	for id, row := range found {
		row.Body = nil
		d.rows[id] = row
	}
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
	reading, err := statement.OfEntry(row.Kind, row.Body)
	switch {
	case errors.Is(err, statement.ErrRedacted):
		return named, nil
	case err != nil:
		d.torn[row.Record] = row.Kind
		d.log.Error("the words of a record cannot be read", slog.String("kind", string(row.Kind)), slog.String("record", row.Record.String()), slog.Any("error", err))
		return named, nil
	}
	d.statements[row.Record] = reading.Value
	for _, r := range reading.Records {
		if r.Kind != record.KindPlan && r.Pointer != "/sampling/sample" && r.Pointer != "/sampleOf/specimen" {
			named = append(named, r.ID)
		}
	}
	switch row.Kind {
	case record.KindPerson:
		return nil, nil
	case record.KindSpecimen:
		named = append(named, statement.MergedInto(row.Body))
	}
	return named, nil
}

// person is whom an id names; one whose name was erased has none.
func (d *dossier) person(id uuid.UUID) publish.Person {
	p := publish.Person{IRI: d.base.Person(id)}
	if said, ok := d.statements[id].(*record.Person); ok {
		p.Name, p.ORCID = said.DisplayName, said.ORCID
	}
	return p
}

func (d *dossier) involvements(list []record.Involvement) []publish.Involvement {
	people := make([]publish.Involvement, 0, len(list))
	for _, who := range list {
		out := publish.Involvement{Part: who.Part, Organisation: who.Organisation.Value}
		out.Name = string(who.Answer)
		if who.Person != uuid.Nil {
			out.Person = d.person(who.Person)
		}
		people = append(people, out)
	}
	return people
}

// revision is where a record stands.
func (d *dossier) revision(row postgres.Row) publish.Revision {
	body, _ := statement.OpenEntry(row.Body) // what cannot be read is told where it is read
	r := publish.Revision{IRI: d.base.Record(row.Record), Number: row.Revision, At: row.RecordedAt, By: d.person(row.RecordedBy),
		Retracted: row.Act == ledger.Retracted, Erased: row.Act != ledger.Retracted && body.Statement == nil}
	if r.Retracted {
		r.Reason = deref(body.Reason)
	}
	if _, torn := d.torn[row.Record]; torn {
		r.Erased, r.Unreadable = false, true
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
	said, ok := d.statements[id].(*record.Specimen)
	if !ok {
		return out
	}
	for _, number := range said.Identifiers {
		out.Identifiers = append(out.Identifiers, publish.Identifier{Kind: number.Kind, Value: number.Value})
	}
	out.Collection, out.Description, out.Body = said.Collection, said.Description, said.BodyKind
	out.Classification, out.Owner = said.Classification.Value, said.Owner.Value
	out.Fields = publish.Fields(statement.WordsIn(row.Body), d.names)
	if into := statement.MergedInto(row.Body); into != uuid.Nil {
		link := d.specimenLink(into)
		out.MergedInto = &link
	}
	if said.Part != nil {
		link := d.specimenLink(said.Part.Specimen)
		out.PartOf = &link
	}
	return out
}

// titleOf is the number that a specimen is known by: its first catalogue number,
// else its first number.
func (d *dossier) titleOf(id uuid.UUID) string {
	said, ok := d.statements[id].(*record.Specimen)
	if !ok {
		return "specimen " + id.String()
	}
	return said.Title()
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

// link names a record as it is named in another's words. One that was retracted
// is marked.
func (d *dossier) link(id uuid.UUID, kind record.Kind) publish.Link {
	l := d.unmarked(id, kind)
	if d.rows[id].Act == ledger.Retracted {
		l.Label += " (retracted)"
	}
	return l
}

func (d *dossier) unmarked(id uuid.UUID, kind record.Kind) publish.Link {
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

func publishedDate(d record.Date) publish.Date {
	return publish.Date{Date: d.Value, Answer: string(d.Answer)}
}

func publishedQuantity(q record.Amount) publish.Quantity {
	if !q.Given {
		return publish.Quantity{}
	}
	return publish.Quantity{Value: q.Value.Value.String(), Unit: string(q.Value.Unit)}
}

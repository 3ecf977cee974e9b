package httpapi

import (
	"context"
	"errors"
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/dossier"
	"meniscus/internal/exchange"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
)

// address is where the service is reached: as configured, else as it was asked.
func (c *requestContext) address() publish.Base {
	if c.server.publicURL != "" {
		return publish.Base(c.server.publicURL)
	}
	return publish.Base("http://" + c.echo.Request().Host)
}

// gathering fetches the records of a dossier.
type gathering struct {
	*dossier.Dossier
	call  *requestContext
	known *material.Base
}

// gather begins an empty dossier of the caller's institution.
func (s *Server) gather(c *requestContext) (gathering, error) {
	in, err := c.tenant().Institution(c.ctx())
	if err != nil {
		return gathering{}, err
	}
	known, err := s.knowledge(c)
	if err != nil {
		return gathering{}, err
	}
	return gathering{dossier.New(c.address(), in.Name, known), c, known}, nil
}

// mostRounds is how many steps of references are followed; records beyond are named
// without their content.
const mostRounds = 50

// add takes rows in and fetches the records that they name, those that are wanted, and
// what these name, until nothing new turns up. All that batches were made from is fetched
// in one step.
func (g gathering) add(rows []postgres.Row, wanted ...uuid.UUID) error {
	wanted = append(wanted, g.keep(rows)...)
	for range mostRounds {
		if wanted = g.Missing(wanted); len(wanted) == 0 {
			break
		}
		found, err := g.call.tenant().InForceOf(g.call.ctx(), wanted)
		if err != nil {
			return err
		}
		wanted = g.keep(slices.Collect(maps.Values(found)))
		behind, err := g.madeFrom(stockAmong(found))
		if err != nil {
			return err
		}
		wanted = append(wanted, behind...)
	}
	if err := g.nameTreatments(); err != nil {
		return err
	}
	return g.shelve()
}

// keep takes rows in, and gives the ids that they name.
func (g gathering) keep(rows []postgres.Row) []uuid.UUID {
	var named []uuid.UUID
	for _, row := range rows {
		e, names := g.call.server.entryOf(row)
		g.Keep(e)
		named = append(named, names...)
	}
	return named
}

// tell reads a page of entries for people, and gives the records that they name. Nothing
// is kept for the next page.
func (g gathering) tell(ctx context.Context, page []postgres.Exported) ([]exchange.Told, publish.Known, error) {
	g.Dossier = g.Empty()
	told, named := make([]exchange.Told, len(page)), []uuid.UUID{}
	for i, x := range page {
		e, names := g.call.server.entryOf(x.Row)
		if named = append(named, names...); e.Says != nil {
			told[i].Members = e.Says()
		}
	}
	found, err := g.call.tenant().InForceOf(ctx, g.Missing(named))
	if err != nil {
		return nil, publish.Known{}, err
	}
	g.keep(slices.Collect(maps.Values(found)))
	known := g.Known()
	for i, x := range page {
		told[i].By = known.Records[x.RecordedBy].Label
	}
	return told, known, nil
}

// nameTreatments fetches the treatments that other records name, to name them and say
// which were retracted. Their statements are not read.
func (g gathering) nameTreatments() error {
	found, err := g.call.tenant().InForceOf(g.call.ctx(), g.Missing(g.OtherTreatments()))
	for id, row := range found {
		g.Keep(dossier.Entry{Record: id, Kind: row.Kind, Retracted: row.Act == ledger.Retracted})
	}
	return err
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

// madeFrom reads what supplies and batches were made from, and gives the ids that those
// records name.
func (g gathering) madeFrom(stock []uuid.UUID) ([]uuid.UUID, error) {
	if len(stock) == 0 {
		return nil, nil
	}
	rows, err := g.call.tenant().ShelfBehind(g.call.ctx(), stock)
	if err != nil {
		return nil, err
	}
	return g.keep(slices.DeleteFunc(rows.Made, func(row postgres.Row) bool { return g.Holds(row.Record) })), nil
}

// shelve reads what is on record of the batches, and of what became of them.
func (g gathering) shelve() error {
	var rows postgres.Shelf
	if batches := g.Batches(); len(batches) > 0 {
		var err error
		if rows, err = g.call.tenant().ShelfBehind(g.call.ctx(), batches); err != nil {
			return err
		}
	}
	book, unread := recording.Book(g.known, rows)
	g.call.server.logUnread(unread...)
	g.Shelve(book, postgres.MostStock)
	return nil
}

// entryOf is a record as a dossier keeps it, and the ids that it names.
func (s *Server) entryOf(row postgres.Row) (dossier.Entry, []uuid.UUID) {
	body, err := statement.OpenEntry(row.Body)
	e := dossier.Entry{
		Record: row.Record, Kind: row.Kind, Revision: row.Revision, RecordedAt: row.RecordedAt, RecordedBy: row.RecordedBy,
		SourceID: deref(row.SystemID), Withheld: row.Withheld(),
		Retracted: row.Act == ledger.Retracted, MergedInto: deref(body.Merged).Id,
	}
	if e.Retracted {
		e.Reason = deref(body.Reason)
	}
	if from := body.Received; from != nil {
		through := each(deref(from.Via), func(p api.PassedThrough) string { return p.Name })
		e.Received = &publish.Received{Name: from.Name, At: from.RecordedAt, Through: through,
			Signed: deref(from.Proved) == api.Sender}
	}
	var reading *statement.Reading
	if err == nil {
		reading, err = body.Read(row.Kind)
	}
	if err != nil && !errors.Is(err, statement.ErrRedacted) {
		e.Unreadable = true
		s.logUnread(recording.Unread{Row: row, Err: err})
	}
	if err != nil {
		return e, []uuid.UUID{row.RecordedBy}
	}
	e.Value, e.Says = reading.Value, reading.Members
	return e, namedBy(e, reading)
}

// namedBy are the ids that a record names, as far as a dossier tells of them.
func namedBy(e dossier.Entry, reading *statement.Reading) []uuid.UUID {
	if e.Kind == record.KindPerson {
		return nil
	}
	named := []uuid.UUID{e.RecordedBy}
	if e.Kind == record.KindSpecimen {
		named = append(named, e.MergedInto)
	}
	for _, r := range reading.Records {
		if r.Kind != record.KindPlan && r.Pointer != "/sampling/sample/id" && r.Pointer != "/sampleOf/specimen/id" {
			named = append(named, r.ID)
		}
	}
	return named
}

// publishedSpecimens are specimens with their treatments, in the order asked, and
// what every view says of each.
func (s *Server) publishedSpecimens(c *requestContext, ids []uuid.UUID) ([]publish.Specimen, []*stack.Specimen, error) {
	g, err := s.gather(c)
	if err != nil {
		return nil, nil, err
	}
	rows, err := rowsOfSpecimens(c, ids)
	if err != nil {
		return nil, nil, err
	}
	if err := g.add(rows.all(), slices.Concat(slices.Collect(maps.Values(rows.merged))...)...); err != nil {
		return nil, nil, err
	}
	list, about := make([]publish.Specimen, len(ids)), make([]*stack.Specimen, len(ids))
	of := rows.listed()
	for i, id := range ids {
		about[i] = rows.tellers.specimen(id, []postgres.Row{rows.own[id]})
		about[i].MoreTreatments = rows.more[id]
		about[i].Withheld += rows.withheld(id)
	}
	if err := c.tellHazards(about...); err != nil {
		return nil, nil, err
	}
	for i, id := range ids {
		list[i] = g.Specimen(id, about[i], of[id], rows.merged[id])
	}
	return list, about, nil
}

// specimenRows are the rows of specimens that are to be published.
type specimenRows struct {
	own        map[uuid.UUID]postgres.Row
	treatments []postgres.OnSpecimen
	merged     map[uuid.UUID][]uuid.UUID
	tellers    tellers
	more       map[uuid.UUID]int // treatments beyond those
}

func rowsOfSpecimens(c *requestContext, ids []uuid.UUID) (r specimenRows, err error) {
	ctx, of := c.ctx(), c.tenant()
	if r.own, err = of.InForceOf(ctx, ids); err != nil {
		return r, err
	}
	if r.treatments, err = of.TreatmentsOfSpecimens(ctx, ids); err != nil {
		return r, err
	}
	if r.merged, err = of.StandingFor(ctx, ids); err != nil {
		return r, err
	}
	r.tellers, err = c.tellersOf(ids)
	return r, err
}

func (r *specimenRows) all() []postgres.Row {
	rows := slices.Collect(maps.Values(r.own))
	for _, t := range r.treatments {
		rows = append(rows, t.Row)
	}
	return rows
}

// withheld counts the treatments of a specimen that are withheld.
func (r *specimenRows) withheld(specimen uuid.UUID) (n int) {
	for _, t := range r.treatments {
		if t.Specimen == specimen && t.Withheld() {
			n++
		}
	}
	return n
}

// listed puts each treatment under its specimens.
func (r *specimenRows) listed() map[uuid.UUID][]dossier.Listed {
	of := map[uuid.UUID][]dossier.Listed{}
	r.more = map[uuid.UUID]int{}
	for _, t := range r.treatments {
		r.more[t.Specimen] = t.Of - len(of[t.Specimen]) - 1
		of[t.Specimen] = append(of[t.Specimen], dossier.Listed{
			Treatment: t.Record, From: t.From, Because: deref(t.Because), Certain: t.Certain,
		})
	}
	return of
}

// publishedTreatment is the treatment of the path, and its specimen without its other
// treatments, with what is to be known first of it and of one that it was joined to.
func (s *Server) publishedTreatment(c *requestContext) (publish.Treatment, publish.Specimen, error) {
	id := c.id("treatmentId")
	specimens, err := c.tenant().SpecimensOfTreatment(c.ctx(), id)
	if err == nil && len(specimens) == 0 {
		err = fault.Of(fault.NotFound, "treatment-unknown", "There is no such treatment in this institution.")
	}
	if err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	g, err := s.gather(c)
	if err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	found, err := c.tenant().InForceOf(c.ctx(), append(specimens, id))
	if err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	if err := g.add(slices.Collect(maps.Values(found))); err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	t, of := g.Treatment(id, specimens[0])
	of.Notices, of.Open, err = c.noticesOf(specimens)
	return t, of, err
}

package httpapi

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/stock"
)

// How much a lineage and a trace list at most; the counts are of all of it, and
// the answer says where a list is cut.
const (
	mostNodes   = 10_000
	mostLinks   = 25_000 // each way
	mostCircles = 100
	mostTouched = 50_000
)

// traceLineage tells what a batch was made from and into.
func traceLineage(s *Server, c *requestContext) (*answer, error) {
	batch := c.id("batchId")
	read, err := c.tenant().LinksOf(c.ctx(), batch, mostLinks)
	if err != nil {
		return nil, err
	}
	lineage := stock.LineageOf(batch.String(), each(read.Links, func(l postgres.Link) stock.Link {
		return stock.Link{From: l.From.String(), Into: l.Into.String()}
	}))
	node := func(n stock.Node) api.LineageNode {
		of := read.Nodes[wireID(n.ID)]
		return api.LineageNode{Id: wireID(n.ID), Kind: api.LineageNodeKind(of.Kind), Code: deref(of.Code), Material: of.Material, Depth: int32(n.Depth)}
	}
	cut := !read.Whole
	out := api.Lineage{
		Batch:    batch,
		MadeFrom: each(listed(&cut, lineage.MadeFrom, mostNodes), node),
		MadeInto: each(listed(&cut, lineage.MadeInto, mostNodes), node),
		Links: each(lineage.Links, func(l stock.Link) api.LineageLink {
			return api.LineageLink{From: wireID(l.From), Into: wireID(l.Into)}
		}),
		Findings: each(listed(&cut, lineage.Findings, mostCircles), lineageFinding),
	}
	out.Complete = !cut
	out.MoreBatches = count(read.More)
	return ok(out)
}

func lineageFinding(f stock.Finding) api.Finding {
	out := stockFinding(f)
	out.Records = listOrNone(wireIDs(f.Of[:min(len(f.Of), 500)]))
	return out
}

// whereUsed makes the handler that traces a supply or a batch to specimens.
func whereUsed(kind record.Kind, param string) handler {
	return func(s *Server, c *requestContext) (*answer, error) {
		id := c.id(param)
		w, err := c.tenant().WhereaboutsOf(c.ctx(), kind, id)
		if err != nil {
			return nil, err
		}
		subject := stock.Subject{ID: id.String(), Materials: w.Materials, Window: periodOf(w.Since, nil)}
		found := stock.FindWhereUsed(subject, users(w.Batches), users(w.Treatments))
		return s.whereUsedAnswer(c, id, w, found)
	}
}

func (s *Server) whereUsedAnswer(
	c *requestContext, id uuid.UUID, read postgres.Whereabouts, found stock.WhereUsed,
) (*answer, error) {
	var a api.WhereUsed
	a.Of = id
	a.Counts.Certain, a.Counts.Possible, a.Counts.CannotBeExcluded = int64(len(found.Certain)), int64(len(found.Possible)), int64(len(found.CannotBeExcluded))
	cut := found.WaysCut || !read.Whole
	for _, list := range []*[]stock.Trace{&found.Certain, &found.Possible, &found.CannotBeExcluded} {
		*list = listed(&cut, *list, mostTouched)
	}
	a.Complete, a.MoreBatches = !cut, count(read.More)
	var ids []uuid.UUID
	for _, trace := range slices.Concat(found.Certain, found.Possible, found.CannotBeExcluded) {
		ids = append(ids, wireID(trace.Treatment))
	}
	touched, err := c.tenant().TouchedBy(c.ctx(), ids)
	if err != nil {
		return nil, err
	}
	row := func(t stock.Trace) api.WhereUsedRow { return touchedRow(touched[wireID(t.Treatment)], t) }
	a.Certain, a.Possible, a.CannotBeExcluded = each(found.Certain, row), each(found.Possible, row), each(found.CannotBeExcluded, row)
	return ok(a)
}

// users gathers the rows of each batch or treatment, which stand together.
func users(rows []postgres.StockUse) []stock.User {
	var out []stock.User
	for _, r := range rows {
		if len(out) == 0 || out[len(out)-1].ID != r.By.String() {
			out = append(out, stock.User{ID: r.By.String(), When: periodOf(r.Earliest, r.Latest)})
		}
		if use, said := useOf(r); said {
			last := &out[len(out)-1]
			last.Uses = append(last.Uses, use)
		}
	}
	return out
}

func useOf(r postgres.StockUse) (use stock.Use, said bool) {
	use = stock.Use{Words: deref(r.Words), Candidates: r.Candidates, Later: r.Later}
	if r.Later {
		use.When = periodOf(r.LaterFrom, r.LaterUntil)
	}
	switch {
	case r.Supply != nil:
		use.Stock = r.Supply.String()
	case r.Batch != nil:
		use.Stock = r.Batch.String()
	case r.Material != nil:
		use.Materials = []string{*r.Material}
	}
	return use, use.Stock != "" || use.Materials != nil || use.Words != ""
}

func periodOf(from, to *time.Time) edtf.Period {
	var p edtf.Period
	if from != nil {
		p.From = edtf.DayOf(*from)
	}
	if to != nil {
		p.To = edtf.DayOf(*to)
	}
	return p
}

func touchedRow(t postgres.Touched, trace stock.Trace) api.WhereUsedRow {
	row := api.WhereUsedRow{Treatment: wireID(trace.Treatment), Specimen: t.Specimen, Number: t.Number, Action: api.Action(t.Action),
		Because: &trace.Because, Dates: datesIn(t.Body), Parts: listOrNone(t.Parts)}
	row.Through = listOrNone(wireIDs(trace.Through))
	return row
}

// datesIn is a treatment's dates as its statement has them.
func datesIn(body *string) api.AnswerableDate {
	unknown := api.Answer("unknown")
	reading, err := statement.OfEntry(record.KindTreatment, body)
	if err != nil {
		return api.AnswerableDate{Answer: &unknown}
	}
	date := reading.Value.(*record.Treatment).Date
	if !date.Given {
		return api.AnswerableDate{Answer: (*api.Answer)(said(date.Answer))}
	}
	return api.AnswerableDate{Edtf: said(date.Value.String())}
}

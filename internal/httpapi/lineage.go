package httpapi

import (
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/stock"
	"meniscus/internal/views"
)

// mostLinks is how many steps of a lineage are read each way.
const mostLinks = 25_000

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
	nodes := make(map[uuid.UUID]views.StockNode, len(read.Nodes))
	for id, n := range read.Nodes {
		nodes[id] = views.StockNode{Kind: n.Kind, Code: n.Code, Material: n.Material}
	}
	return ok(views.Lineage(batch, lineage, nodes, views.Read{Whole: read.Whole, More: read.More}))
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
		withheld, err := c.tenant().WithheldTreatments(c.ctx())
		if err != nil {
			return nil, err
		}
		for _, treatment := range withheld {
			found.CannotBeExcluded = append(found.CannotBeExcluded, stock.Trace{Treatment: treatment.String(),
				Because: "What it used is withheld here: it is restricted."})
		}
		out, err := views.WhereUsed(id, found, views.Read{Whole: w.Whole, More: w.More}, c.touched)
		if err != nil {
			return nil, err
		}
		return ok(out)
	}
}

// touched reads what is on record of treatments.
func (c *requestContext) touched(treatments []uuid.UUID) (map[uuid.UUID]views.Touched, error) {
	rows, err := c.tenant().TouchedBy(c.ctx(), treatments)
	out := make(map[uuid.UUID]views.Touched, len(rows))
	for id, t := range rows {
		out[id] = views.Touched{
			Specimen: t.Specimen, Parts: t.Parts, Number: t.Number, Action: t.Action, Date: dateIn(t.Body),
		}
		if (postgres.Row{Body: t.Body}).Withheld() {
			out[id] = views.Touched{Specimen: t.Specimen, Number: t.Number, Action: string(record.ActionOther),
				Date: record.Date{Answer: "unknown"}}
		}
	}
	return out, err
}

// dateIn is a treatment's date as its statement has it.
func dateIn(body *string) record.Date {
	reading, err := statement.OfEntry(record.KindTreatment, body)
	if err != nil {
		return record.Date{Answer: "unknown"}
	}
	return reading.Value.(*record.Treatment).Date
}

// users groups rows by batch or treatment; the rows of one follow each other.
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

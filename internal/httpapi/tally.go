package httpapi

import (
	"cmp"
	"fmt"
	"io"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/sheet"
	"meniscus/internal/views"
)

// tallyRows is how many rows each group of the counts has at most.
const tallyRows = 1000

// reportTreatments counts the treatments of a period, as JSON, as a table or as a paper.
func reportTreatments(s *Server, c *requestContext) (*answer, error) {
	from, err := c.day("from")
	if err != nil {
		return nil, err
	}
	until, err := c.day("until")
	if err != nil {
		return nil, err
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	found, err := c.tenant().Tally(c.ctx(), from, until, tallyRows)
	if err != nil {
		return nil, err
	}
	tally := tallyOf(found, base)
	switch c.mediaType {
	case htmlType, pdfType:
		head, err := s.reportHead(c, from, until)
		if err != nil {
			return nil, err
		}
		return printed(c, views.TallyPaper(tally, head))
	case "text/csv":
		return c.report("treatments", nil, func(w io.Writer) error { return tallyTable(w, tally) }), nil
	}
	return ok(tally)
}

func tallyOf(found postgres.Tally, base *material.Base) api.TreatmentTally {
	out := api.TreatmentTally{Treatments: found.Treatments, Perhaps: found.Perhaps, Items: []api.TalliedTreatments{}}
	var cautions []string
	if found.More > 0 {
		cautions = append(cautions, fmt.Sprintf("Of rows with fewer treatments %d are left out.", found.More))
	}
	if found.Cut {
		cautions = append(cautions, "Not all was followed that batches were made from: more treatments may have used a material.")
	}
	if len(cautions) > 0 {
		out.Cautions = &cautions
	}
	for _, row := range found.Rows {
		x := api.TalliedTreatments{By: api.TalliedTreatmentsBy(row.By), Name: row.Name, Treatments: row.Treatments}
		switch {
		case row.ID == nil:
		case row.By == "material":
			m, _ := base.Material(*row.ID)
			x.Material, x.Name = row.ID, said(cmp.Or(m.Name, *row.ID))
		default:
			x.Person = api.RefIf(new(uuid.MustParse(*row.ID)))
		}
		out.Items = append(out.Items, x)
	}
	return out
}

func tallyTable(w io.Writer, tally api.TreatmentTally) error {
	out := sheet.NewWriter(w)
	err := out.Write("by", "id", "name", "treatments")
	for _, x := range tally.Items {
		id := deref(x.Material)
		if x.Person != nil {
			id = x.Person.Id.String()
		}
		err = firstOf(err, out.Write(string(x.By), id, deref(x.Name), fmt.Sprint(x.Treatments)))
	}
	return firstOf(err, out.Flush())
}

// reportHead is what a paper of the report that was asked for begins with.
func (s *Server) reportHead(c *requestContext, from, until *time.Time) (views.ReportHead, error) {
	in, err := c.tenant().Institution(c.ctx())
	return views.ReportHead{Institution: in.Name, Address: string(c.address()) + c.echo.Request().URL.RequestURI(),
		From: from, Until: until, Made: s.now()}, err
}

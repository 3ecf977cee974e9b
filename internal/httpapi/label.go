package httpapi

import (
	"math"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/label"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

const pdfType = "application/pdf"

// usualCapacity is taken where neither the caller nor the record says how large
// the container is, in mL: a jar on which the full label stands.
const usualCapacity = 250

// labelBatch gives the label of a batch as what it says, as a picture, or to
// print.
func labelBatch(s *Server, c *requestContext) (*answer, error) {
	id := c.id("batchId")
	if err := s.mustExist(c, record.KindBatch, id); err != nil {
		return nil, err
	}
	if err := c.copiesAreForPrint(); err != nil {
		return nil, err
	}
	g, facts, err := s.labelFacts(c, id)
	if err != nil {
		return nil, err
	}
	capacity, from := c.capacity(g.Container(id))
	return c.drawn(label.New(facts, g.known, capacity), func(made label.Label) any {
		return batchLabel(id, facts.Address, capacity, from, made)
	})
}

// copiesAreForPrint refuses copies of what is not printed.
func (c *requestContext) copiesAreForPrint() error {
	if c.number("copies") > 0 && c.mediaType != pdfType {
		return parameterFault("copies", "Copies on a sheet are for printing: send Accept: application/pdf with it.")
	}
	return nil
}

// drawn answers with a label as a picture, to print, or as what it says.
func (c *requestContext) drawn(made label.Label, says func(label.Label) any) (*answer, error) {
	switch c.mediaType {
	case svgType:
		a := &answer{body: made.SVG()}
		return a, nil
	case pdfType:
		body, err := made.PDF(c.number("copies"))
		return documentAnswer(pdfType, body, err)
	}
	return ok(says(made))
}

// labelFacts reads a batch with all that it was made from. A retracted one is
// read as it was last stated, and said to be retracted.
func (s *Server) labelFacts(c *requestContext, id uuid.UUID) (gathering, label.Facts, error) {
	g, err := s.gather(c)
	if err != nil {
		return g, label.Facts{}, err
	}
	row, retracted, reason, err := asLastStated(c, id)
	if err != nil {
		return g, label.Facts{}, err
	}
	if err := g.add([]postgres.Row{row}); err != nil {
		return g, label.Facts{}, err
	}
	return g, g.Label(id, retracted, reason), nil
}

// asLastStated is the revision of a record in force; of a retracted one the last that
// says something, and why it was retracted.
func asLastStated(c *requestContext, id uuid.UUID) (row postgres.Row, retracted bool, reason string, err error) {
	found, err := c.tenant().InForceOf(c.ctx(), []uuid.UUID{id})
	if err != nil {
		return row, false, "", err
	}
	row = found[id]
	if row.Act != ledger.Retracted {
		return row, false, "", nil
	}
	if stands, err := statement.OpenEntry(row.Body); err == nil {
		reason = deref(stands.Reason)
	}
	row, err = lastStated(c, id, row)
	return row, true, reason, err
}

// lastStated is the last revision with a statement; without words where these were
// redacted.
func lastStated(c *requestContext, id uuid.UUID, otherwise postgres.Row) (postgres.Row, error) {
	row, err := c.tenant().LastSaid(c.ctx(), id)
	if err != nil || row == nil {
		return otherwise, err
	}
	return *row, nil
}

// capacity is that of the container in mL, and where it was taken from.
func (c *requestContext) capacity(container *record.Container) (float64, api.BatchLabelCapacityFrom) {
	if asked, given := c.query["capacity"].(float64); given {
		return asked, "request"
	}
	if container != nil && container.Capacity != nil {
		if m, err := container.Capacity.Measured(quantity.Millilitre); err == nil && m.Value > 0 {
			return m.Value, "record"
		}
	}
	return usualCapacity, "assumed"
}

func batchLabel(
	id [16]byte, address string, capacity float64, from api.BatchLabelCapacityFrom, l label.Label,
) api.BatchLabel {
	return api.BatchLabel{
		Batch: api.Ref(id), Address: address, Capacity: calculation.Quantity(capacity, quantity.Millilitre), CapacityFrom: from,
		Pieces: each(l.Pieces, labelPiece), LeftOut: each(l.LeftOut, labelOmission), Rules: each(l.Rules, labelRule),
		Replaced: append([]string{}, l.Replaced...), Notes: l.Notes,
	}
}

func labelPiece(p label.Piece) api.LabelPiece {
	out := api.LabelPiece{
		Place: api.LabelPiecePlace(p.Place), Width: millimetres(p.Layout.Width), Height: millimetres(p.Layout.Height),
		LeastWidth: millimetres(p.Size.Width), LeastHeight: millimetres(p.Size.Height), Grown: p.Layout.Grown,
		XHeight: millimetres(p.Layout.XHeight), LeastXHeight: millimetres(p.Size.XHeight),
		Pictograms: each(p.Content.Pictograms, labelPictogram), CameraCode: p.Layout.Module > 0,
		Says: each(p.Content.Says, labelText),
	}
	if word := api.SignalWord(p.Content.Signal()); word != "" {
		out.SignalWord = &word
	}
	if p.Layout.Side > 0 {
		side := millimetres(p.Layout.Side)
		out.PictogramSide = &side
	}
	return out
}

func labelPictogram(code string) api.LabelPictogram {
	return api.LabelPictogram{Code: api.Pictogram(code), Shows: label.PictogramName(code)}
}

func labelText(s label.Saying) api.LabelText {
	return api.LabelText{
		Element: api.LabelElement(s.Element), Code: said(s.Code), Text: s.Text, Incomplete: yes(s.Incomplete),
	}
}

func labelOmission(o label.Omission) api.LabelOmission {
	return api.LabelOmission{
		Element: api.LabelElement(o.Element), Code: said(o.Code), Text: o.Text, Rule: labelRule(o.Rule), Instead: o.Instead,
	}
}

func labelRule(r label.Rule) api.LabelRule {
	return api.LabelRule{Says: r.Says, Source: api.Attribution{Citation: r.Source, Status: api.ValueStatus(r.Status)}}
}

// millimetres is a length to a hundredth.
func millimetres(x float64) api.ComputedQuantity {
	return calculation.Quantity(math.Round(x*100)/100, "mm")
}

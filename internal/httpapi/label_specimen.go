package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/label"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
)

// usualVial is the capacity in mL where the caller does not say it.
const usualVial = 30.0

// labelSpecimen gives the label of a specimen as what it says, as a picture, or to
// print.
func labelSpecimen(s *Server, c *requestContext) (*answer, error) {
	id := c.id("specimenId")
	if err := s.mustExist(c, record.KindSpecimen, id); err != nil {
		return nil, err
	}
	if err := c.copiesAreForPrint(); err != nil {
		return nil, err
	}
	facts, err := s.specimenLabelFacts(c, id)
	if err != nil {
		return nil, err
	}
	capacity, given := c.query["capacity"].(float64)
	if !given {
		capacity = usualVial
	}
	return c.drawn(label.OfSpecimen(facts, capacity), func(made label.Label) any {
		return api.SpecimenLabel{
			Specimen: api.Ref(id), Address: facts.Address, Capacity: calculation.Quantity(capacity, quantity.Millilitre),
			Piece: labelPiece(made.Pieces[0]), Rules: each(made.Rules, labelRule),
			Replaced: append([]string{}, made.Replaced...),
		}
	})
}

// specimenLabelFacts reads a specimen with the one that it came from and the one that
// stands for it.
func (s *Server) specimenLabelFacts(c *requestContext, id uuid.UUID) (label.Specimen, error) {
	g, err := s.gather(c)
	if err != nil {
		return label.Specimen{}, err
	}
	row, retracted, reason, err := asLastStated(c, id)
	if err != nil {
		return label.Specimen{}, err
	}
	stands, err := c.tenant().Survivor(c.ctx(), id)
	if err != nil {
		return label.Specimen{}, err
	}
	wanted, rows := []uuid.UUID{stands}, []postgres.Row{row}
	if reading, err := statement.OfEntry(row.Kind, row.Body); err == nil {
		if parent := reading.Value.(*record.Specimen).Parent(); parent != uuid.Nil {
			wanted = append(wanted, parent)
			took, err := c.tenant().SamplingsOf(c.ctx(), parent, id)
			if err != nil {
				return label.Specimen{}, err
			}
			rows = append(rows, took...)
		}
	}
	if err := g.add(rows, wanted...); err != nil {
		return label.Specimen{}, err
	}
	of, err := c.aboutLastStated(row, stands, retracted)
	if err != nil {
		return label.Specimen{}, err
	}
	return g.SpecimenLabel(id, stands, of, retracted, reason), nil
}

// aboutLastStated is what is said of the specimen that stands; of a retracted one by its
// last words.
func (c *requestContext) aboutLastStated(
	last postgres.Row, stands uuid.UUID, retracted bool,
) (*stack.Specimen, error) {
	if !retracted {
		about, err := c.about(stands)
		return about[stands], err
	}
	told, err := c.tellersOf([]uuid.UUID{stands})
	if err != nil {
		return nil, err
	}
	return told.specimen(stands, []postgres.Row{last}), nil
}

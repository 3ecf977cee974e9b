package httpapi

import (
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/layers"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// about is what every answer says of specimens, without reading their treatments: their
// hazards, that a record was merged, that the specimen left. The records are those that
// stand for the specimens.
func (c *requestContext) about(ids ...uuid.UUID) (map[uuid.UUID]*stack.Specimen, error) {
	own, err := c.tenant().InForceOf(c.ctx(), ids)
	if err != nil {
		return nil, err
	}
	told, err := c.tellersOf(ids)
	if err != nil {
		return nil, err
	}
	out := map[uuid.UUID]*stack.Specimen{}
	for _, id := range ids {
		var rows []postgres.Row
		if row, ok := own[id]; ok {
			rows = []postgres.Row{row}
		}
		out[id] = told.specimen(id, rows)
	}
	return out, c.tellHazards(slices.Collect(maps.Values(out))...)
}

// tellers are what tells of specimens beside their own records.
type tellers struct {
	families map[uuid.UUID][]postgres.Kin
	clues    map[uuid.UUID][]postgres.Clue
	known    *material.Base
}

// tellersOf reads what tells of specimens beside their own records.
func (c *requestContext) tellersOf(ids []uuid.UUID) (t tellers, err error) {
	if t.known, err = c.server.knowledge(c); err != nil {
		return t, err
	}
	if t.families, err = c.tenant().FamiliesOf(c.ctx(), ids); err != nil {
		return t, err
	}
	t.clues, err = c.tenant().CluesOf(c.ctx(), ids)
	return t, err
}

func (t tellers) specimen(id uuid.UUID, own []postgres.Row) *stack.Specimen {
	sp := layers.SpecimenOf(id, own, t.families[id], t.clues[id], t.known)
	return &sp
}

// noticesOf is what is to be known first of the specimens of a treatment; what is known of
// several is said once. Open are those of them on hazards of which nobody knows.
func (c *requestContext) noticesOf(specimens []uuid.UUID) (notices, open []string, err error) {
	stand := make([]uuid.UUID, len(specimens))
	for i, id := range specimens {
		if stand[i], err = c.tenant().Survivor(c.ctx(), id); err != nil {
			return nil, nil, err
		}
	}
	about, err := c.about(stand...)
	for _, id := range stand {
		if err != nil {
			break
		}
		for _, said := range about[id].Notices() {
			if !slices.Contains(notices, said) {
				notices = append(notices, said)
			}
		}
		hazards := about[id].ReadHazards()
		open = append(open, hazards.Open()...)
	}
	return notices, open, err
}

package layers

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/shelf"
	"meniscus/internal/stack"
	"meniscus/internal/values"
)

// Config makes a specimen's history ready for package stack.
func Config(specimen uuid.UUID, h postgres.History, base *material.Base, at edtf.Day) stack.Config {
	c := stack.Config{Knowledge: base, At: at}
	var st api.SpecimenStatement
	if len(h.Specimen) > 0 {
		values.Statement(h.Specimen[0].Body, &st)
	}
	c.Specimen = Specimen(specimen.String(), &st)
	on := shelf.Read(base, h.Shelf)
	for _, row := range h.Treatments {
		if t, inForce := treatmentOf(row, specimen, h.Borrowed, on); inForce {
			c.Treatments = append(c.Treatments, t)
		}
	}
	return c
}

// treatmentOf reads one row; inForce tells whether it is, and on the
// specimen. One whose words were redacted, or cannot be read any more, is a
// treatment of which nothing is known.
func treatmentOf(row postgres.Row, specimen uuid.UUID, borrowed map[uuid.UUID]postgres.Borrowed, on *shelf.Shelf) (t stack.Treatment, inForce bool) {
	if row.Act == ledger.Retracted {
		return t, false
	}
	var st api.TreatmentStatement
	if !values.Statement(row.Body, &st) {
		return stack.Treatment{ID: row.Record.String(), Action: stack.OtherAction, AreasUnknown: true}, true
	}
	from, isBorrowed := borrowed[row.Record]
	if !isBorrowed && !concerns(&st, specimen) {
		return t, false
	}
	if st.Areas.Paths != nil && len(from.Within) > 0 {
		within := record.AreasWithin(*st.Areas.Paths, from.Within)
		st.Areas.Paths = &within
	}
	t = asStated(row, Treatment(row.Record.String(), &st, on))
	if from.Because == "merged" {
		t.Specimen = specimen.String() // the two records are one specimen
	}
	if row.Place != nil {
		t.Place = *row.Place
	}
	return t, true
}

// asStated takes the authorisation off what was received from another institution:
// it is the sender's word, and authorises nothing here.
func asStated(row postgres.Row, t stack.Treatment) stack.Treatment {
	if t.Authorised == stack.Yes && values.Received(row.Body) {
		t.Authorised = stack.Unknown
	}
	return t
}

func concerns(st *api.TreatmentStatement, specimen uuid.UUID) bool {
	on := func(r *api.SpecimenRef) bool { return r != nil && r.Id != nil && *r.Id == specimen }
	return on(&st.Specimen) || on(st.JoinedTo)
}

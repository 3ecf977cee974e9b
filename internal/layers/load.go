package layers

import (
	jsonv2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/stack"
)

// Config makes a specimen's history ready for package stack.
func Config(specimen uuid.UUID, h postgres.History, base *material.Base, at edtf.Day) stack.Config {
	c := stack.Config{Knowledge: base, At: at}
	var st api.SpecimenStatement
	if len(h.Specimen) > 0 {
		read(h.Specimen[0], &st)
	}
	c.Specimen = Specimen(specimen.String(), &st)
	mixtures := ReadMixtures(h.Stock, base)
	for _, row := range h.Treatments {
		if t, on := treatmentOf(row, specimen, h.Borrowed, mixtures); on {
			c.Treatments = append(c.Treatments, t)
		}
	}
	return c
}

// treatmentOf reads one row; on tells whether it is in force and on the
// specimen. One whose words were redacted, or cannot be read any more, is a
// treatment of which nothing is known.
func treatmentOf(row postgres.Row, specimen uuid.UUID, borrowed map[uuid.UUID]postgres.Borrowed, mixtures Mixtures) (t stack.Treatment, on bool) {
	if row.Act == ledger.Retracted {
		return t, false
	}
	var st api.TreatmentStatement
	if !read(row, &st) {
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
	t = Treatment(row.Record.String(), &st, mixtures)
	if from.Because == "merged" {
		t.Specimen = specimen.String() // the two records are one specimen
	}
	if row.Place != nil {
		t.Place = *row.Place
	}
	return t, true
}

func concerns(st *api.TreatmentStatement, specimen uuid.UUID) bool {
	on := func(r *api.SpecimenRef) bool { return r != nil && r.Id != nil && *r.Id == specimen }
	return on(&st.Specimen) || on(st.JoinedTo)
}

// ReadMixtures reads the statements of supplies and batches.
func ReadMixtures(rows []postgres.Row, base *material.Base) Mixtures {
	m := Mixtures{Supplies: map[uuid.UUID]*api.SupplyStatement{}, Batches: map[uuid.UUID]*api.BatchStatement{}, Base: base}
	for _, row := range rows {
		switch row.Kind {
		case record.KindSupply:
			var st api.SupplyStatement
			if read(row, &st) {
				m.Supplies[row.Record] = &st
			}
		case record.KindBatch:
			var st api.BatchStatement
			if read(row, &st) {
				m.Batches[row.Record] = &st
			}
		}
	}
	return m
}

// read reads a row's statement, and tells whether it could be read: its words
// may be gone.
func read(row postgres.Row, into any) bool {
	if row.Body == nil {
		return false
	}
	var body struct {
		Statement jsontext.Value `json:"statement"`
	}
	if err := jsonv2.Unmarshal([]byte(*row.Body), &body); err != nil || len(body.Statement) == 0 {
		return false
	}
	return jsonv2.Unmarshal(body.Statement, into) == nil
}

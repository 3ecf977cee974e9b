package layers

import (
	"fmt"

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
func Config(specimen uuid.UUID, h postgres.History, base *material.Base, at edtf.Day) (stack.Config, error) {
	c := stack.Config{Knowledge: base, At: at}
	var st api.SpecimenStatement
	if len(h.Specimen) > 0 {
		if _, err := read(h.Specimen[0], &st); err != nil {
			return c, err
		}
	}
	c.Specimen = Specimen(specimen.String(), &st)
	mixtures, err := ReadMixtures(h.Stock, base)
	if err != nil {
		return c, err
	}
	for _, row := range h.Treatments {
		t, on, err := treatmentOf(row, specimen, mixtures)
		if err != nil {
			return c, err
		}
		if on {
			c.Treatments = append(c.Treatments, t)
		}
	}
	return c, nil
}

// treatmentOf reads one row; on tells whether it is in force and on the
// specimen. One whose words were redacted is a treatment of which nothing is
// known.
func treatmentOf(row postgres.Row, specimen uuid.UUID, mixtures Mixtures) (t stack.Treatment, on bool, err error) {
	if row.Act == ledger.Retracted {
		return t, false, nil
	}
	var st api.TreatmentStatement
	known, err := read(row, &st)
	if err != nil {
		return t, false, err
	}
	if !known {
		return stack.Treatment{ID: row.Record.String(), Action: stack.OtherAction, AreasUnknown: true}, true, nil
	}
	if !concerns(&st, specimen) {
		return t, false, nil
	}
	t = Treatment(row.Record.String(), &st, mixtures)
	if row.Place != nil {
		t.Place = *row.Place
	}
	return t, true, nil
}

func concerns(st *api.TreatmentStatement, specimen uuid.UUID) bool {
	on := func(r *api.SpecimenRef) bool { return r != nil && r.Id != nil && *r.Id == specimen }
	return on(&st.Specimen) || on(st.JoinedTo)
}

// ReadMixtures reads the statements of supplies and batches.
func ReadMixtures(rows []postgres.Row, base *material.Base) (Mixtures, error) {
	m := Mixtures{Supplies: map[uuid.UUID]*api.SupplyStatement{}, Batches: map[uuid.UUID]*api.BatchStatement{}, Base: base}
	for _, row := range rows {
		switch row.Kind {
		case record.KindSupply:
			var st api.SupplyStatement
			if known, err := read(row, &st); err != nil {
				return m, err
			} else if known {
				m.Supplies[row.Record] = &st
			}
		case record.KindBatch:
			var st api.BatchStatement
			if known, err := read(row, &st); err != nil {
				return m, err
			} else if known {
				m.Batches[row.Record] = &st
			}
		}
	}
	return m, nil
}

// read reads a row's statement; known is false where its words are gone.
func read(row postgres.Row, into any) (known bool, err error) {
	if row.Body == nil {
		return false, nil
	}
	var body struct {
		Statement jsontext.Value `json:"statement"`
	}
	if err := jsonv2.Unmarshal([]byte(*row.Body), &body); err != nil {
		return false, fmt.Errorf("reading the words of %s: %w", row.Record, err)
	}
	if len(body.Statement) == 0 {
		return false, nil
	}
	if err := jsonv2.Unmarshal(body.Statement, into); err != nil {
		return false, fmt.Errorf("reading the statement of %s: %w", row.Record, err)
	}
	return true, nil
}

package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

func traceLineage(s *Server, c *call) (*answer, error) {
	batch := c.id("batchId")
	from, into, links, err := s.store.LineageOf(c.ctx(), c.principal.Institution, batch)
	if err != nil {
		return nil, err
	}
	a := api.Lineage{Batch: batch, MadeFrom: nodesOf(from), MadeInto: nodesOf(into), Links: []api.LineageLink{}, Findings: []api.Finding{}}
	for _, l := range links {
		a.Links = append(a.Links, api.LineageLink{From: l.From, Into: l.Into})
	}
	if circular(batch, from, into) {
		a.Findings = append(a.Findings, circleFinding)
	}
	return ok(a)
}

var circleFinding = api.Finding{Rule: "lineage-circle", Severity: "warn",
	Sentence: "The record says that this batch was made, through others, from itself; one of the inputs on the way is wrong."}

// circular tells whether a batch is on record as made from itself.
func circular(batch uuid.UUID, from, into []postgres.Lineage) bool {
	seen := map[uuid.UUID]bool{batch: true}
	for _, n := range from {
		if n.ID == batch {
			return true
		}
		seen[n.ID] = true
	}
	for _, n := range into {
		if seen[n.ID] {
			return true
		}
	}
	return false
}

func nodesOf(found []postgres.Lineage) []api.LineageNode {
	nodes := make([]api.LineageNode, 0, len(found))
	for _, n := range found {
		nodes = append(nodes, api.LineageNode{Id: n.ID, Kind: api.LineageNodeKind(n.Kind), Code: deref(n.Code), Material: n.Material, Depth: int32(n.Depth)})
	}
	return nodes
}

// whereUsed makes the handler that traces a supply or a batch to specimens.
func whereUsed(kind record.Kind, param string) handler {
	return func(s *Server, c *call) (*answer, error) {
		id := c.id(param)
		w, err := s.store.WhereUsed(c.ctx(), c.principal.Institution, kind, id)
		if err != nil {
			return nil, err
		}
		a := api.WhereUsed{Of: id,
			Certain:          touchedRows(w.Certain, func(postgres.Touched) string { return "The lineage says so." }),
			Possible:         touchedRows(w.Possible, possibleBecause),
			CannotBeExcluded: touchedRows(w.CannotBeExcluded, wordsBecause),
		}
		a.Counts.Certain, a.Counts.Possible, a.Counts.CannotBeExcluded = int64(len(a.Certain)), int64(len(a.Possible)), int64(len(a.CannotBeExcluded))
		return ok(a)
	}
}

func possibleBecause(t postgres.Touched) string {
	if t.Latest == nil {
		return "The same material is recorded without a batch, and its date is not known well enough to exclude it."
	}
	return "The same material is recorded without a batch, and the dates fit."
}

func wordsBecause(t postgres.Touched) string {
	return "The words on record, \"" + deref(t.Words) + "\", may mean this material."
}

func touchedRows(found []postgres.Touched, because func(postgres.Touched) string) []api.WhereUsedRow {
	rows := make([]api.WhereUsedRow, 0, len(found))
	for _, t := range found {
		why := because(t)
		row := api.WhereUsedRow{Treatment: t.Treatment, Specimen: t.Specimen, Number: t.Number, Action: api.Action(t.Action),
			Because: &why, Dates: datesIn(t.Body)}
		if len(t.Through) > 0 {
			row.Through = &t.Through
		}
		row.Parts = listOrNone(t.Parts)
		rows = append(rows, row)
	}
	return rows
}

// datesIn is a treatment's dates as its statement has them.
func datesIn(body *string) api.AnswerableDate {
	var st api.TreatmentStatement
	if raw := statementOf(body); raw == nil || decodeInto(raw, &st) != nil {
		unknown := api.Answer("unknown")
		return api.AnswerableDate{Answer: &unknown}
	}
	return st.Dates
}

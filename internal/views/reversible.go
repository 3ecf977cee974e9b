package views

import (
	"fmt"
	"strings"
	"time"

	"meniscus/api"
)

// ReversibleCount counts the rows of a report of reversible treatments, and what cannot
// be said of them.
type ReversibleCount struct {
	Totals    api.ReversibleTotals
	remainder api.ReversibleRemainder
	seen      api.RecordRef // the last treatment counted; its rows stand together
}

// Add counts a row. Settled tells whether its material is one and not one of several.
func (n *ReversibleCount) Add(row api.ReversibleTreatment, settled bool) {
	if row.Treatment != n.seen {
		n.Totals.Treatments++
		n.seen = row.Treatment
	}
	if row.Dates.Earliest == nil && row.Dates.Latest == nil {
		n.remainder.DateUnknown++
	}
	if !row.AreasKnown {
		n.remainder.AreaUnknown++
	}
	aside := deref(row.SetAside)
	if aside {
		n.remainder.SetAside = new(deref(n.remainder.SetAside) + 1)
	}
	if row.Position == nil { // no layer was worked out
		if !aside {
			n.remainder.NotComputed++
		}
		n.Totals.Redissolvable.Unknown++
		return
	}
	n.layer(row, settled)
}

func (n *ReversibleCount) layer(row api.ReversibleTreatment, settled bool) {
	n.Totals.Layers++
	switch deref(row.Redissolvable) {
	case "yes":
		n.Totals.Redissolvable.Yes++
	case "partly":
		n.Totals.Redissolvable.Partly++
	case "no":
		n.Totals.Redissolvable.No++
	default:
		n.Totals.Redissolvable.Unknown++
	}
	if !settled {
		n.remainder.MaterialUnknown++
	}
}

// Remainder is what cannot be said, and of how many specimens nothing is recorded.
func (n *ReversibleCount) Remainder(withoutRecord, withheld int) api.ReversibleRemainder {
	out := n.remainder
	out.SpecimensWithoutRecord, out.Sentences = int32(withoutRecord), []string{}
	for _, x := range []struct {
		n         int32
		one, many string
	}{
		{out.MaterialUnknown, "Of one layer the material is not settled, so its answers are the most cautious ones.",
			"Of %d layers the material is not settled, so their answers are the most cautious ones."},
		{out.DateUnknown, "One layer has no date; it may be of the period or not.",
			"%d layers have no date; they may be of the period or not."},
		{out.AreaUnknown, "The area of one layer is not known.", "The areas of %d layers are not known."},
		{out.NotComputed, "One treatment was recorded so recently that it was not looked at yet.",
			"%d treatments were recorded so recently that they were not looked at yet."},
		{deref(out.SetAside), "One treatment is on a specimen whose layers could not be worked out, " +
			"so nothing is said of it.",
			"%d treatments are on specimens whose layers could not be worked out, so nothing is said of them."},
		{out.SpecimensWithoutRecord, "One specimen is registered and has no recorded treatment, " +
			"which does not mean that it was never treated.",
			"%d specimens are registered and have no recorded treatment, " +
				"which does not mean that they were never treated."},
	} {
		switch {
		case x.n == 1:
			out.Sentences = append(out.Sentences, x.one)
		case x.n > 1:
			out.Sentences = append(out.Sentences, fmt.Sprintf(x.many, x.n))
		}
	}
	if withheld > 0 {
		out.Sentences = append(out.Sentences, WithheldTreatments(withheld))
	}
	return out
}

// WithheldTreatments says of how many treatments of the institution a report says nothing, whatever
// it was asked.
func WithheldTreatments(n int) string {
	return fmt.Sprintf("Restricted treatments that are withheld here, of any date and material: %d.", n)
}

// ReversibleColumns are the columns of the report as a table: a line for each layer.
var ReversibleColumns = []string{
	"treatment", "specimen", "number", "hazards", "collection", "action", "earliest", "latest", "areas", "role", "material",
	"certainty", "state", "damage", "redissolvable", "removable", "retreatable", "ageing", "removedBy", "testsOnly", "block", "warn",
	"info", "computedOn", "setAside", "strength", "strengthUnit", "strengthBasis", "strengthOrigin",
	"strengthUncertainty", "dateWritten", "passedOn",
}

// ReversibleCells are the cells of a row.
func ReversibleCells(x api.ReversibleTreatment) []string {
	cells := []string{
		x.Treatment.Id.String(), x.Specimen.Id.String(), deref(x.Number), hazardsCell(x.Hazards), deref(x.Collection), string(x.Action),
		dayText(x.Dates.Earliest), dayText(x.Dates.Latest), strings.Join(x.Areas, "; "),
		string(deref(x.Role)), deref(x.Material), string(deref(x.Certainty)), string(deref(x.State)), string(deref(x.Damage)),
		string(deref(x.Redissolvable)), string(deref(x.Removable)), string(deref(x.Retreatable)),
		string(deref(x.Ageing)), strings.Join(deref(x.RemovedBy), "; "), strings.Join(deref(x.TestsOnly), "; "),
		fmt.Sprint(x.Findings.Block), fmt.Sprint(x.Findings.Warn), fmt.Sprint(x.Findings.Info),
		dayText(x.ComputedOn), yesOrNothing(deref(x.SetAside)),
	}
	return append(append(cells, strengthCells(x.Strength)...), deref(x.Dates.Written), passedOnCell(x.PassedOn))
}

// strengthCells are the cells of a layer's strength: its value, unit, basis,
// origin, and expanded uncertainty.
func strengthCells(s *api.LayerStrength) []string {
	if s == nil {
		return make([]string, 5)
	}
	uncertainty := ""
	if s.Uncertainty != nil {
		uncertainty = fmt.Sprint(s.Uncertainty.Expanded)
	}
	return []string{fmt.Sprint(s.Value), deref(s.Unit), string(s.Basis), string(s.Origin), uncertainty}
}

func dayText(d *api.Day) string {
	if d == nil {
		return ""
	}
	return d.Format(time.DateOnly)
}

func yesOrNothing(is bool) string {
	if is {
		return "yes"
	}
	return ""
}

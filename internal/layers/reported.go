package layers

import (
	"time"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/views"
	"meniscus/internal/wire"
)

// reported is the part of a row that is stored as JSON: it is shown and not searched.
type reported struct {
	Material    string                 `json:"material"`
	Written     string                 `json:"written,omitempty"` // the date, where it is uncertain or approximate
	Damage      string                 `json:"damage,omitempty"`
	Strength    *api.LayerStrength     `json:"strength,omitempty"`
	Certainty   api.Certainty          `json:"certainty"`
	Ageing      string                 `json:"ageing"`
	AgeingClass []string               `json:"ageingClass,omitempty"`
	RemovedBy   []string               `json:"removedBy,omitempty"`
	TestsOnly   []string               `json:"testsOnly,omitempty"`
	Evidence    []api.ReportedEvidence `json:"evidence,omitempty"`
	Settled     bool                   `json:"settled"`
}

// ReversibleItem renders a row; settled tells whether its material is certain, and not
// one of several candidates.
func ReversibleItem(row postgres.ReversibleRow) (item api.ReversibleTreatment, settled bool) {
	out := api.ReversibleTreatment{
		Treatment: api.Ref(row.Treatment), Specimen: api.Ref(row.Specimen), Number: row.Number, Collection: row.Collection,
		Action: api.Action(row.Action), Dates: DayBounds(row.Earliest, row.Latest),
		Areas: row.Areas, AreasKnown: len(row.Areas) > 0, Parts: listOrNone(api.Refs(row.Parts)),
		Findings: api.FindingCounts{Block: int32(row.Block), Warn: int32(row.Warn), Info: int32(row.Info)},
	}
	if row.SetAside {
		out.SetAside = &row.SetAside
	}
	if row.Body == nil {
		return out, false
	}
	position := int32(row.Position)
	out.Position, out.Sequence = &position, row.Sequence
	out.Role, out.State = (*api.LayerRole)(row.Role), (*api.LayerState)(row.State)
	out.Redissolvable, out.Removable = (*api.UndoAnswer)(row.Redissolvable), (*api.UndoAnswer)(row.Removable)
	out.Retreatable = (*api.UndoAnswer)(row.Retreatable)
	if row.ComputedOn != nil {
		out.ComputedOn = new(views.Day(edtf.DayOf(*row.ComputedOn)))
	}
	var said reported
	if wire.Decode([]byte(*row.Body), &said) == nil {
		out.Material, out.Certainty, out.Strength = &said.Material, &said.Certainty, said.Strength
		if said.Damage != "" {
			out.Damage = new(api.DamageKind(said.Damage))
		}
		if said.Written != "" {
			out.Dates.Written = &said.Written
		}
		out.Ageing = (*api.ReversibleTreatmentAgeing)(&said.Ageing)
		out.AgeingClass, out.Evidence = listOrNone(said.AgeingClass), listOrNone(said.Evidence)
		out.RemovedBy, out.MoreRemovedBy = someOf(said.RemovedBy)
		out.TestsOnly, out.MoreTestsOnly = someOf(said.TestsOnly)
	}
	return out, said.Settled
}

// DayBounds are a row's earliest and latest days as the API's type.
func DayBounds(earliest, latest *time.Time) api.DateBounds {
	var p edtf.Period
	if earliest != nil {
		p.From = edtf.DayOf(*earliest)
	}
	if latest != nil {
		p.To = edtf.DayOf(*latest)
	}
	return views.Bounds(p)
}

// mostLiquids is how many liquids a row lists.
const mostLiquids = 100

// someOf are the first of many liquids, and how many more there are; nil where there is
// nothing to say.
func someOf(liquids []string) (listed *[]string, more *api.Count) {
	if beyond := len(liquids) - mostLiquids; beyond > 0 {
		liquids, more = liquids[:mostLiquids], new(api.Count(beyond))
	}
	return listOrNone(liquids), more
}

// listOrNone is nil for an empty list, so that the field is left out.
func listOrNone[T any](list []T) *[]T {
	if len(list) == 0 {
		return nil
	}
	return &list
}

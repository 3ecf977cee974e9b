package layers

import (
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/stock"
)

// Specimen is a specimen's statement as package stack takes it.
func Specimen(id string, from *record.Specimen) stack.Specimen {
	s := stack.Specimen{
		ID: id, Collection: from.Collection, BodyKind: from.BodyKind, Condition: from.Condition,
		Traits: map[stack.Trait]stack.Answer{}, SamplingKnown: from.Sampling.Given,
		PassedOn: PassedOn(from),
	}
	for _, t := range from.Traits {
		s.Traits[stack.Trait(t.Name)] = yesNo(t.Answer)
	}
	for _, a := range from.Areas {
		s.Areas = append(s.Areas, stack.SpecimenArea{Path: stack.Area(a.Path), Separate: a.Separate})
	}
	for _, p := range from.Sampling.Value {
		s.Sampling = append(s.Sampling, stack.PlannedSampling{
			Areas: paths(p.Areas.Value), AreasUnknown: !p.Areas.Given, Analysis: p.Analysis,
		})
	}
	return s
}

// Treatment is a treatment's statement as package stack takes it. The stock book tells
// what the supplies and batches held when it used them.
func Treatment(id string, from *record.Treatment, on *stock.Book) stack.Treatment {
	t := stack.Treatment{
		ID: id, Action: stack.Action(from.Action), Method: stack.Method(from.Method), Coats: from.Coats,
		Areas: paths(from.Areas.Value), AreasUnknown: !from.Areas.Given, PossiblyReached: paths(from.PossiblyReached),
		Partial:     from.PartialBath.Given && from.PartialBath.Value,
		PartialOpen: from.PartialBath.Answer == record.AnswerUnknown,
		NothingPut:  from.Uses.Given && len(from.Uses.Value) == 0,
		Drying:      drying(from.Drying), When: from.Date.Value.Period(), Date: from.Date.Value,
		Environment: environment(from.Environment),
		Supported:   given(from.Support), Authorised: given(from.Authorisation), Protected: given(from.Protection),
	}
	if from.Specimen != (record.Ref{}) {
		t.Specimen = from.Specimen.String()
	}
	for i := range from.Uses.Value {
		t.Uses = append(t.Uses, uses{on, id}.use(&from.Uses.Value[i]))
	}
	for _, r := range from.Relations {
		t.Relations = append(t.Relations, stack.Relation{Kind: stack.RelationKind(r.Kind), To: r.Treatment.String()})
	}
	for _, e := range from.Exposures {
		t.Exposures = append(t.Exposures, stack.Exposure{
			Solvent: e.Solvent, Hours: in(e.Time, quantity.Hour), During: e.During,
		})
	}
	outcomes(&t, from)
	return t
}

// outcomes adds what a removal, a test, an examination, a label or a joint states
// beyond the action itself.
func outcomes(t *stack.Treatment, from *record.Treatment) {
	if r := from.Removal; r != nil {
		t.Removal = &stack.Removal{Left: stack.LayerState(r.Left), Method: r.Method, Limit: r.Limit}
		for _, id := range r.Treatments {
			t.Removal.Treatments = append(t.Removal.Treatments, id.String())
		}
	}
	if d := from.Damage; d != nil {
		t.Damage = &stack.DamageDone{Kind: d.Kind}
		for _, id := range d.Treatments {
			t.Damage.Treatments = append(t.Damage.Treatments, id.String())
		}
	}
	if x := from.Test; x != nil {
		t.Trial = &stack.Trial{Solvent: x.Solvent, Observed: x.Observed}
		if x.Layer != (record.Ref{}) {
			t.Trial.Layer = x.Layer.String()
		}
		if q := x.Dwell; q.Given {
			t.Trial.Dwell = q.Value.Value.String() + " " + string(q.Value.Unit)
		}
	}
	if x := from.Examination; x != nil {
		t.Examination = &stack.Examination{Outcome: x.Outcome, Elsewhere: !material.OfTreatments(x.LookedFor), How: x.How,
			Limit: x.Limit}
	}
	if from.Label != nil {
		t.NumberRecorded = truth(from.Label.NumberRecorded)
	}
	if from.Joint != nil {
		t.CarriesLoad = yesNo(from.Joint.CarriesLoad)
	}
}

func drying(d *record.Drying) stack.Drying {
	if d == nil {
		return stack.Drying{}
	}
	out := stack.Drying{State: d.State, Slowed: yesNo(d.HeldBack), TemperatureC: inUnit(d.Temperature, quantity.Celsius)}
	if d.Days != nil {
		out.Days = d.Days.Float64()
	}
	return out
}

func environment(e record.Environment) stack.Environment {
	out := stack.Environment{
		AirC: in(e.AirTemperature, quantity.Celsius), SurfaceC: in(e.SurfaceTemperature, quantity.Celsius),
		RelativeHumidity: in(e.RelativeHumidity, quantity.Percent), StoreC: in(e.StoreTemperature, quantity.Celsius),
		ClosedCase: yesNo(e.ClosedCase),
	}
	if e.PH != nil {
		ph := e.PH.Float64()
		out.PH = &ph
	}
	return out
}

// given answers whether a question was answered with a value (yes), with "none"
// (no), or not at all.
func given[T any](said record.Said[T]) stack.Answer {
	switch {
	case said.Given:
		return stack.Yes
	case said.Answer == record.AnswerNone:
		return stack.No
	}
	return stack.Unknown
}

// truth answers a question of yes or no that may be answered with unknown.
func truth(said record.Said[bool]) stack.Answer {
	switch {
	case !said.Given:
		return stack.Unknown
	case said.Value:
		return stack.Yes
	}
	return stack.No
}

func yesNo(a record.YesNo) stack.Answer {
	switch a {
	case "yes":
		return stack.Yes
	case "no":
		return stack.No
	}
	return stack.Unknown
}

func paths(list []string) []stack.Area {
	var out []stack.Area
	for _, p := range list {
		out = append(out, stack.Area(p))
	}
	return out
}

// in converts an amount to a unit; nil if it is unknown or of another kind.
func in(a record.Amount, unit quantity.Unit) *float64 {
	if !a.Given {
		return nil
	}
	return inUnit(&a.Value, unit)
}

func inUnit(q *quantity.Quantity, unit quantity.Unit) *float64 {
	if q == nil {
		return nil
	}
	x, err := q.In(unit)
	if err != nil {
		return nil
	}
	return &x
}

func deref[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}

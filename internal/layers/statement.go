package layers

import (
	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/shelf"
	"meniscus/internal/stack"
	"meniscus/internal/values"
)

// Specimen reads a specimen's statement.
func Specimen(id string, st *api.SpecimenStatement) stack.Specimen {
	s := stack.Specimen{
		ID: id, BodyKind: string(deref(st.BodyKind)), Condition: string(deref(st.Condition)),
		Traits: map[stack.Trait]stack.Answer{}, SamplingKnown: st.PlannedSampling != nil,
	}
	for _, t := range deref(st.BodyTraits) {
		s.Traits[stack.Trait(t.Trait)] = yesNo(&t.Answer)
	}
	for _, h := range deref(st.Hazards) {
		s.Hazards = append(s.Hazards, stack.Hazard{Name: string(h.Hazard), Status: string(h.Status)})
	}
	for _, a := range deref(st.Areas) {
		s.Areas = append(s.Areas, stack.SpecimenArea{Path: stack.Area(a.Path), Separate: deref(a.Separate)})
	}
	for _, p := range deref(st.PlannedSampling) {
		s.Sampling = append(s.Sampling, stack.PlannedSampling{
			Areas: paths(p.Areas.Paths), AreasUnknown: p.Areas.Paths == nil, Analysis: p.Analysis,
		})
	}
	return s
}

// Treatment reads a treatment's statement. What the supplies and batches held
// when it used them, the shelf tells.
func Treatment(id string, st *api.TreatmentStatement, on *shelf.Shelf) stack.Treatment {
	t := stack.Treatment{
		ID: id, Action: stack.Action(st.Action), Method: stack.Method(deref(st.Method)), Coats: int(deref(st.Coats)),
		Areas: paths(st.Areas.Paths), AreasUnknown: st.Areas.Paths == nil, PossiblyReached: paths(st.PossiblyReached),
		Partial: deref(st.PartialBath), NothingPut: st.Materials != nil && len(*st.Materials) == 0,
		Drying: drying(st.Drying), When: when(&st.Dates), Environment: environment(st.Environment),
		Supported: given(st.Support), Authorised: authorised(st.Authorisation),
	}
	if st.Specimen.Id != nil {
		t.Specimen = st.Specimen.Id.String()
	}
	for _, u := range deref(st.Materials) {
		t.Uses = append(t.Uses, uses{on, id}.use(&u))
	}
	for _, r := range deref(st.Relations) {
		t.Relations = append(t.Relations, stack.Relation{Kind: stack.RelationKind(r.Relation), To: r.Treatment.String()})
	}
	for _, e := range deref(st.SolventExposure) {
		t.Exposures = append(t.Exposures, stack.Exposure{Solvent: e.Solvent, Hours: in(&e.Time, quantity.Hour), During: string(deref(e.During))})
	}
	outcomes(&t, st)
	return t
}

// outcomes reads what a removal, a test, an examination, a label or a joint say
// beyond the action itself.
func outcomes(t *stack.Treatment, st *api.TreatmentStatement) {
	if r := st.Removal; r != nil {
		t.Removal = &stack.Removal{Left: stack.LayerState(r.Left), Method: deref(r.Method), Limit: deref(r.Limit)}
		for _, id := range r.Treatments {
			t.Removal.Treatments = append(t.Removal.Treatments, id.String())
		}
	}
	if x := st.Test; x != nil {
		t.Trial = &stack.Trial{Solvent: deref(x.Solvent), Observed: string(x.Observed)}
		if x.Layer != nil {
			t.Trial.Layer = x.Layer.String()
		}
		if x.Dwell != nil && x.Dwell.Quantity != nil {
			t.Trial.Dwell = x.Dwell.Quantity.Value.String() + " " + x.Dwell.Quantity.Unit
		}
	}
	if x := st.Examination; x != nil {
		t.Examination = &stack.Examination{Outcome: string(x.Outcome), How: deref(x.How)}
	}
	if st.Label != nil {
		t.NumberRecorded = stack.No
		if st.Label.NumberRecorded {
			t.NumberRecorded = stack.Yes
		}
	}
	if st.Joint != nil {
		t.CarriesLoad = yesNo(&st.Joint.CarriesLoad)
	}
}

func drying(d *api.Drying) stack.Drying {
	if d == nil {
		return stack.Drying{}
	}
	out := stack.Drying{State: string(d.State), Slowed: yesNo(d.HeldBack)}
	if d.Days != nil {
		out.Days = d.Days.Float64()
	}
	out.TemperatureC = inUnit(d.Temperature, quantity.Celsius)
	return out
}

func environment(e *api.Environment) stack.Environment {
	if e == nil {
		return stack.Environment{}
	}
	out := stack.Environment{
		AirC: in(e.AirTemperature, quantity.Celsius), SurfaceC: in(e.SurfaceTemperature, quantity.Celsius),
		RelativeHumidity: in(e.RelativeHumidity, quantity.Percent), StoreC: in(e.StoreTemperature, quantity.Celsius),
		ClosedCase: yesNo(e.ClosedCase),
	}
	if e.Ph != nil {
		ph := e.Ph.Float64()
		out.PH = &ph
	}
	return out
}

// given answers whether a question was answered with a text (yes), with "none"
// (no), or not at all.
func given(a *api.AnswerableText) stack.Answer {
	switch {
	case a == nil:
		return stack.Unknown
	case a.Text != nil:
		return stack.Yes
	case a.Answer != nil && *a.Answer == "none":
		return stack.No
	}
	return stack.Unknown
}

func authorised(a *api.Authorisation) stack.Answer {
	switch {
	case a == nil:
		return stack.Unknown
	case a.Given != nil:
		return stack.Yes
	case a.Answer != nil && *a.Answer == "none":
		return stack.No
	}
	return stack.Unknown
}

func yesNo(a *api.YesNo) stack.Answer {
	switch deref(a) {
	case "yes":
		return stack.Yes
	case "no":
		return stack.No
	}
	return stack.Unknown
}

func paths(list *[]string) []stack.Area {
	var out []stack.Area
	for _, p := range deref(list) {
		out = append(out, stack.Area(p))
	}
	return out
}

// when gives the bounds of a date; one that cannot be read has none.
func when(d *api.AnswerableDate) edtf.Period { return values.Date(d).Period() }

// in gives an answerable quantity as a number of a unit, nil where it was not
// answered with one of its kind.
func in(a *api.AnswerableQuantity, unit quantity.Unit) *float64 {
	if a == nil {
		return nil
	}
	return inUnit(a.Quantity, unit)
}

func inUnit(q *api.Quantity, unit quantity.Unit) *float64 {
	if q == nil {
		return nil
	}
	from, err := quantity.ParseUnit(q.Unit)
	if err != nil || from.Kind() != unit.Kind() {
		return nil
	}
	x, err := quantity.Convert(q.Value.Rat(), from, unit)
	if err != nil {
		return nil
	}
	f, _ := x.Float64()
	return &f
}

func deref[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}

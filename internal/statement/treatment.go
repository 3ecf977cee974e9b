package statement

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// OfTreatment reads a treatment.
func OfTreatment(st *api.TreatmentStatement) *Reading {
	t := &record.Treatment{}
	r := newReader(t, st)
	r.treatment("", st, t)
	return r.Reading
}

// treatment reads a treatment, done or proposed, at a pointer.
func (r reader) treatment(at string, st *api.TreatmentStatement, t *record.Treatment) {
	r.specimen(at+"/specimen", &st.Specimen, &t.Specimen)
	r.specimen(at+"/joinedTo", st.JoinedTo, &t.JoinedTo)
	t.Event, t.Action, t.Remarks = deref(st.Event).Id, record.Action(st.Action), deref(st.Remarks)
	t.Plan = beside(r, at+"/plan", idIn(st.Plan), st.PlanAnswer)
	r.ref(at+"/plan/id", record.KindPlan, idIn(st.Plan))
	t.Purpose, t.Extent = text(st.Purpose), text(st.Extent)
	t.Date, t.Started, t.Ended = r.date(at+"/dates", &st.Dates), st.Started, st.Ended
	t.NextCheck = r.date(at+"/nextCheck", st.NextCheck)
	t.NextCheckFor = each(st.NextCheckFor, func(_ int, x *api.TreatmentStatementNextCheckFor) string { return string(*x) })
	r.application(at, st, t)
	t.People = r.involvements(at+"/people", st.People)
	r.authorisation(at+"/authorisation", st.Authorisation, &t.Authorisation)
	t.Deviations = each(st.Deviations, func(_ int, d *api.Deviation) record.Deviation {
		return record.Deviation{What: d.What}
	})
	for i := range t.Deviations {
		r.authorisation(item(at+"/deviations", i)+"/approval", (*st.Deviations)[i].Approval, &t.Deviations[i].Approval)
	}
	r.results(at, st, t)
	r.documents(at, st, t)
}

// application reads where, how and with what it was done.
func (r reader) application(at string, st *api.TreatmentStatement, t *record.Treatment) {
	t.Areas, t.PossiblyReached = areas(st.Areas), deref(st.PossiblyReached)
	t.Method, t.MethodRemark = string(deref(st.Method)), deref(st.MethodRemark)
	t.PartialBath = truth(r, at+"/partialBath", st.PartialBath, st.PartialBathAnswer)
	t.Coats = int(deref(st.Coats))
	if d := st.Drying; d != nil {
		t.Drying = &record.Drying{State: string(d.State), Days: d.Days, HeldBack: record.YesNo(deref(d.HeldBack)),
			Temperature: r.quantity(at+"/drying/temperature", d.Temperature, quantity.Temperature)}
	}
	if st.Materials != nil {
		t.Uses = record.Give(each(st.Materials, func(i int, u *api.TreatmentUse) record.Use {
			return r.use(item(at+"/materials", i), u)
		}))
	}
	t.AmountRemoved = r.amount(at+"/amountRemoved", st.AmountRemoved, massOrVolume...)
	t.Exposures = each(st.SolventExposure, func(i int, e *api.SolventExposure) record.Exposure {
		place := item(at+"/solventExposure", i)
		return record.Exposure{Solvent: r.material(place+"/solvent", e.Solvent),
			Time: r.amount(place+"/time", &e.Time, quantity.Time), During: string(deref(e.During))}
	})
	t.Environment = r.environment(at+"/environment", st.Environment)
	t.Support, t.Protection = text(st.Support), text(st.Protection)
	t.Relations = each(st.Relations, func(_ int, l *api.LayerRelation) record.Relation {
		return record.Relation{Kind: string(l.Relation), Treatment: l.Treatment.Id, Area: deref(l.Area)}
	})
}

func (r reader) environment(at string, e *api.Environment) record.Environment {
	if e == nil {
		return record.Environment{}
	}
	return record.Environment{
		AirTemperature:     r.amount(at+"/airTemperature", e.AirTemperature, quantity.Temperature),
		SurfaceTemperature: r.amount(at+"/surfaceTemperature", e.SurfaceTemperature, quantity.Temperature),
		RelativeHumidity:   r.amount(at+"/relativeHumidity", e.RelativeHumidity, quantity.Ratio),
		StoreTemperature:   r.amount(at+"/storeTemperature", e.StoreTemperature, quantity.Temperature),
		ClosedCase:         record.YesNo(deref(e.ClosedCase)),
		PH:                 e.Ph,
		Conductivity:       r.quantity(at+"/conductivity", e.Conductivity, quantity.Conductivity),
	}
}

// results reads the members that depend on the action.
func (r reader) results(at string, st *api.TreatmentStatement, t *record.Treatment) {
	if x := st.Removal; x != nil {
		t.Removal = &record.Removal{
			Treatments: each(&x.Treatments, func(_ int, t *api.RecordRef) record.Ref { return t.Id }),
			Left:       string(x.Left), Method: deref(x.Method), Limit: deref(x.Limit),
		}
		r.person(at+"/removal/confirmedBy", x.ConfirmedBy, &t.Removal.ConfirmedBy)
	}
	if x := st.Damage; x != nil {
		t.Damage = &record.Damage{Kind: string(x.Kind),
			Treatments: each(x.Treatments, func(_ int, t *api.RecordRef) record.Ref { return t.Id })}
	}
	if x := st.Test; x != nil {
		t.Test = &record.Test{Layer: deref(x.Layer).Id, Reagent: deref(x.Reagent), Observed: string(x.Observed),
			Dwell: r.amount(at+"/test/dwell", x.Dwell, quantity.Time)}
		if x.Solvent != nil {
			t.Test.Solvent = r.material(at+"/test/solvent", *x.Solvent)
		}
	}
	if x := st.Examination; x != nil {
		t.Examination = &record.Examination{LookedFor: deref(x.LookedFor), Outcome: string(x.Outcome), How: deref(x.How),
			Limit: deref(x.Limit)}
	}
	if x := st.Sampling; x != nil {
		t.Sampling = &record.Sampling{Sample: r.ref(at+"/sampling/sample/id", record.KindSpecimen, idIn(x.Sample)),
			TakenFor: deref(x.TakenFor), SentTo: deref(x.SentTo),
			Mass: r.amount(at+"/sampling/mass", x.Mass, quantity.Mass)}
	}
	if x := st.Label; x != nil {
		t.Label = &record.Label{Number: deref(x.Number),
			NumberRecorded: truth(r, at+"/label/numberRecorded", x.NumberRecorded, x.NumberRecordedAnswer)}
	}
	if x := st.Joint; x != nil {
		t.Joint = &record.Joint{CarriesLoad: record.YesNo(x.CarriesLoad)}
	}
}

// documents reads its documents and images.
func (r reader) documents(at string, st *api.TreatmentStatement, t *record.Treatment) {
	t.ConditionBefore, t.ConditionAfter = text(st.ConditionBefore), text(st.ConditionAfter)
	t.InformationGained, t.InformationLost = text(st.InformationGained), text(st.InformationLost)
	t.UntreatedReference, t.CatalogueUpdated, t.RecordCopyLocation = text(st.UntreatedReference),
		text(st.CatalogueUpdated), text(st.RecordCopyLocation)
	t.Report = r.document(at+"/report", st.Report)
	t.Images = beside(r, at+"/images", r.images(at+"/images", st.Images), st.ImagesAnswer)
	if x := st.Reversibility; x != nil {
		t.Reversibility = &record.Reversibility{Says: x.Says, Redissolvable: string(deref(x.Redissolvable)),
			Removable:   string(deref(x.Removable)),
			Retreatable: string(deref(x.Retreatable)), TestedHow: text(x.TestedHow),
			Date: r.date(at+"/reversibility/date", x.Date)}
		if by := x.By; by != nil {
			t.Reversibility.By = record.Said[record.Ref]{Given: by.Answer == nil, Answer: record.Answer(deref(by.Answer))}
			r.person(at+"/reversibility/by", by, &t.Reversibility.By.Value)
		}
	}
	if x := st.OldCard; x != nil {
		t.OldCard = &record.OldCard{Verbatim: deref(x.Verbatim), Image: r.document(at+"/oldCard/image", x.Image)}
		r.person(at+"/oldCard/transcribedBy", x.TranscribedBy, &t.OldCard.TranscribedBy)
	}
}

func (r reader) images(at string, list *[]api.Image) *[]record.Image {
	if list == nil {
		return nil
	}
	images := each(list, func(i int, x *api.Image) record.Image {
		out := record.Image{Stage: string(x.Stage), Scale: text(x.Scale)}
		if x.Taken != nil {
			out.Taken = r.edtf(item(at, i)+"/taken", *x.Taken)
		}
		return out
	})
	return &images
}

// OfPlan reads a plan.
func OfPlan(st *api.PlanStatement) *Reading {
	p := &record.Plan{}
	r := newReader(p, st)
	r.treatment("/treatment", &st.Treatment, &p.Treatment)
	p.Reason, p.Risks, p.Estimate, p.Remarks = text(st.Reason), text(st.Risks), text(st.Estimate), deref(st.Remarks)
	r.authorisation("/authorisation", st.Authorisation, &p.Authorisation)
	if st.Options != nil {
		p.Options = record.Give(each(st.Options, func(_ int, o *api.PlanOption) record.Option {
			return record.Option{What: o.What, Why: deref(o.Why), Chosen: o.Chosen}
		}))
	}
	p.ProposedBy = record.Said[[]record.Involvement]{
		Value: r.involvements("/proposedBy", st.ProposedBy), Given: st.ProposedBy != nil,
	}
	p.Proposed = r.date("/proposed", st.Proposed)
	return r.Reading
}

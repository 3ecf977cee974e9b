package record

import "slices"

// doers asks for who carried it out, and for everyone's organisation, here or in
// the person's own record. "unknown" is an answer.
func doers(d Dossier, t *Treatment) ([]Gap, bool) {
	did := func(who Involvement) bool {
		return slices.Contains([]string{"carried-out", "examined", "sampled"}, who.Part) && who.answered()
	}
	gaps := unless(nil, slices.ContainsFunc(t.People, did), KindTreatment, "/people", "who carried it out")
	for i, who := range t.People {
		if did(who) && who.Answer == "" && !d.organised(who) {
			place := item("/people", i, "/organisation")
			gaps = append(gaps, Gap{Of: KindTreatment, Pointer: place, Field: "for which organisation"})
		}
	}
	return gaps, true
}

// answered tells whether a person is named, or an answer is given instead.
func (who Involvement) answered() bool { return who.Person != (Ref{}) || who.Answer != "" }

// organised tells whether a person's organisation is said, here or in the
// person's own record.
func (d Dossier) organised(who Involvement) bool {
	own, here := d.Others[who.Person].(*Person)
	return written(who.Organisation.Value) || who.Organisation.Answer != "" || here && written(own.Organisation)
}

func actionDetails(_ Dossier, t *Treatment) ([]Gap, bool) {
	gaps := unless(nil, t.Action != "", KindTreatment, "/action", "action")
	for _, r := range t.Action.Requires() {
		if !r.answered(t) {
			gaps = append(gaps, Gap{Of: KindTreatment, Pointer: r.Pointer, Field: r.Field, Why: r.Why})
		}
	}
	return gaps, true
}

// identities asks what was put on: an empty list says that nothing was.
func identities(d Dossier, t *Treatment) ([]Gap, bool) {
	if !t.Uses.Given {
		return unless(nil, t.Uses.Answered(), KindTreatment, "/materials", "what was put on"), t.Action.Adds()
	}
	var gaps []Gap
	for i, u := range t.Uses.Value {
		if u.Supply != (Ref{}) {
			supply, here := d.Others[u.Supply].(*Supply)
			if !here {
				supply = new(Supply)
			}
			gaps = append(gaps, want(supply, genericMaterial)...)
		}
		if batch, here := d.Others[u.Batch].(*Batch); here {
			gaps = append(gaps, want(batch, batchInputs)...)
		}
		gaps = unless(gaps, u.said(), KindTreatment, item("/materials", i, "/used"), "what was put on")
	}
	return gaps, len(t.Uses.Value) > 0 || t.Action.Adds()
}

// evidence recommends naming the batch or supply instead of the material; and
// where only a material is named, its grade.
func evidence(_ Dossier, t *Treatment) ([]Gap, bool) {
	var gaps []Gap
	for i, u := range t.Uses.Value {
		itself, graded := u.Batch != (Ref{}) || u.Supply != (Ref{}), u.Material == "" || written(u.Grade)
		gaps = unless(gaps, itself, KindTreatment, item("/materials", i, "/used"), "the batch or supply itself")
		gaps = unless(gaps, graded, KindTreatment, item("/materials", i, "/used/material/grade"), "grade")
	}
	return gaps, len(t.Uses.Value) > 0
}

func amountRemoved(_ Dossier, t *Treatment) ([]Gap, bool) {
	gaps := unless(nil, t.AmountRemoved.Answered(), KindTreatment, "/amountRemoved", "amount removed")
	return gaps, t.Action == ActionRemoval
}

func amountsAdded(_ Dossier, t *Treatment) ([]Gap, bool) {
	var gaps []Gap
	for i, u := range t.Uses.Value {
		gaps = unless(gaps, u.Amount.Answered(), KindTreatment, item("/materials", i, "/amount"), "amount added")
	}
	return gaps, len(t.Uses.Value) > 0
}

func application(_ Dossier, t *Treatment) ([]Gap, bool) {
	gaps := unless(nil, t.Method != "", KindTreatment, "/method", "method")
	air, damp := t.Environment.AirTemperature, t.Environment.RelativeHumidity
	gaps = unless(gaps, air.Answered(), KindTreatment, "/environment/airTemperature", "air temperature")
	gaps = unless(gaps, damp.Answered(), KindTreatment, "/environment/relativeHumidity", "relative humidity")
	if len(t.Uses.Value) > 0 {
		gaps = unless(gaps, t.Coats > 0, KindTreatment, "/coats", "number of coats")
		gaps = unless(gaps, t.Drying != nil, KindTreatment, "/drying", "drying")
	}
	return gaps, true
}

// conditions asks for the condition before and after; an action that only looks has one condition.
func conditions(_ Dossier, t *Treatment) ([]Gap, bool) {
	before, after := t.ConditionBefore.Answered(), t.ConditionAfter.Answered()
	if t.Action == ActionExamination {
		return unless(nil, before || after, KindTreatment, "/conditionBefore", "condition"), true
	}
	gaps := unless(nil, before, KindTreatment, "/conditionBefore", "condition before")
	return unless(gaps, after, KindTreatment, "/conditionAfter", "condition after"), true
}

// pictures asks for one before and one after, each with its scale and date. An
// empty list says that none were taken. No record can tell whether anything was
// hidden and so needed a picture on the way: see hidden.
func pictures(_ Dossier, t *Treatment) ([]Gap, bool) {
	if t.withoutPictures() {
		return nil, true
	}
	gaps := unless(nil, t.pictured("before"), KindTreatment, "/images", "a picture from before the treatment")
	gaps = unless(gaps, t.pictured("after"), KindTreatment, "/images", "a picture from after the treatment")
	for i, image := range t.Images.Value {
		gaps = unless(gaps, image.Scale.Answered(), KindTreatment, item("/images", i, "/scale"), "scale of a picture")
		gaps = unless(gaps, !image.Taken.IsZero(), KindTreatment, item("/images", i, "/taken"), "date of a picture")
	}
	return gaps, true
}

// withoutPictures tells whether it is said that none were taken, or an answer is
// given instead.
func (t *Treatment) withoutPictures() bool { return t.Images.Answered() && len(t.Images.Value) == 0 }

// pictured tells whether there is a picture of a stage.
func (t *Treatment) pictured(stage string) bool {
	return slices.ContainsFunc(t.Images.Value, func(i Image) bool { return i.Stage == stage })
}

// consent asks who authorised it here, when, and for what. An authorisation of
// the institution that it came from authorises nothing here.
func consent(d Dossier, people []Involvement, here, elsewhere Said[Authorisation]) []Gap {
	authorised := func(who Involvement) bool { return who.Part == "authorised" && who.answered() }
	kind, named := d.Value.Kind(), slices.ContainsFunc(people, authorised)
	switch {
	case d.Received && (named || elsewhere.Given):
		const field = "authorisation by this institution; what is here is the sender's"
		return []Gap{{Of: kind, Pointer: "/authorisation", Field: field}}
	case !here.Given && (here.Answered() || elsewhere.Answered()):
		return nil
	case !here.Given && !named:
		return []Gap{{Of: kind, Pointer: "/authorisation", Field: "authorisation"}}
	}
	gaps := unless(nil, here.Value.Date.Answered(), kind, "/authorisation/given/date", "when it was authorised")
	const class = "whether for one, a group or an emergency"
	return unless(gaps, here.Value.Class != "", kind, "/authorisation/given/class", class)
}

// authority recommends to say by what right it was authorised, where the specimen
// has an owner. No record can tell whether the owner is the custodian.
func authority(d Dossier, here Said[Authorisation]) ([]Gap, bool) {
	const right = "by what right, if the owner is another"
	gaps := unless(nil, written(here.Value.Authority), d.Value.Kind(), "/authorisation/given/authority", right)
	return gaps, here.Given && written(d.Specimen.Owner.Value)
}

func approvals(d Dossier, t *Treatment) ([]Gap, bool) {
	gaps := unless(nil, t.Plan.Answered(), KindTreatment, "/plan", "the plan that was departed from")
	for i, deviation := range t.Deviations {
		approved := deviation.Approval.Answered() && !(d.Received && deviation.Approval.Given)
		gaps = unless(gaps, approved, KindTreatment, item("/deviations", i, "/approval"), "approval of the departure")
	}
	return gaps, len(t.Deviations) > 0
}

// certainties asks how sure the identification is, on records taken from old
// cards and wherever there are only words.
func certainties(_ Dossier, t *Treatment) (gaps []Gap, applies bool) {
	for i, u := range t.Uses.Value {
		way := "/used/words"
		if u.Material != "" {
			way = "/used/material"
		}
		if u.Words == "" && (u.Material == "" || t.OldCard == nil) {
			continue
		}
		applies = true
		method, place := u.Certainty != Analysed || written(u.AnalysedBy), item("/materials", i, way)
		gaps = unless(gaps, u.CertaintySaid, KindTreatment, place+"/certainty", "how sure the identification is")
		gaps = unless(gaps, method, KindTreatment, place+"/analysedBy", "by which method it was analysed")
	}
	return gaps, applies
}

// hides are the actions that cover what was visible before.
var hides = []Action{ActionJoining, ActionCoating, ActionBarrier, ActionFilling, ActionRetouching, ActionMounting}

// hidden recommends a picture of what the treatment covered.
func hidden(_ Dossier, t *Treatment) ([]Gap, bool) {
	answered := t.withoutPictures() || t.pictured("hidden-stage")
	gaps := unless(nil, answered, KindTreatment, "/images", "a picture of what the treatment hides")
	return gaps, slices.Contains(hides, t.Action)
}

// reversibility recommends the statement, and how, when and by whom it was tested.
func reversibility(_ Dossier, t *Treatment) ([]Gap, bool) {
	r := t.Reversibility
	if r == nil {
		return []Gap{{Of: KindTreatment, Pointer: "/reversibility", Field: "reversibility statement"}}, true
	}
	gaps := unless(nil, r.TestedHow.Answered(), KindTreatment, "/reversibility/testedHow", "how it was tested")
	gaps = unless(gaps, r.By.Answered(), KindTreatment, "/reversibility/by", "who says so")
	return unless(gaps, r.Date.Answered(), KindTreatment, "/reversibility/date", "when it was said"), true
}

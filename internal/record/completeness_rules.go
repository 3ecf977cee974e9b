package record

import "slices"

// specimenFields are what R01 asks of a specimen, whoever asks.
var specimenFields = []string{"/identifiers", "a number", "/owner", "owner or custodian", "/classification", "classification",
	"/description", "short description", "/bodyKind", "kind of material"}

var specimenRules = []completenessRule{
	ask("R01", specimenFields...),
	recommend(ask("R19", "/plannedSampling", "the samples that are planned")),
}

var supplyRules = []completenessRule{
	ask("R07", "/material/id", "generic material"),
	recommend(ask("R07", "/material/grade", "grade or purity", "/makerLotCode", "maker's lot code", "/safetyDataSheet", "safety data sheet")),
}

var batchRules = []completenessRule{
	ask("R03", "/made", "when it was made"),
	ask("R04", "/madeBy", "who made it"),
	ask("R07", "/inputs", "what went into it"),
	{id: "R08", missing: func(d Dossier) ([]Gap, bool) { return batchSolvents(d, d.Statement), isSolution(d.Statement) }},
	{id: "R09", missing: func(d Dossier) ([]Gap, bool) { return batchStrength(d.Statement), isSolution(d.Statement) }},
	recommend(ask("R19", "/referenceSample", "where a reference sample is kept")),
}

var treatmentRules = []completenessRule{
	{id: "R01", missing: ofSpecimen},
	ask("R02", "/purpose", "purpose"),
	ask("R03", "/dates", "when it was done"),
	{id: "R04", missing: doers},
	ask("R05", "/areas", "treated areas"),
	{id: "R06", missing: actionDetails},
	{id: "R07", missing: identities},
	recommend(completenessRule{id: "R07", missing: evidence}),
	{id: "R08", missing: solventsOfUses},
	{id: "R09", missing: strengthsOfUses},
	{id: "R10", missing: func(d Dossier) ([]Gap, bool) {
		return want(d.Statement, d.Kind, "/amountRemoved", "amount removed"), d.action() == ActionRemoval
	}},
	recommend(completenessRule{id: "R10", missing: amountsAdded}),
	recommend(completenessRule{id: "R13", missing: hidden}),
	recommend(completenessRule{id: "R11", missing: application}),
	{id: "R12", missing: conditions},
	{id: "R13", missing: pictures},
	{id: "R14", missing: consent},
	{id: "R15", missing: approvals},
	{id: "R16", missing: certainties},
	recommend(completenessRule{id: "R14", missing: authority}),
	recommend(completenessRule{id: "R17", missing: reversibility}),
	recommend(ask("R18", "/informationGained", "information gained", "/informationLost", "information lost", "/catalogueUpdated", "whether the catalogue was told")),
	recommend(ask("R19", "/untreatedReference", "untreated reference area")),
	recommend(ask("R20", "/nextCheck", "next check")),
	ask("R21", "/recordCopyLocation", "where the record copy lies"),
	recommend(ask("R21", "/report", "the report")),
}

func (d Dossier) action() Action { return Action(d.Statement.text("/action")) }

// other gives the statement that an object's id leads to, or nothing.
func (d Dossier) other(s Statement, pointer string) Statement { return d.Others[s.text(pointer)] }

func ofSpecimen(d Dossier) ([]Gap, bool) {
	return want(d.Specimen, KindSpecimen, specimenFields...), true
}

// doers asks for somebody who carried it out, and for everyone's organisation,
// here or in the person's own record. That nobody knows who did it is an answer.
func doers(d Dossier) ([]Gap, bool) {
	people, _ := d.Statement.list("/people")
	var gaps []Gap
	did := func(p Statement) bool {
		return slices.Contains([]string{"carried-out", "examined", "sampled"}, p.text("/part")) && p.Answered("/person")
	}
	if !slices.ContainsFunc(people, did) {
		gaps = append(gaps, Gap{Of: d.Kind, Pointer: "/people", Field: "who carried it out"})
	}
	for i, p := range people {
		if did(p) && !p.Answered("/organisation") && !d.other(p, "/person/id").Answered("/organisation") && !p.Answered("/person/answer") {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/people", i, "/organisation"), Field: "for which organisation"})
		}
	}
	return gaps, true
}

func actionDetails(d Dossier) ([]Gap, bool) {
	gaps := want(d.Statement, d.Kind, "/action", "action")
	for _, r := range d.action().Requires() {
		if !d.Statement.Answered(r.Pointer) {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: r.Pointer, Field: r.Field, Why: r.Why})
		}
	}
	return gaps, true
}

// identities asks what was put on: an empty list says that nothing was.
func identities(d Dossier) ([]Gap, bool) {
	uses, said := d.Statement.list("/materials")
	if !said {
		return want(d.Statement, d.Kind, "/materials", "what was put on"), d.action().Adds()
	}
	var gaps []Gap
	for i, u := range uses {
		supply := u.At("/used/supply") != nil
		if supply && !d.other(u, "/used/supply/id").Answered("/material/id") {
			gaps = append(gaps, Gap{Of: KindSupply, Pointer: "/material/id", Field: "generic material"})
		}
		if batch := d.other(u, "/used/batch/id"); batch != nil && !batch.Answered("/inputs") {
			gaps = append(gaps, Gap{Of: KindBatch, Pointer: "/inputs", Field: "what went into it"})
		}
		if !u.Answered("/used") {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/materials", i, "/used"), Field: "what was put on"})
		}
	}
	return gaps, len(uses) > 0 || d.action().Adds()
}

// evidence recommends the batch or supply itself over the material's name, and
// where there is only that, its grade.
func evidence(d Dossier) ([]Gap, bool) {
	uses, _ := d.Statement.list("/materials")
	var gaps []Gap
	for i, u := range uses {
		if u.At("/used/batch") == nil && u.At("/used/supply") == nil {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/materials", i, "/used"), Field: "the batch or supply itself"})
		}
		if u.At("/used/material") != nil && !u.Answered("/used/material/grade") {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/materials", i, "/used/material/grade"), Field: "grade"})
		}
	}
	return gaps, len(uses) > 0
}

func amountsAdded(d Dossier) ([]Gap, bool) {
	uses, _ := d.Statement.list("/materials")
	var gaps []Gap
	for i, u := range uses {
		if !u.Answered("/amount") {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/materials", i, "/amount"), Field: "amount added"})
		}
	}
	return gaps, len(uses) > 0
}

func application(d Dossier) ([]Gap, bool) {
	gaps := want(d.Statement, d.Kind, "/method", "method", "/environment/airTemperature", "air temperature", "/environment/relativeHumidity", "relative humidity")
	if uses, _ := d.Statement.list("/materials"); len(uses) > 0 {
		gaps = append(gaps, want(d.Statement, d.Kind, "/coats", "number of coats", "/drying", "drying")...)
	}
	return gaps, true
}

// conditions asks for the condition before and after; what only looks has one.
func conditions(d Dossier) ([]Gap, bool) {
	if d.action() == ActionExamination {
		if d.Statement.Answered("/conditionAfter") {
			return nil, true
		}
		return want(d.Statement, d.Kind, "/conditionBefore", "condition"), true
	}
	return want(d.Statement, d.Kind, "/conditionBefore", "condition before", "/conditionAfter", "condition after"), true
}

// pictures asks for one before and one after, each with its scale and date. An
// empty list says that none were taken. Whether anything was hidden, and so
// needed a picture on the way, no record can tell: see hidden.
func pictures(d Dossier) ([]Gap, bool) {
	images, _ := d.Statement.list("/images")
	if len(images) == 0 && d.Statement.Answered("/images") {
		return nil, true
	}
	var gaps []Gap
	for _, stage := range []string{"before", "after"} {
		if !slices.ContainsFunc(images, func(i Statement) bool { return i.text("/stage") == stage }) {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: "/images", Field: "a picture from " + stage + " the treatment"})
		}
	}
	for i, image := range images {
		for _, gap := range want(image, d.Kind, "/scale", "scale of a picture", "/taken", "date of a picture") {
			gap.Pointer = item("/images", i, gap.Pointer)
			gaps = append(gaps, gap)
		}
	}
	return gaps, true
}

func consent(d Dossier) ([]Gap, bool) {
	people, _ := d.Statement.list("/people")
	named := slices.ContainsFunc(people, func(p Statement) bool { return p.text("/part") == "authorised" && p.Answered("/person") })
	given := d.Statement.At("/authorisation/given") != nil
	if d.Received && (named || given) {
		return []Gap{{Of: d.Kind, Pointer: "/authorisation", Field: "authorisation by this institution; what is here is the sender's"}}, true
	}
	if !named && !given {
		return want(d.Statement, d.Kind, "/authorisation", "authorisation"), true
	}
	if d.Statement.Answered("/authorisation") && !given {
		return nil, true
	}
	return want(d.Statement, d.Kind, "/authorisation/given/date", "when it was authorised",
		"/authorisation/given/class", "whether for one, a group or an emergency"), true
}

func approvals(d Dossier) ([]Gap, bool) {
	deviations, _ := d.Statement.list("/deviations")
	gaps := want(d.Statement, d.Kind, "/plan", "the plan that was departed from")
	for i, deviation := range deviations {
		if !deviation.Answered("/approval") || d.Received && deviation.At("/approval/given") != nil {
			gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/deviations", i, "/approval"), Field: "approval of the departure"})
		}
	}
	return gaps, len(deviations) > 0
}

// certainties asks how sure the identification is, on records taken from old
// cards and wherever there are only words.
func certainties(d Dossier) ([]Gap, bool) {
	uses, _ := d.Statement.list("/materials")
	legacy := d.Statement.At("/oldCard") != nil
	var gaps []Gap
	applies := false
	for i, u := range uses {
		for _, way := range []string{"/used/words", "/used/material"} {
			if u.At(way) == nil || (way == "/used/material" && !legacy) {
				continue
			}
			applies = true
			if !u.Answered(way + "/certainty") {
				gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/materials", i, way+"/certainty"), Field: "how sure the identification is"})
			}
			if u.text(way+"/certainty") == "analysed" && !u.Answered(way+"/analysedBy") {
				gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/materials", i, way+"/analysedBy"), Field: "by which method it was analysed"})
			}
		}
	}
	return gaps, applies
}

// hides are the actions that cover what was to be seen before.
var hides = []Action{ActionJoining, ActionCoating, ActionBarrier, ActionFilling, ActionRetouching, ActionMounting}

// hidden recommends a picture of what the treatment covered.
func hidden(d Dossier) ([]Gap, bool) {
	if !slices.Contains(hides, d.action()) {
		return nil, false
	}
	images, _ := d.Statement.list("/images")
	if len(images) == 0 && d.Statement.Answered("/images") || slices.ContainsFunc(images, func(i Statement) bool { return i.text("/stage") == "hidden-stage" }) {
		return nil, true
	}
	return []Gap{{Of: d.Kind, Pointer: "/images", Field: "a picture of what the treatment hides"}}, true
}

// authority recommends to say by what right it was authorised, where the
// specimen has an owner: whether that is the custodian, no record can tell.
func authority(d Dossier) ([]Gap, bool) {
	if d.Received || d.Statement.At("/authorisation/given") == nil || !d.Specimen.Answered("/owner/text") {
		return nil, false
	}
	return want(d.Statement, d.Kind, "/authorisation/given/authority", "by what right, if the owner is somebody else"), true
}

// reversibility recommends the statement, and how, when and by whom it was tested.
func reversibility(d Dossier) ([]Gap, bool) {
	if !d.Statement.Answered("/reversibility") {
		return want(d.Statement, d.Kind, "/reversibility", "reversibility statement"), true
	}
	return want(d.Statement, d.Kind, "/reversibility/testedHow", "how it was tested", "/reversibility/by", "who says so", "/reversibility/date", "when it was said"), true
}

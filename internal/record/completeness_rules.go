package record

// specimenFields are the fields asked of a specimen, by every kind of record.
var specimenFields = []asked[*Specimen]{
	{"/identifiers", "a number", func(s *Specimen) bool { return len(s.Identifiers) > 0 }},
	{"/owner", "owner or custodian", func(s *Specimen) bool { return s.Owner.Answered() }},
	{"/classification", "classification", func(s *Specimen) bool { return s.Classification.Answered() }},
	{"/description", "short description", func(s *Specimen) bool { return written(s.Description) }},
	{"/bodyKind", "kind of material", func(s *Specimen) bool { return s.BodyKind != "" }},
}

func ofSpecimen[T Value](d Dossier, _ T) ([]Gap, bool) {
	return want(d.Specimen, specimenFields...), true
}

var specimenRules = []rule[*Specimen]{
	ask("specimen-identity", specimenFields...),
	recommend(ask("samples",
		at("/plannedSampling", "the samples that are planned", func(s *Specimen) bool { return s.Sampling.Answered() }))),
}

// genericMaterial is the field asked of a supply, by every kind of record.
var genericMaterial = at("/material/id", "generic material", func(s *Supply) bool { return s.Material != "" })

var supplyRules = []rule[*Supply]{
	ask("materials", genericMaterial),
	recommend(ask("materials",
		at("/material/grade", "grade or purity", func(s *Supply) bool { return written(s.Grade) }),
		at("/makerLotCode", "maker's lot code", func(s *Supply) bool { return written(s.MakerLotCode) }),
		at("/safetyDataSheet", "safety data sheet", func(s *Supply) bool { return s.SafetySheet != nil }))),
}

// batchInputs is the field asked of a batch, by every kind of record.
var batchInputs = at("/inputs", "what went into it", func(b *Batch) bool { return b.Inputs.Answered() })

var batchRules = []rule[*Batch]{
	ask("dates", at("/made", "when it was made", func(b *Batch) bool { return b.Made.Answered() })),
	ask("people", at("/madeBy", "who made it", func(b *Batch) bool { return b.People.Answered() })),
	ask("materials", batchInputs),
	{id: "solvents", missing: func(d Dossier, b *Batch) ([]Gap, bool) { return batchSolvents(d, b), b.isSolution() }},
	{id: "strength-basis", missing: func(_ Dossier, b *Batch) ([]Gap, bool) { return batchStrength(b), b.isSolution() }},
	recommend(ask("samples",
		at("/referenceSample", "where a reference sample is kept",
			func(b *Batch) bool { return b.ReferenceSample.Answered() }))),
}

var treatmentRules = []rule[*Treatment]{
	{id: "specimen-identity", missing: ofSpecimen[*Treatment]},
	ask("reason", at("/purpose", "purpose", func(t *Treatment) bool { return t.Purpose.Answered() })),
	ask("dates", at("/dates", "when it was done", func(t *Treatment) bool { return t.Date.Answered() })),
	{id: "people", missing: doers},
	ask("areas", at("/areas", "treated areas", func(t *Treatment) bool { return t.Areas.Answered() })),
	{id: "action", missing: actionDetails},
	{id: "materials", missing: identities},
	recommend(rule[*Treatment]{id: "materials", missing: evidence}),
	{id: "solvents", missing: solventsOfUses},
	{id: "strength-basis", missing: strengthsOfUses},
	{id: "amounts", missing: amountRemoved},
	recommend(rule[*Treatment]{id: "amounts", missing: amountsAdded}),
	recommend(rule[*Treatment]{id: "images", missing: hidden}),
	recommend(rule[*Treatment]{id: "application", missing: application}),
	{id: "condition", missing: conditions},
	{id: "images", missing: pictures},
	{id: "consent", missing: func(d Dossier, t *Treatment) ([]Gap, bool) {
		return consent(d, t.People, t.Authorisation, t.SendersAuthorisation), true
	}},
	{id: "approval", missing: approvals},
	{id: "certainty-of-words", missing: certainties},
	recommend(rule[*Treatment]{id: "consent", missing: func(d Dossier, t *Treatment) ([]Gap, bool) {
		return authority(d, t.Authorisation)
	}}),
	recommend(rule[*Treatment]{id: "reversibility", missing: reversibility}),
	recommend(ask("information-uncovered",
		at("/informationGained", "information gained", func(t *Treatment) bool { return t.InformationGained.Answered() }),
		at("/informationLost", "information lost", func(t *Treatment) bool { return t.InformationLost.Answered() }),
		at("/catalogueUpdated", "whether the catalogue was told",
			func(t *Treatment) bool { return t.CatalogueUpdated.Answered() }))),
	recommend(ask("samples",
		at("/untreatedReference", "untreated reference area",
			func(t *Treatment) bool { return t.UntreatedReference.Answered() }))),
	recommend(ask("next-check", at("/nextCheck", "next check", func(t *Treatment) bool { return t.NextCheck.Answered() }))),
	ask("record-copies",
		at("/recordCopyLocation", "where the record copy lies",
			func(t *Treatment) bool { return t.RecordCopyLocation.Answered() })),
	recommend(ask("record-copies", at("/report", "the report", func(t *Treatment) bool { return t.Report != nil }))),
}

package record

// specimenFields are what R01 asks of a specimen, whoever asks.
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
	ask("R01", specimenFields...),
	recommend(ask("R19",
		at("/plannedSampling", "the samples that are planned", func(s *Specimen) bool { return s.Sampling.Answered() }))),
}

// genericMaterial is what R07 asks of a supply, whoever asks.
var genericMaterial = at("/material/id", "generic material", func(s *Supply) bool { return s.Material != "" })

var supplyRules = []rule[*Supply]{
	ask("R07", genericMaterial),
	recommend(ask("R07",
		at("/material/grade", "grade or purity", func(s *Supply) bool { return written(s.Grade) }),
		at("/makerLotCode", "maker's lot code", func(s *Supply) bool { return written(s.MakerLotCode) }),
		at("/safetyDataSheet", "safety data sheet", func(s *Supply) bool { return s.SafetySheet != nil }))),
}

// batchInputs is what R07 asks of a batch, whoever asks.
var batchInputs = at("/inputs", "what went into it", func(b *Batch) bool { return b.Inputs.Answered() })

var batchRules = []rule[*Batch]{
	ask("R03", at("/made", "when it was made", func(b *Batch) bool { return b.Made.Answered() })),
	ask("R04", at("/madeBy", "who made it", func(b *Batch) bool { return b.People.Answered() })),
	ask("R07", batchInputs),
	{id: "R08", missing: func(d Dossier, b *Batch) ([]Gap, bool) { return batchSolvents(d, b), b.isSolution() }},
	{id: "R09", missing: func(_ Dossier, b *Batch) ([]Gap, bool) { return batchStrength(b), b.isSolution() }},
	recommend(ask("R19",
		at("/referenceSample", "where a reference sample is kept",
			func(b *Batch) bool { return b.ReferenceSample.Answered() }))),
}

var treatmentRules = []rule[*Treatment]{
	{id: "R01", missing: ofSpecimen[*Treatment]},
	ask("R02", at("/purpose", "purpose", func(t *Treatment) bool { return t.Purpose.Answered() })),
	ask("R03", at("/dates", "when it was done", func(t *Treatment) bool { return t.Date.Answered() })),
	{id: "R04", missing: doers},
	ask("R05", at("/areas", "treated areas", func(t *Treatment) bool { return t.Areas.Answered() })),
	{id: "R06", missing: actionDetails},
	{id: "R07", missing: identities},
	recommend(rule[*Treatment]{id: "R07", missing: evidence}),
	{id: "R08", missing: solventsOfUses},
	{id: "R09", missing: strengthsOfUses},
	{id: "R10", missing: amountRemoved},
	recommend(rule[*Treatment]{id: "R10", missing: amountsAdded}),
	recommend(rule[*Treatment]{id: "R13", missing: hidden}),
	recommend(rule[*Treatment]{id: "R11", missing: application}),
	{id: "R12", missing: conditions},
	{id: "R13", missing: pictures},
	{id: "R14", missing: func(d Dossier, t *Treatment) ([]Gap, bool) {
		return consent(d, t.People, t.Authorisation, t.SendersAuthorisation), true
	}},
	{id: "R15", missing: approvals},
	{id: "R16", missing: certainties},
	recommend(rule[*Treatment]{id: "R14", missing: func(d Dossier, t *Treatment) ([]Gap, bool) {
		return authority(d, t.Authorisation)
	}}),
	recommend(rule[*Treatment]{id: "R17", missing: reversibility}),
	recommend(ask("R18",
		at("/informationGained", "information gained", func(t *Treatment) bool { return t.InformationGained.Answered() }),
		at("/informationLost", "information lost", func(t *Treatment) bool { return t.InformationLost.Answered() }),
		at("/catalogueUpdated", "whether the catalogue was told",
			func(t *Treatment) bool { return t.CatalogueUpdated.Answered() }))),
	recommend(ask("R19",
		at("/untreatedReference", "untreated reference area",
			func(t *Treatment) bool { return t.UntreatedReference.Answered() }))),
	recommend(ask("R20", at("/nextCheck", "next check", func(t *Treatment) bool { return t.NextCheck.Answered() }))),
	ask("R21",
		at("/recordCopyLocation", "where the record copy lies",
			func(t *Treatment) bool { return t.RecordCopyLocation.Answered() })),
	recommend(ask("R21", at("/report", "the report", func(t *Treatment) bool { return t.Report != nil }))),
}

package record

// planRules ask of a plan what the record asks of a proposed treatment, and what
// must be there before it may be carried out.
var planRules = []rule[*Plan]{
	{id: "specimen-identity", missing: ofSpecimen[*Plan]},
	ask("reason", at("/reason", "why anything is to be done", func(p *Plan) bool { return p.Reason.Answered() })),
	ask("dates", at("/proposed", "when it was proposed", func(p *Plan) bool { return p.Proposed.Answered() })),
	ask("people", at("/proposedBy", "who proposes it", func(p *Plan) bool { return p.ProposedBy.Answered() })),
	ask("areas",
		at("/treatment/areas", "areas to be treated", func(p *Plan) bool { return p.Treatment.Areas.Answered() })),
	ask("action", at("/treatment/action", "action", func(p *Plan) bool { return p.Treatment.Action != "" })),
	{id: "materials", missing: plannedMaterials},
	{id: "consent", missing: func(d Dossier, p *Plan) ([]Gap, bool) {
		return consent(d, nil, p.Authorisation, p.SendersAuthorisation), true
	}},
	recommend(rule[*Plan]{id: "consent", missing: func(d Dossier, p *Plan) ([]Gap, bool) {
		return authority(d, p.Authorisation)
	}}),
	recommend(ask("approval",
		at("/options", "the options considered, doing nothing among them",
			func(p *Plan) bool { return p.Options.Answered() }),
		at("/risks", "risks", func(p *Plan) bool { return p.Risks.Answered() }),
		at("/estimate", "how long it takes", func(p *Plan) bool { return p.Estimate.Answered() }))),
}

// plannedMaterials asks what is to be put on; an empty list says that nothing is.
func plannedMaterials(_ Dossier, p *Plan) ([]Gap, bool) {
	gaps := unless(nil, p.Treatment.Uses.Answered(), KindPlan, "/treatment/materials", "what is to be put on")
	return gaps, p.Treatment.Action.Adds()
}

package record

// planRules ask of a plan what the record asks of a proposed treatment, and what
// must be there before it may be carried out.
var planRules = []rule[*Plan]{
	{id: "R01", missing: ofSpecimen[*Plan]},
	ask("R02", at("/reason", "why anything is to be done", func(p *Plan) bool { return p.Reason.Answered() })),
	ask("R03", at("/proposed", "when it was proposed", func(p *Plan) bool { return p.Proposed.Answered() })),
	ask("R04", at("/proposedBy", "who proposes it", func(p *Plan) bool { return p.ProposedBy.Answered() })),
	ask("R05",
		at("/treatment/areas", "areas to be treated", func(p *Plan) bool { return p.Treatment.Areas.Answered() })),
	ask("R06", at("/treatment/action", "action", func(p *Plan) bool { return p.Treatment.Action != "" })),
	{id: "R07", missing: plannedMaterials},
	{id: "R14", missing: func(d Dossier, p *Plan) ([]Gap, bool) {
		return consent(d, nil, p.Authorisation, p.SendersAuthorisation), true
	}},
	recommend(rule[*Plan]{id: "R14", missing: func(d Dossier, p *Plan) ([]Gap, bool) {
		return authority(d, p.Authorisation)
	}}),
	recommend(ask("R15",
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

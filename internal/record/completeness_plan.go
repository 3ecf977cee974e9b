package record

// planRules ask of a plan what the record asks of a proposed treatment, and what
// must be there before it may be carried out.
var planRules = []completenessRule{
	{id: "R01", missing: ofSpecimen},
	ask("R02", "/reason", "why anything is to be done"),
	ask("R03", "/proposed", "when it was proposed"),
	ask("R04", "/proposedBy", "who proposes it"),
	ask("R05", "/treatment/areas", "areas to be treated"),
	ask("R06", "/treatment/action", "action"),
	{id: "R07", missing: plannedMaterials},
	{id: "R14", missing: consent},
	recommend(completenessRule{id: "R14", missing: authority}),
	recommend(ask("R15", "/options", "the options considered, doing nothing among them", "/risks", "risks", "/estimate", "how long it takes")),
}

// plannedMaterials asks what is to be put on; an empty list says that nothing is.
func plannedMaterials(d Dossier) ([]Gap, bool) {
	return want(d.Statement, d.Kind, "/treatment/materials", "what is to be put on"), Action(d.Statement.text("/treatment/action")).Adds()
}

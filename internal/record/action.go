package record

// An Action is what a treatment did. A treatment is one action.
type Action string

// The actions.
const (
	ActionMechanicalPreparation Action = "mechanical-preparation"
	ActionAcidPreparation       Action = "acid-preparation"
	ActionCleaning              Action = "cleaning"
	ActionDesalination          Action = "desalination"
	ActionConsolidation         Action = "consolidation"
	ActionJoining               Action = "joining"
	ActionCoating               Action = "coating"
	ActionBarrier               Action = "barrier"
	ActionFilling               Action = "filling"
	ActionRetouching            Action = "retouching"
	ActionLabelling             Action = "labelling"
	ActionMounting              Action = "mounting"
	ActionMoulding              Action = "moulding"
	ActionCasting               Action = "casting"
	ActionFluidChange           Action = "fluid-change"
	ActionPestTreatment         Action = "pest-treatment"
	ActionSampling              Action = "sampling"
	ActionTest                  Action = "test"
	ActionRemoval               Action = "removal"
	ActionExamination           Action = "examination"
	ActionDamage                Action = "damage"
	ActionOther                 Action = "other"
)

// A Requirement is something that an action cannot be understood without.
type Requirement struct {
	// Pointer is where the statement says it (RFC 6901).
	Pointer string
	// Field says in words what is said there.
	Field string
	Why   string

	answered func(*Treatment) bool
}

// actionTraits are the properties of an action.
type actionTraits struct {
	// adds tells that the action puts material on or in the specimen.
	adds bool
	// solution tells that the material usually comes in a solvent.
	solution bool
	requires []Requirement
}

var actions = map[Action]actionTraits{
	ActionMechanicalPreparation: {},
	ActionAcidPreparation:       {adds: true, solution: true},
	ActionCleaning:              {},
	ActionDesalination:          {},
	ActionConsolidation:         {adds: true, solution: true},
	ActionJoining:               {adds: true},
	ActionCoating:               {adds: true, solution: true},
	ActionBarrier:               {adds: true, solution: true},
	ActionFilling:               {adds: true},
	ActionRetouching:            {adds: true},
	ActionLabelling: {adds: true, solution: true, requires: []Requirement{
		{"/label/numberRecorded", "whether the number is on record",
			"A number must be on record before the coat under it dissolves or covers it.",
			func(t *Treatment) bool { return t.Label != nil && t.Label.NumberRecorded.Answered() }}}},
	ActionMounting:      {adds: true},
	ActionMoulding:      {adds: true},
	ActionCasting:       {adds: true},
	ActionFluidChange:   {adds: true},
	ActionPestTreatment: {adds: true},
	ActionSampling: {requires: []Requirement{
		{"/sampling/mass", "how much was taken",
			"How much was taken is gone for good; the next request is judged by it.",
			func(t *Treatment) bool { return t.Sampling != nil && t.Sampling.Mass.Answered() }},
		{"/sampling/takenFor", "what the sample was taken for",
			"A sample without a question cannot be weighed against what it cost.",
			func(t *Treatment) bool { return t.Sampling != nil && written(t.Sampling.TakenFor) }}}},
	ActionTest: {requires: []Requirement{
		{"/test/observed", "what was seen",
			"A test is what was seen; it outranks every table for this layer, area and solvent.",
			func(t *Treatment) bool { return t.Test != nil && t.Test.Observed != "" }},
		{"/test/dwell", "how long the solvent stood",
			"No effect after ten seconds and no effect after an hour are different results.",
			func(t *Treatment) bool { return t.Test != nil && t.Test.Dwell.Answered() }}}},
	ActionRemoval: {requires: []Requirement{
		{"/removal/treatments", "which treatments it took off",
			"A removal names what it took off, or the layers below cannot be told.",
			func(t *Treatment) bool { return t.Removal != nil }},
		{"/removal/left", "how far it went",
			"How far it went: the material is reduced, or was not detected by some method, never simply gone.",
			func(t *Treatment) bool { return t.Removal != nil && t.Removal.Left != "" }}}},
	ActionExamination: {requires: []Requirement{
		{"/examination/outcome", "what was found, or that nothing was",
			"An examination that found nothing says so; silence cannot be told from not having looked.",
			func(t *Treatment) bool { return t.Examination != nil && t.Examination.Outcome != "" }},
		{"/examination/how", "how it was looked at",
			"None found by eye and none found under ultraviolet are different answers.",
			func(t *Treatment) bool { return t.Examination != nil && written(t.Examination.How) }}}},
	ActionDamage: {requires: []Requirement{
		{"/damage/kind", "what happened: slumped, a joint that failed, cracked",
			"A joint that slumped bears less, and no view can say so of damage that is told in words alone.",
			func(t *Treatment) bool { return t.Damage != nil && t.Damage.Kind != "" }},
		{"/conditionAfter", "what the damage is",
			"New damage is told from old by what was written down.",
			func(t *Treatment) bool { return t.ConditionAfter.Answered() }}}},
	ActionOther: {requires: []Requirement{
		{"/remarks", "what was done",
			"Where no word of the list fits, the words of those who did it must.",
			func(t *Treatment) bool { return written(t.Remarks) }}}},
}

// Requires gives what an action cannot be understood without. A record that lacks
// it is still kept.
func (a Action) Requires() []Requirement { return actions[a].requires }

// Known tells whether a is one of the actions.
func (a Action) Known() bool {
	_, known := actions[a]
	return known
}

// Adds tells whether the action puts material on or in the specimen.
func (a Action) Adds() bool { return actions[a].adds }

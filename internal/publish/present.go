package publish

// PresentState is what is on a specimen on one day, by area.
type PresentState struct {
	Day   string
	Areas []AreaNow
	// MoreLayers is how many layers there are in those areas beyond those that are listed.
	MoreLayers int
	// Unplaced are layers whose place is unknown; they may be anywhere.
	Unplaced []LayerNow
	// Contradictions are the contradictions between records, up to a limit.
	Contradictions     []Contradiction
	MoreContradictions int
	// Unknown says why the state could not be worked out.
	Unknown string
}

// Contradiction is a contradiction between records.
type Contradiction struct {
	Sentence   string
	Treatments []string // IRIs
}

// AreaNow is what is on one area.
type AreaNow struct {
	Area     string
	Status   string // layers, none-found, not-recorded
	Layers   []LayerNow
	Through  []string // areas around it whose layers cover it too
	Examined string   // of none-found: by which method and down to what limit it was looked at
	Actions  []string // actions here that left no layer
}

// LayerNow is what is left of a treatment's material, and whether it could be
// undone. The three answers are to different questions.
type LayerNow struct {
	Treatment     string // its IRI
	Material      string
	State         string // present, reduced, not-detected, should-have-sublimed, unknown
	How           string // of not-detected, by which method and down to what limit; of damaged, what happened
	Redissolvable string // yes, partly, no, unknown
	Removable     string
	Retreatable   string
}

// StateSaid is the state in words.
func (l LayerNow) StateSaid() string {
	said := spaced(l.State)
	switch {
	case l.How == "":
		return said
	case l.State == "not-detected":
		return said + " " + l.How
	}
	return said + " (" + l.How + ")"
}

// StatusSaid is the status in words of an area without a layer.
func (a AreaNow) StatusSaid() string {
	switch {
	case a.Status == "none-found":
		return "an examination found none, " + a.Examined
	case len(a.Through) > 0:
		return "what is on " + joined(a.Through)
	}
	if len(a.Actions) > 0 {
		words := make([]string, len(a.Actions))
		for i, action := range a.Actions {
			words[i] = termLabel("action", action)
		}
		return "no layer recorded; on record: " + joined(words)
	}
	if a.Area == "whole" {
		return "nothing recorded of the specimen as a whole"
	}
	return "nothing recorded"
}

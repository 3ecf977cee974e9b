package solution

import (
	"fmt"
	"slices"
	"strings"
)

// ResinEvidence is what is known of a resin and solvents: observations, and the
// sphere that an estimate starts from.
type ResinEvidence struct {
	Name  string
	Grade string // empty: none was given
	// Observations on the solvents of the blend, and on mixtures of them, the most
	// telling first.
	Observations []Observation
	Sphere       *Sphere
	// SphereNote qualifies the sphere: that it is a stand-in, or of another grade.
	SphereNote string
	// Grades are the grades that something was observed of, where the answer depends
	// on it and none was given.
	Grades []string
}

// Observation is what was seen to happen.
type Observation struct {
	Solvent  string
	Grade    string
	Age      string
	Observed string // dissolves, softens, swells, no-effect, disputed, unknown
	Remark   string
	// ByClass: it speaks of the class of the solvent or of the material.
	ByClass bool
	Source  Source
}

// ResinAnswer is what is known of the resin in the blend: observation first.
type ResinAnswer struct {
	Resin        string
	Grade        string
	Observations []Observation
	// Unobserved names the solvents of the blend that nothing was observed of.
	Unobserved []string
	// Seen sums up the observations in a sentence.
	Seen     string
	Estimate *ResinEstimate
}

// Leading are the observations that say most of each solvent, one of each.
func (a ResinAnswer) Leading() []Observation {
	var first []Observation
	for _, o := range a.Observations {
		if !slices.ContainsFunc(first, func(f Observation) bool { return f.Solvent == o.Solvent }) {
			first = append(first, o)
		}
	}
	return first
}

// says is what was seen of the resin, in a sentence.
func (a ResinAnswer) says() string {
	var verdicts []string
	in := map[string][]string{}
	for _, o := range a.Leading() {
		if in[o.Observed] == nil {
			verdicts = append(verdicts, o.Observed)
		}
		in[o.Observed] = append(in[o.Observed], o.Solvent)
	}
	if len(verdicts) == 0 {
		return "Nothing was observed of " + a.Resin + " in these."
	}
	var seen []string
	for _, v := range verdicts {
		seen = append(seen, strings.ReplaceAll(v, "-", " ")+" ("+firstOf(in[v])+")")
	}
	if len(a.Unobserved) > 0 {
		seen = append(seen, "not observed ("+firstOf(a.Unobserved)+")")
	}
	return "Seen of " + a.Resin + ": " + list(seen) + "; of each by itself unless a mixture is named, which does not " +
		"decide for this one."
}

// ResinEstimate is the distance of the blend from the resin's sphere.
type ResinEstimate struct {
	Distance float64 // Ra, MPa^0.5
	Radius   float64 // R₀, MPa^0.5
	Relative float64 // Ra/R₀
	Sentence string
	Source   Source
}

// knownWrong are the cases in use for which the distance gives the wrong answer.
var knownWrong = Cited("recalled-hansen-spheres", Memory)

// against applies the evidence to a blend with Hansen parameters h, nil if not known.
func (r ResinEvidence) against(m blend, h *Hansen) ResinAnswer {
	a := ResinAnswer{Resin: r.Name, Grade: r.Grade, Observations: r.Observations}
	for _, s := range m.solvents {
		if !r.observed(s.Name) {
			a.Unobserved = append(a.Unobserved, s.Name)
		}
	}
	a.Seen = r.seen(a.Unobserved, len(m.solvents))
	if r.Sphere != nil && h != nil && r.Sphere.Radius > 0 {
		a.Estimate = r.estimate(*h)
	}
	return a
}

func (r ResinEvidence) observed(solvent string) bool {
	for _, o := range r.Observations {
		if o.Solvent == solvent {
			return true
		}
	}
	return false
}

// seen sums up the observations; it never infers the behaviour of a mixture from
// its parts.
func (r ResinEvidence) seen(unobserved []string, solvents int) string {
	name := r.Name
	if r.Grade != "" {
		name += ", grade " + r.Grade
	}
	switch {
	case len(r.Observations) == 0 && len(r.Grades) > 0 && r.Grade == "":
		return fmt.Sprintf("No observation of %s is held that holds for every grade; the answer depends on it (%s).",
			name, list(r.Grades))
	case len(r.Observations) == 0:
		return fmt.Sprintf("No observation of %s in these solvents is held here: make a test on a little of it.", name)
	}
	text := fmt.Sprintf("What was seen of %s stands first, each with its source.", name)
	if solvents > 1 {
		text += " It was seen of each solvent by itself unless a mixture is named, and does not decide for this mixture."
	}
	if len(unobserved) > 0 {
		text += " Nothing was seen of " + list(unobserved) + " itself."
	}
	return text
}

// estimate is RED = Ra/R₀; under 1 a solvent is predicted to dissolve the resin.
// Source: a lexicon page on Hansen solubility parameters (read).
func (r ResinEvidence) estimate(h Hansen) *ResinEstimate {
	ra := h.distance(r.Sphere.Hansen)
	e := &ResinEstimate{Distance: ra, Radius: r.Sphere.Radius, Relative: ra / r.Sphere.Radius, Source: r.Sphere.Source}
	side := "inside"
	if e.Relative > 1 {
		side = "outside"
	}
	e.Sentence = fmt.Sprintf("Distance relative to the resin's radius: %s (%s it). This is an estimate that is known "+
		"to be wrong for three cases in use; it ranks blends and decides nothing.", number(e.Relative), side)
	if r.SphereNote != "" {
		e.Sentence += " " + r.SphereNote
	}
	return e
}

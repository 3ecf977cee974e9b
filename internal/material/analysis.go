package material

import "slices"

// AnalysisEffect says how a material or an exposure disturbs an analysis.
type AnalysisEffect struct {
	// Subject is the id of a material, a class of materials or an exposure.
	Subject string
	// Analysis is one of the kinds of analysis: radiocarbon, collagen-isotopes …
	Analysis string
	Effect   string
	// Disturbs is yes, no (the effect is a reassurance) or unknown.
	Disturbs string
	// Size is how large the effect was where it was published, in words, or "".
	Size string
	// Condition is when it holds, or "".
	Condition string
	Evidence  Evidence
}

// analyses are the kinds of analysis that effects are known for.
var analyses = wordSet("radiocarbon", "collagen-isotopes", "carbonate-isotopes", "phosphate-isotopes", "strontium-lead",
	"trace-elements", "luminescence", "ancient-dna", "proteins", "residues", "ct", "xrf", "surface-wear")

// disturbing are the words for whether an effect disturbs.
var disturbing = wordSet("yes", "no", "unknown")

// AnalysisEffects lists what is known of a material or exposure, with the
// statements on the classes that it belongs to (any consolidant, any coating)
// by the role; an empty analysis lists all. An empty list is never an
// all-clear.
func (b *Base) AnalysisEffects(subject string, role Role, analysis string) []AnalysisEffect {
	subjects := append(b.materialReach(b.behavesAs(subject)), classOf(role)...)
	var out []AnalysisEffect
	for _, e := range b.analysis {
		if slices.Contains(subjects, e.Subject) && (analysis == "" || e.Analysis == analysis) {
			out = append(out, e)
		}
	}
	return out
}

func classOf(r Role) []string {
	switch {
	case inBody(r):
		return []string{"consolidant-any"}
	case r == Coating || r == LabelBase || r == LabelTop || r == Barrier:
		return []string{"coating-any"}
	default:
		return nil
	}
}

func readAnalysis(b *Base, r *reader) {
	r.table("analysis-effects.tsv", "subject analysis effect disturbs size condition source status", func(w row) {
		b.analysis = append(b.analysis, AnalysisEffect{
			Subject: w.material(b, "subject"), Analysis: string(word(w, "analysis", analyses)),
			Effect: w.need("effect"), Disturbs: string(word(w, "disturbs", disturbing)),
			Size: w.text("size"), Condition: w.text("condition"), Evidence: w.evidence(),
		})
	})
}

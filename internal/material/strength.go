package material

import (
	"slices"
	"strings"
)

// Strength is a customary strength of a material for a role.
type Strength struct {
	Material string
	Role     Role
	// Solvent is the id of the solvent, or "" when the source names none.
	Solvent string
	// Low and High bound the figure; they are equal for a single one.
	Low, High float64
	// Written are the bounds with their digits.
	Written [2]string
	// Unit is a UCUM code; {part}/{part} for parts to one part.
	Unit string
	// Basis is one of the strength bases, or "unknown" when the source does not say;
	// it is then never converted.
	Basis string
	// Bodies are the kinds of body that the source names, in the words of the
	// record's list; none where it names none.
	Bodies   []string
	Remark   string
	Evidence Evidence
}

// Strengths lists the customary strengths of a material for a role; AnyRole
// lists them all. A penetrating consolidant has its own rows and does not take
// those of a consolidant.
func (b *Base) Strengths(id string, role Role) []Strength {
	rows := slices.Clone(b.strengths[b.behavesAs(id)])
	if role == AnyRole || role == "" {
		return rows
	}
	return slices.DeleteFunc(rows, func(s Strength) bool { return s.Role != role })
}

// StrengthsOn lists the customary strengths of a material for a role on a body: first
// those whose source names that body, then those whose source names none. Those for
// other bodies are counted. AnyBody leaves none out.
func (b *Base) StrengthsOn(id string, role Role, body string) (rows []Strength, others int) {
	var unsaid []Strength
	for _, s := range b.Strengths(id, role) {
		switch {
		case body == AnyBody || slices.Contains(s.Bodies, body):
			rows = append(rows, s)
		case len(s.Bodies) == 0:
			unsaid = append(unsaid, s)
		default:
			others++
		}
	}
	return append(rows, unsaid...), others
}

// AnyBody stands for all that a specimen may be made of.
const AnyBody = ""

var strengthUnits = wordSet("%", "g/dL", "g/L", "g/g", "{part}/{part}")

func readStrengths(b *Base, r *reader) {
	r.table("strengths.tsv", "material role solvent low high unit basis bodies remark also source status", func(w row) {
		id := w.material(b, "material")
		s := Strength{
			Material: id, Role: word(w, "role", roles), Solvent: w.maybeMaterial(b, "solvent"),
			Low: w.number("low"), High: w.number("high"), Written: [2]string{w.text("low"), w.text("high")},
			Unit: string(word(w, "unit", strengthUnits)), Basis: string(word(w, "basis", bases)),
			Bodies: strings.Fields(w.text("bodies")), Remark: w.text("remark"), Evidence: w.evidence(),
		}
		if s.Low > s.High || s.Low <= 0 {
			w.fail("the strengths %s and %s are no range", s.Written[0], s.Written[1])
		}
		b.strengths[id] = append(b.strengths[id], s)
	})
}

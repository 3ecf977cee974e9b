package material

import "slices"

// Contraction says how far a mixture's volume departs from the sum of the
// volumes poured.
type Contraction struct {
	A, B string
	// Change is in % of the sum; negative: the mixture shrinks.
	Change    Value
	Condition string
	Evidence  Evidence
}

// Contractions lists what is known of a pair, in either order.
func (b *Base) Contractions(x, y string) []Contraction {
	return slices.Clone(b.contractions[pairOf(b.liquidOf(x), b.liquidOf(y))])
}

// Mixes says whether two solvents mix.
type Mixes string

// The verdicts.
const (
	Miscible     Mixes = "miscible"
	PartlyMixes  Mixes = "partly"
	Immiscible   Mixes = "immiscible"
	MixesUnknown Mixes = "unknown"
)

var mixes = wordSet(Miscible, PartlyMixes, Immiscible)

// Miscibility is a verdict on a pair of solvents near room temperature.
type Miscibility struct {
	A, B     string
	Verdict  Mixes
	Remark   string
	Evidence Evidence
}

// Miscibility gives the verdict on a pair, in either order; MixesUnknown when
// the tables do not hold it. Rows are recalled or follow from miscibility
// numbers: try a few millilitres.
func (b *Base) Miscibility(x, y string) Miscibility {
	x, y = b.behavesAs(x), b.behavesAs(y)
	if m, known := b.miscibility[pairOf(x, y)]; known {
		return m
	}
	return Miscibility{A: x, B: y, Verdict: MixesUnknown}
}

// liquidOf gives the material whose volume behaviour holds: the one that an own
// material is like, and ethanol for a spirit.
func (b *Base) liquidOf(id string) string {
	id = b.behavesAs(id)
	if id == "ethanol-96" {
		return "ethanol"
	}
	return id
}

// pairKey is two materials in the order of their ids.
type pairKey struct{ a, b string }

func pairOf(x, y string) pairKey { return pairKey{min(x, y), max(x, y)} }

func readContractions(b *Base, r *reader) {
	r.table("contractions.tsv", "a b change unit condition source status", func(w row) {
		if w.text("unit") != "%" {
			w.fail("unit: %q is not %%", w.text("unit"))
		}
		c := Contraction{
			A: w.material(b, "a"), B: w.material(b, "b"), Change: w.value(w.text("change"), "%"),
			Condition: w.need("condition"), Evidence: w.evidence(),
		}
		b.contractions[pairOf(c.A, c.B)] = append(b.contractions[pairOf(c.A, c.B)], c)
	})
}

func readMiscibility(b *Base, r *reader) {
	r.table("miscibility.tsv", "a b verdict remark source status", func(w row) {
		m := Miscibility{
			A: w.material(b, "a"), B: w.material(b, "b"), Verdict: word(w, "verdict", mixes),
			Remark: w.text("remark"), Evidence: w.evidence(),
		}
		if _, said := b.miscibility[pairOf(m.A, m.B)]; !said { // the first row decides
			b.miscibility[pairOf(m.A, m.B)] = m
		}
	})
}

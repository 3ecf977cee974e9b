package material

import (
	"math"
	"slices"
)

// AnyGrade is the grade of a row that holds for every grade.
const AnyGrade = "any"

// notStated is the grade of a row whose source does not say which grade it had.
const notStated = "not-stated"

// Rank orders the values of one property.
type Rank string

// The ranks.
const (
	Preferred Rank = "preferred" // the value that answers give
	Also      Rank = "also"      // stands beside it
	Disagrees Rank = "disagrees" // the source contradicts the preferred one
	Doubted   Rank = "doubted"   // thought wrong; never computed with
)

// Fact is one value of one property of one material, as one source gives it.
type Fact struct {
	Material string
	Grade    string
	Property Property
	Value    Value
	// Unit is a UCUM code, "1" for a pure number, "" for words.
	Unit string
	// At is the temperature in Cel where the value holds, NaN when the source does
	// not say.
	At float64
	// With is the other material of a pair ("in acetone"), or "".
	With     string
	Rank     Rank
	Remark   string
	Evidence Evidence
}

// Same says that two facts are the same row.
func (f Fact) Same(g Fact) bool {
	return f.Material == g.Material && f.Grade == g.Grade && f.Property == g.Property &&
		f.Value == g.Value && f.With == g.With &&
		f.Rank == g.Rank && f.Remark == g.Remark && f.Evidence.Source == g.Evidence.Source && samePlace(f, g)
}

// Facts are all values of one property of one material and grade.
type Facts struct {
	Property Property
	// Preferred is the value that answers give; nil when there is none, or when it
	// depends on the grade and no grade was given.
	Preferred *Fact
	// All holds every value, the preferred one first.
	All []Fact
	// Grades lists the grades that have values, when Preferred is nil because no
	// grade was given.
	Grades []string
}

// Disagreement is a value that contradicts the preferred one.
type Disagreement struct {
	Fact Fact
	// Relative is (value − preferred) / preferred, NaN where that makes no sense.
	Relative float64
}

// Property gives what is known of a property. The grade may be "" or AnyGrade.
// A material or property that is not known has no facts.
func (b *Base) Property(id string, p Property, grade string) Facts {
	rows := b.facts[factKey{id, p}]
	if len(rows) == 0 {
		rows = b.facts[factKey{b.behavesAs(id), p}]
	}
	chain := b.gradeChain(id, grade)
	f := Facts{Property: p}
	for _, g := range chain {
		f.add(rows, func(x *Fact) bool {
			return x.Grade == g || g == AnyGrade && x.Grade == notStated && grade != notStated
		})
	}
	if len(f.All) == 0 && len(chain) == 1 {
		f.addUngraded(rows)
	}
	slices.SortStableFunc(f.All,
		func(x, y Fact) int { return preferredFirst(f.Preferred, x) - preferredFirst(f.Preferred, y) })
	return f
}

func afterAny(grade string) int {
	if grade == AnyGrade {
		return 0
	}
	return 1
}

func preferredFirst(p *Fact, f Fact) int {
	if p != nil && p.Grade == f.Grade && f.Rank == Preferred {
		return 0
	}
	return 1
}

func (f *Facts) add(rows []Fact, keep func(*Fact) bool) {
	f.All = slices.Grow(f.All, len(rows))
	for i := range rows {
		x := &rows[i]
		if !keep(x) {
			continue
		}
		f.All = append(f.All, *x)
		if x.Rank == Preferred && f.Preferred == nil {
			f.Preferred = x
		}
	}
}

// addUngraded lists the values of every grade when none was asked for: with one
// grade its value is the answer, with several the caller must choose.
func (f *Facts) addUngraded(rows []Fact) {
	f.add(rows, func(*Fact) bool { return true })
	for _, x := range f.All {
		if !slices.Contains(f.Grades, x.Grade) {
			f.Grades = append(f.Grades, x.Grade)
		}
	}
	f.Preferred = nil
}

// Disagreements gives the values that contradict the preferred one: those that
// the tables mark so, and figures for the same temperature that lie further
// apart than the tolerance of the property.
func (f Facts) Disagreements() []Disagreement {
	if f.Preferred == nil {
		return nil
	}
	var out []Disagreement
	for _, x := range f.All {
		if x.Rank == Preferred && x.Grade == f.Preferred.Grade {
			continue
		}
		if x.Rank == Disagrees || x.Rank == Doubted || f.apart(x) {
			out = append(out, Disagreement{Fact: x, Relative: relative(f.Preferred.Value, x.Value)})
		}
	}
	return out
}

// apart says whether x lies outside the tolerance around what the preferred
// source says for the same unit, temperature and pair.
func (f Facts) apart(x Fact) bool {
	def := definitions[f.Property]
	i := slices.IndexFunc(f.All, func(y Fact) bool {
		return y.Grade == f.Preferred.Grade && y.Evidence.Source.Key == f.Preferred.Evidence.Source.Key && samePlace(x, y)
	})
	return !def.Many && i >= 0 && def.apart(f.All[i].Value, x.Value)
}

func samePlace(a, b Fact) bool {
	return a.Unit == b.Unit && a.With == b.With && (a.At == b.At || math.IsNaN(a.At) && math.IsNaN(b.At))
}

func relative(a, b Value) float64 {
	x, okA := a.Mid()
	y, okB := b.Mid()
	if !okA || !okB || x == 0 {
		return math.NaN()
	}
	return (y - x) / x
}

// Figure gives the preferred value of a property as one number in the unit of
// the property's definition: the figure, or the middle of a range. It is the
// way for a computation that needs a number; show Property to a reader.
func (b *Base) Figure(id string, p Property, grade string) (float64, Fact, bool) {
	f := b.Property(id, p, grade)
	if f.Preferred == nil {
		return 0, Fact{}, false
	}
	v, ok := f.Preferred.Value.Mid()
	return v, *f.Preferred, ok
}

// GradesOf lists the grades that have values of a property, any grade first.
func (b *Base) GradesOf(id string, p Property) []string {
	rows := b.facts[factKey{id, p}]
	if len(rows) == 0 {
		rows = b.facts[factKey{b.behavesAs(id), p}]
	}
	var out []string
	for _, f := range rows {
		if !slices.Contains(out, f.Grade) {
			out = append(out, f.Grade)
		}
	}
	slices.SortStableFunc(out, func(x, y string) int { return afterAny(x) - afterAny(y) })
	return out
}

// Properties lists the properties with known values, in the order of the
// tables.
func (b *Base) Properties(id string) []Property {
	out := slices.Clone(b.known[id])
	for _, p := range b.known[b.behavesAs(id)] {
		if !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

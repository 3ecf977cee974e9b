package material

import "slices"

// Observed is what a solvent was seen to do to a material.
type Observed string

// What was observed.
const (
	DissolvesIt   Observed = "dissolves"
	Softens       Observed = "softens"
	Swells        Observed = "swells"
	NoEffect      Observed = "no-effect" // stated not to dissolve it; swelling was not examined
	Disputed      Observed = "disputed"
	UnknownEffect Observed = "unknown"
)

// Contact is how the solvent met the material.
type Contact string

// The contacts.
const (
	LiquidContact Contact = "liquid"
	VapourContact Contact = "vapour"
)

// SolubilityRow is one observation from one source.
type SolubilityRow struct {
	Material string
	Grade    string
	// Solvent is the id of a solvent, a mixture, or a class of solvents.
	Solvent  string
	Age      Age
	How      Contact
	Observed Observed
	Remark   string
	Evidence Evidence
}

// Solubility is what is known of a solvent on a material.
type Solubility struct {
	// Observed is the verdict of the most specific rows. Disputed when they
	// contradict each other; unknown when there is none. Unknown is never an
	// all-clear.
	Observed Observed
	// Rows are the observations that the verdict rests on.
	Rows []SolubilityRow
	// Others are less specific ones: on the class of the solvent, on another age.
	Others []SolubilityRow
	// ByClass says that the verdict rests on rows about a class, a broader solvent
	// or a broader material, not on the ones asked.
	ByClass bool
	// AgeSeen says that the rows are about the age asked (or age was not asked). When
	// it is false, fresh behaviour may not hold for an old film.
	AgeSeen bool
	// Recalled says that nobody has read any of the rows in a source: a test to make,
	// not an instruction.
	Recalled bool
}

// Solubility gives the observed verdict of a liquid solvent on a material.
// Grade may be "" or AnyGrade, age AnyAge. It never predicts.
func (b *Base) Solubility(id, grade, solvent string, age Age) Solubility {
	return b.solubilityOf(id, grade, solvent, age, LiquidContact)
}

// SolubilityInVapour is Solubility for a solvent that reaches the material as
// vapour.
func (b *Base) SolubilityInVapour(id, grade, solvent string, age Age) Solubility {
	return b.solubilityOf(id, grade, solvent, age, VapourContact)
}

// SolubilityRows lists every observation on a material, in the order of the
// table. Remedies are sought in it.
func (b *Base) SolubilityRows(id string) []SolubilityRow {
	return slices.Clone(b.solubility[b.behavesAs(id)])
}

func (b *Base) solubilityOf(id, grade, solvent string, age Age, how Contact) Solubility {
	id, solvent = b.behavesAs(id), b.behavesAs(solvent)
	reach := b.solventReach(solvent)
	s := Solubility{Observed: UnknownEffect, AgeSeen: true}
	best := 0
	for _, material := range b.materialReach(id) {
		chain := b.materials[id].gradeChain(grade)
		for _, row := range b.solubility[material] {
			far, ok := reach[row.Solvent]
			if !ok || row.How != how {
				continue
			}
			if material != id {
				far += farMaterial
			}
			score := specificity(row, far, chain, grade, age)
			switch {
			case score == 0:
			case score > best:
				s.Others, s.Rows, best = append(s.Others, s.Rows...), []SolubilityRow{row}, score
				s.ByClass = far > 0
			case score == best:
				s.Rows = append(s.Rows, row)
			default:
				s.Others = append(s.Others, row)
			}
		}
	}
	s.conclude(age)
	return s
}

// farMaterial puts rows on a broader material behind every row on the material
// itself.
const farMaterial = 10

// specificity scores a row: the solvent itself before its class, then the age
// asked before any age, then the grade asked before any. Zero: it does not apply.
func specificity(row SolubilityRow, far int, chain []string, grade string, age Age) int {
	gradeFits := row.Grade == AnyGrade || row.Grade == notStated || slices.Contains(chain, row.Grade)
	if !gradeFits || !ageFits(row.Age, age) {
		return 0
	}
	score := 1000 - 20*far
	if row.Age == age || age == "" && row.Age == AnyAge {
		score += 4
	}
	if row.Grade != AnyGrade && row.Grade == grade {
		score += 2
	}
	return score
}

// ageFits says whether a row of one age speaks about another. When the age is
// not known, rows of every age count.
func ageFits(row, asked Age) bool {
	return asked == AnyAge || asked == "" || row == AnyAge || row == asked
}

func (s *Solubility) conclude(age Age) {
	if len(s.Rows) == 0 {
		return
	}
	s.Observed = verdict(s.Rows)
	s.AgeSeen = age == AnyAge || age == "" || slices.ContainsFunc(s.Rows, func(r SolubilityRow) bool { return r.Age == age })
	s.Recalled = !slices.ContainsFunc(s.Rows, func(r SolubilityRow) bool { return r.Evidence.Status != Memory })
}

// verdict joins rows of equal weight. A row that says "does not dissolve"
// did not look at swelling, so beside swells it gives swells. Anything else that
// differs is disputed: two sources, or a fresh and an old film when the age is
// not known.
func verdict(rows []SolubilityRow) Observed {
	seen := map[Observed]bool{}
	for _, r := range rows {
		seen[r.Observed] = true
	}
	if seen[Swells] {
		delete(seen, NoEffect)
	}
	if len(seen) > 1 {
		return Disputed
	}
	for o := range seen {
		return o
	}
	return UnknownEffect
}

// anySolvent and solventNotNamed are the classes that hold every solvent;
// verdicts on them are the weakest.
const (
	anySolvent      = "any-solvent"
	solventNotNamed = "solvent-not-named"
)

// solventReach gives the solvents whose rows speak about a solvent, with how far
// they lie: itself 0, its class 1, the class of the class 2 …
func (b *Base) solventReach(solvent string) map[string]int {
	reach := map[string]int{solvent: 0}
	for next, far := []string{solvent}, 1; len(next) > 0; far++ {
		var wider []string
		for _, s := range next {
			up := b.classes[s]
			if broader := b.materials[s].Broader; broader != "" {
				up = append(slices.Clone(up), broader)
			}
			for _, c := range up {
				if _, seen := reach[c]; !seen {
					reach[c] = far
					wider = append(wider, c)
				}
			}
		}
		next = wider
	}
	if _, known := b.materials[solvent]; known {
		reach[solventNotNamed] = 8
		if _, seen := reach[anySolvent]; !seen {
			reach[anySolvent] = 7
		}
	}
	return reach
}

// materialReach gives the material and the ones that it is a grade of.
func (b *Base) materialReach(id string) []string {
	out := []string{id}
	for broader := b.materials[id].Broader; broader != ""; broader = b.materials[broader].Broader {
		out = append(out, broader)
	}
	return out
}

func readSolubility(b *Base, r *reader) {
	r.table("solubility.tsv", "material grade solvent age how observed remark also source status", func(w row) {
		id := w.material(b, "material")
		b.solubility[id] = append(b.solubility[id], SolubilityRow{
			Material: id, Grade: w.grade(b, id, "grade"), Solvent: w.material(b, "solvent"), Age: word(w, "age", ages),
			How: word(w, "how", contacts), Observed: word(w, "observed", observations),
			Remark: w.text("remark"), Evidence: w.evidence(b),
		})
	})
}

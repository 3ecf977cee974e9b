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
	// ByClass says that the verdict rests on rows about a class, a broader solvent,
	// a broader material or the one that an own material is like.
	ByClass bool
	// AgeSeen says that a row about the age asked is among Rows. When it is
	// false the rows do not limit the age, and an old film may behave otherwise.
	AgeSeen bool
	// Recalled says that none of the rows was read in a source: a test to make, not
	// an instruction.
	Recalled bool
}

// Solubility gives the observed verdict of a liquid solvent on a material. Grade
// may be "" or AnyGrade. An age that is not known (AnyAge) is taken as old: what
// was only seen on fresh films is among Others and does not decide. Ask for
// Fresh to make a solution. Nothing is predicted.
func (b *Base) Solubility(id, grade, solvent string, age Age) Solubility {
	return b.solubilityOf(id, grade, solvent, age, LiquidContact)
}

// SolubilityInVapour is Solubility for a solvent that reaches the material as
// vapour.
func (b *Base) SolubilityInVapour(id, grade, solvent string, age Age) Solubility {
	return b.solubilityOf(id, grade, solvent, age, VapourContact)
}

// SolubilityRows lists every observation on a material, in the order of the
// table.
func (b *Base) SolubilityRows(id string) []SolubilityRow {
	rows := slices.Clone(b.solubility[id])
	if like := b.materials[id].Like; like != "" {
		rows = append(rows, b.solubility[like]...)
	}
	return rows
}

func (b *Base) solubilityOf(id, grade, solvent string, age Age, how Contact) Solubility {
	if age != Fresh {
		age = Aged
	}
	reach, chain := b.solventReach(b.behavesAs(solvent)), b.gradeChain(id, grade)
	s := Solubility{Observed: UnknownEffect}
	best := 0
	for place, material := range b.materialReach(id) {
		for _, row := range b.solubility[material] {
			far, ok := reach[row.Solvent]
			if !ok || row.How != how {
				continue
			}
			far += place * farMaterial
			switch score := specificity(row, far, chain, age); {
			case score == 0 || score < best:
				s.Others = append(s.Others, row)
			case score > best:
				s.Others, s.Rows, best = append(s.Others, s.Rows...), []SolubilityRow{row}, score
				s.ByClass = far > 0
			default:
				s.Rows = append(s.Rows, row)
			}
		}
	}
	s.conclude(age)
	return s
}

// farMaterial puts rows on a broader material, or on the one that an own material
// is like, behind every row on the material itself.
const farMaterial = 10

// specificity scores a row: the solvent itself before its class, then the age
// asked before any age, then the grade asked before any. Zero: it does not decide.
func specificity(row SolubilityRow, far int, chain []string, age Age) int {
	grade := slices.Index(chain, row.Grade)
	if row.Grade == notStated {
		grade = len(chain) - 1
	}
	if grade < 0 || row.Age != AnyAge && row.Age != age {
		return 0
	}
	score := 1000 - 20*far - grade
	if row.Age == age {
		score += 4
	}
	return score
}

func (s *Solubility) conclude(age Age) {
	s.Observed = verdict(s.Rows)
	s.AgeSeen = slices.ContainsFunc(s.Rows, func(r SolubilityRow) bool { return r.Age == age })
	s.Recalled = len(s.Rows) > 0 &&
		!slices.ContainsFunc(s.Rows, func(r SolubilityRow) bool { return r.Evidence.Status != Memory })
}

// verdict joins rows of equal weight. A row that says "does not dissolve"
// did not look at swelling, so beside swells it gives swells. Anything else that
// differs is disputed.
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
	if reach, known := b.reaches[solvent]; known {
		return reach
	}
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

// materialReach gives the material, then the one that it is like, then the ones
// that it is a grade of.
func (b *Base) materialReach(id string) []string {
	out := []string{id}
	if like := b.materials[id].Like; like != "" {
		out, id = append(out, like), like
	}
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
			Remark: w.text("remark"), Evidence: w.evidence(),
		})
	})
}

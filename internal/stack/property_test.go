package stack_test

import (
	"fmt"
	"math/rand"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

var (
	someMaterials = []string{copolymer, isobutyl, nButyl, pvbLow, pvbHigh, "poly-vinyl-butyral", acetate, whiteGlue, epoxy,
		nitrate, wax, silicate, lime, "shellac", "animal-glue", "cyclododecane", "plaster-of-paris", "not-in-any-table"}
	someLiquids = []string{"acetone", "ethanol", "toluene", "water", "white-spirit-stoddard-solvent", "n-heptane",
		"alkaline-water", "not-in-any-table"}
	someAreas = []stack.Area{"whole", "skull", "skull/nasal", "skull/orbit", "jaw", "rib-1", "rib-1/head", "rib-2"}
	someDates = []string{
		"", "1950", "1960/1980", "1975~", "1990-05", "2000/2010", "2015-03-04", "2025-12", "1985/..", "../1970",
	}
	someActions = []stack.Action{stack.Consolidation, stack.Coating, stack.Joining, stack.Filling, stack.Labelling,
		stack.BarrierCoat, stack.Cleaning, stack.Removing, stack.Testing, stack.Examining}
	someMethods = []stack.Method{stack.Brush, stack.Swab, stack.Immersion, stack.VapourChamber, stack.UnknownMethod}
	someAnswers = []stack.Answer{stack.Unknown, stack.Yes, stack.No}
)

// drawUse is anything from a known resin to nothing at all.
func drawUse(t *rapid.T) stack.Use {
	var u stack.Use
	switch rapid.IntRange(0, 3).Draw(t, "identity") {
	case 0:
		u = words("an old card", rapid.SliceOfN(rapid.SampledFrom(someMaterials), 0, 3).Draw(t, "candidates")...)
	default:
		u = of(rapid.SampledFrom(someMaterials).Draw(t, "material"))
	}
	for _, l := range rapid.SliceOfNDistinct(rapid.SampledFrom(someLiquids), 0, 2, rapid.ID).Draw(t, "liquids") {
		u.Solvents = append(u.Solvents, stack.Share{Solvent: l})
	}
	return u
}

func drawTreatment(t *rapid.T, id string, ids []string) stack.Treatment {
	tr := put(id, rapid.SampledFrom(someActions).Draw(t, "action"), rapid.SampledFrom(someAreas).Draw(t, "area"),
		rapid.SampledFrom(someDates).Draw(t, "date"))
	tr.Method = rapid.SampledFrom(someMethods).Draw(t, "method")
	tr.CarriesLoad = rapid.SampledFrom(someAnswers).Draw(t, "load")
	if rapid.Bool().Draw(t, "two areas") {
		tr.Areas = append(tr.Areas, rapid.SampledFrom(someAreas).Draw(t, "second area"))
	}
	if len(ids) > 0 && rapid.IntRange(0, 3).Draw(t, "related") == 0 {
		kind := rapid.SampledFrom([]stack.RelationKind{
			stack.Over, stack.Under, stack.Inside, stack.Bridges, stack.BarrierFor,
		}).Draw(t, "kind")
		tr.Relations = []stack.Relation{{Kind: kind, To: rapid.SampledFrom(ids).Draw(t, "to")}}
	}
	switch tr.Action {
	case stack.Removing:
		tr.Removal = &stack.Removal{
			Left: rapid.SampledFrom([]stack.LayerState{stack.Reduced, stack.NotDetected, ""}).Draw(t, "left"),
		}
		if len(ids) > 0 {
			tr.Removal.Treatments = rapid.SliceOfN(rapid.SampledFrom(ids), 0, 2).Draw(t, "targets")
		}
	case stack.Testing:
		tr.Trial = &stack.Trial{Solvent: rapid.SampledFrom(someLiquids).Draw(t, "tried"),
			Observed: rapid.SampledFrom([]string{"dissolves", "no-effect", "swells", "unknown"}).Draw(t, "saw")}
		if len(ids) > 0 {
			tr.Trial.Layer = rapid.SampledFrom(ids).Draw(t, "on")
		}
	case stack.Examining:
		tr.Examination = &stack.Examination{
			Outcome: rapid.SampledFrom([]string{"none-found", "found", "inconclusive"}).Draw(t, "outcome"),
		}
	default:
		tr.Uses = []stack.Use{drawUse(t)}
	}
	return tr
}

func drawTreatments(t *rapid.T, most int) []stack.Treatment {
	var out []stack.Treatment
	var ids []string
	for i := range rapid.IntRange(0, most).Draw(t, "treatments") {
		id := fmt.Sprintf("t%02d", i)
		ids = append(ids, id)
		out = append(out, drawTreatment(t, id, ids))
	}
	return out
}

func drawSpecimen(t *rapid.T) stack.Specimen {
	s := stack.Specimen{BodyKind: rapid.SampledFrom([]string{"bone", "ceramic", "shell", "", "glass"}).Draw(t, "body"),
		Traits: map[stack.Trait]stack.Answer{}}
	s.Condition = rapid.SampledFrom([]string{"dry", "damp", ""}).Draw(t, "condition")
	for _, tr := range []stack.Trait{
		stack.Porous, stack.Friable, stack.SubFossil, stack.Pyrite, stack.ActiveSalts, stack.Calcareous, stack.Fossil,
	} {
		s.Traits[tr] = rapid.SampledFrom(someAnswers).Draw(t, string(tr))
	}
	s.Areas = []stack.SpecimenArea{{Path: "rib-1", Separate: true}, {Path: "rib-2", Separate: true}}
	return s
}

func stackOf(t *rapid.T, s stack.Specimen, treatments []stack.Treatment) *stack.Stack {
	st, err := stack.New(stack.Config{Specimen: s, Treatments: treatments, Knowledge: material.Builtin(), At: today})
	if err != nil {
		t.Fatalf("got %v, want a stack", err)
	}
	return st
}

// TestNothingBeforeWhatLiesOverIt: no step comes before a step for a layer that
// lies over it by a relation or by the dates, by way of others too.
func TestNothingBeforeWhatLiesOverIt(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		treatments := drawTreatments(t, 9)
		p := stackOf(t, drawSpecimen(t), treatments).Plan(stack.PlanRequest{})
		turn := map[string]int{}
		for i, s := range p.Steps {
			turn[s.Treatment] = i
		}
		shut := map[string]bool{}
		for _, u := range p.Unreachable {
			shut[u.Treatment] = true
		}
		for _, tr := range treatments {
			for _, r := range tr.Relations {
				upper, lower := tr.ID, r.To
				if r.Kind == stack.Under || r.Kind == stack.Inside || r.Kind == stack.BarrierFor {
					upper, lower = lower, upper
				}
				u, up := turn[upper]
				l, low := turn[lower]
				if r.Kind != stack.Bridges && up && low && u > l {
					t.Fatalf("got %s (step %d) after %s (step %d), want it before: %s %s", upper, u, lower, l, tr.ID, r.Kind)
				}
			}
		}
		overByDate(t, p, treatments, turn)
	})
}

// overByDate: of layers without relations in the same single area, the later
// comes off first.
func overByDate(t *rapid.T, p stack.RemovalPlan, treatments []stack.Treatment, turn map[string]int) {
	for _, tr := range treatments {
		if len(tr.Relations) > 0 {
			return // by way of relations and distrusted dates the order may be another
		}
	}
	for _, a := range treatments {
		for _, b := range treatments {
			i, ok := turn[a.ID]
			j, too := turn[b.ID]
			if !ok || !too || a.When.From.IsZero() || b.When.To.IsZero() || a.When.From.Compare(b.When.To) <= 0 ||
				a.Areas[0] != b.Areas[0] {
				continue
			}
			if i > j {
				t.Fatalf("got %s (%v) after %s (%v), want the later one first", a.ID, a.When, b.ID, b.When)
			}
		}
	}
}

// TestInsertionOrderDoesNotMatter: the answers are the same however the records
// come in.
func TestInsertionOrderDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		treatments, specimen := drawTreatments(t, 8), drawSpecimen(t)
		proposed := drawTreatment(t, "proposed", nil)
		answers := func(list []stack.Treatment) string {
			s := stackOf(t, specimen, list)
			checked, err := s.Check(proposed, stack.CheckConfig{})
			if err != nil {
				t.Fatal(err)
			}
			return fmt.Sprintf("%+v\n%+v\n%+v\n%s\n%+v", checked, s.Present().Contradictions, summary(s), s.Timeline("x"),
				s.Travel().Sentence)
		}
		shuffled := slices.Clone(treatments)
		rand.New(rand.NewSource(int64(rapid.IntRange(0, 1<<30).Draw(t, "seed")))).Shuffle(len(shuffled), func(i, j int) {
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		})
		if diff := cmp.Diff(answers(treatments), answers(shuffled)); diff != "" {
			t.Fatalf("got (-) want (+)\n%s", diff)
		}
	})
}

// summary is a plan and the present state without pointers.
func summary(s *stack.Stack) []string {
	var out []string
	p := s.Plan(stack.PlanRequest{})
	for _, st := range p.Steps {
		line := st.Treatment
		for _, c := range st.Candidates {
			line += fmt.Sprintf(" %s/%v/%d/%d", c.Solvent, c.Test, c.Disturbed, c.Unknown)
		}
		out = append(out, line)
	}
	for _, u := range p.Unreachable {
		out = append(out, u.Sentence)
	}
	for _, q := range p.Questions {
		out = append(out, fmt.Sprint(q))
	}
	for _, a := range s.Present().Areas {
		line := string(a.Area) + string(a.Status)
		for _, l := range a.Layers {
			line += " " + l.Layer.Treatment + string(l.State)
		}
		out = append(out, line)
	}
	return out
}

// TestUnknownIsNeverAnAllClear: without any knowledge of materials there is a
// warning for every layer that a liquid reaches, and no reversibility, no
// temperature and no instruction at all.
func TestUnknownIsNeverAnAllClear(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		treatments, specimen := drawTreatments(t, 6), drawSpecimen(t)
		s, err := stack.New(stack.Config{Specimen: specimen, Treatments: treatments, At: today})
		if err != nil {
			t.Fatal(err)
		}
		proposed := resin(rapid.SampledFrom(someLiquids).Draw(t, "liquid"), areas("whole"), method(stack.Immersion))
		checked, err := s.Check(proposed, stack.CheckConfig{})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range s.Reversibility() {
			tested := slices.ContainsFunc(r.Redissolvable.Evidence, func(e stack.Evidence) bool { return e.Treatment != "" })
			out := r.Removable.Answer == stack.No // below a network, whatever is known of materials
			if !tested && (r.Redissolvable.Answer != stack.Unknown || r.Removable.Answer != stack.Unknown && !out) ||
				r.Removable.Answer == stack.Yes || r.Retreatable.Answer != stack.Unknown {
				t.Fatalf("got %+v, want unknown three times, or what a test showed and in part at most", r)
			}
			cleared := slices.ContainsFunc(checked.Cleared, func(c stack.Cleared) bool {
				return slices.Contains(c.Layers, r.Treatment)
			})
			warned := slices.ContainsFunc(checked.Findings, func(f stack.Finding) bool {
				return slices.Contains(f.Layers, r.Treatment)
			})
			if !warned && !cleared {
				t.Fatalf("got no word of %s, want a warning: %v", r.Treatment, checked.Findings)
			}
		}
		if got := s.Travel(); got.Known || got.AtMost != nil {
			t.Fatalf("got %+v, want no temperature", got)
		}
		for _, st := range s.Plan(stack.PlanRequest{}).Steps {
			for _, c := range st.Candidates {
				if c.Evidence[0].Treatment == "" {
					t.Fatalf("got %+v, want no liquid that nobody tried", c)
				}
			}
		}
	})
}

// overlay adds one observation to what is known.
type overlay struct {
	stack.Knowledge
	row material.SolubilityRow
}

func (o overlay) Solubility(id, grade, solvent string, age material.Age) material.Solubility {
	s := o.Knowledge.Solubility(id, grade, solvent, age)
	if id == o.row.Material && solvent == o.row.Solvent {
		if s.ByClass {
			s.Rows = nil
		}
		s.Rows, s.ByClass = append(slices.Clone(s.Rows), o.row), false
	}
	return s
}

// TestKnowingMoreIsNeverSilence: what a warning named is still in the answer
// when one more observation, one more record or one more trait is known: as a
// finding, or as cleared with the reason.
func TestKnowingMoreIsNeverSilence(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		treatments, specimen := drawTreatments(t, 6), drawSpecimen(t)
		proposed := drawTreatment(t, "proposed", nil)
		check := func(k stack.Knowledge, list []stack.Treatment) stack.Checked {
			s, err := stack.New(stack.Config{Specimen: specimen, Treatments: list, Knowledge: k, At: today})
			if err != nil {
				t.Fatal(err)
			}
			c, err := s.Check(proposed, stack.CheckConfig{})
			if err != nil {
				t.Fatal(err)
			}
			return c
		}
		before := check(material.Builtin(), treatments)
		row := material.SolubilityRow{
			Material: rapid.SampledFrom(someMaterials).Draw(t, "of"), Grade: material.AnyGrade,
			Solvent: rapid.SampledFrom(someLiquids).Draw(t, "in"),
			Age:     material.AnyAge, Observed: rapid.SampledFrom([]material.Observed{
				material.NoEffect, material.DissolvesIt, material.Swells, material.Disputed,
			}).Draw(t, "seen"),
			Evidence: material.Evidence{
				Source: material.Source{Citation: "A bench test of the museum"}, Status: material.InstitutionsOwn,
			},
		}
		stillSpokenOf(t, before, check(overlay{material.Builtin(), row}, treatments))
		more := drawTreatment(t, "more", nil)
		stillSpokenOf(t, before, check(material.Builtin(), append(slices.Clone(treatments), more)))
	})
}

func stillSpokenOf(t *rapid.T, before, after stack.Checked) {
	spoken := map[string]bool{}
	for _, f := range after.Findings {
		for _, l := range f.Layers {
			spoken[l] = true
		}
	}
	for _, c := range after.Cleared {
		for _, l := range c.Layers {
			spoken[l] = true
		}
	}
	for _, f := range before.Findings {
		for _, l := range f.Layers {
			if f.Severity != stack.Info && !spoken[l] {
				t.Fatalf("got silence about %s, want a word: it was %v", l, f)
			}
		}
	}
}

// TestWorseKnowledgeIsNeverMilder: one more row that saw harm never lowers what
// the check says of that layer.
func TestWorseKnowledgeIsNeverMilder(t *testing.T) {
	t.Parallel()
	weight := map[stack.Severity]int{stack.Info: 1, stack.Warn: 2, stack.Block: 3}
	rapid.Check(t, func(t *rapid.T) {
		m, liquid := rapid.SampledFrom(someMaterials).Draw(t, "material"), rapid.SampledFrom(someLiquids).Draw(t, "liquid")
		old := with(put("old", stack.Coating, "skull", rapid.SampledFrom(someDates).Draw(t, "date"), of(m)),
			role(rapid.SampledFrom([]stack.Role{stack.Coat, stack.Adhesive, stack.Consolidant}).Draw(t, "role")))
		worst := func(k stack.Knowledge) int {
			s, err := stack.New(stack.Config{Specimen: bone(), Treatments: []stack.Treatment{old}, Knowledge: k, At: today})
			if err != nil {
				t.Fatal(err)
			}
			c, err := s.Check(resin(liquid), stack.CheckConfig{})
			if err != nil {
				t.Fatal(err)
			}
			w := 0
			for _, rule := range []string{"solvent-reaches-earlier-layer", "same-resin-over-earlier-layer", "earlier-layer-unknown", "known-solvent-of-earlier-layer"} {
				for _, f := range findings(c, rule) {
					w = max(w, weight[f.Severity])
				}
			}
			return w
		}
		row := material.SolubilityRow{
			Material: m, Grade: material.AnyGrade, Solvent: liquid, Age: material.AnyAge, Observed: material.DissolvesIt,
		}
		if before, now := worst(material.Builtin()), worst(overlay{material.Builtin(), row}); now < before {
			t.Fatalf("%s on %s: got weight %d after one more row that dissolves, want at least %d", liquid, m, now, before)
		}
	})
}

// TestTreatingOneSeparateBoneNeverTouchesAnother, whatever the method.
func TestTreatingOneSeparateBoneNeverTouchesAnother(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var treatments []stack.Treatment
		for i := range rapid.IntRange(1, 6).Draw(t, "n") {
			tr := drawTreatment(t, fmt.Sprintf("t%d", i), nil)
			tr.Areas = []stack.Area{rapid.SampledFrom([]stack.Area{"rib-1", "rib-1/head"}).Draw(t, "where")}
			treatments = append(treatments, tr)
		}
		s := stackOf(t, drawSpecimen(t), treatments)
		for _, a := range s.Present().Areas {
			if a.Area == "rib-2" && (a.Status != stack.NotRecorded || len(a.Layers)+len(a.Through) > 0) {
				t.Fatalf("got %+v on rib-2, want not recorded", a)
			}
		}
		proposed := drawTreatment(t, "proposed", nil)
		proposed.Areas = []stack.Area{"rib-2"}
		checked, err := s.Check(proposed, stack.CheckConfig{})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range checked.Findings {
			if len(f.Layers) > 0 {
				t.Fatalf("got %v, want no layer of rib-1 concerned", f)
			}
		}
	})
}

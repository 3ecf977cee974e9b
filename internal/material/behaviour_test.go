package material

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

const copolymer = "ethyl-methacrylate-methyl-acrylate-copolymer"

func TestSolubility(t *testing.T) {
	t.Parallel()
	type answer struct {
		Observed         Observed
		ByClass, AgeSeen bool
		Recalled         bool
	}
	for _, c := range []struct {
		material, grade, solvent string
		age                      Age
		want                     answer
	}{
		// The supplier's sheet and a later paper; the oldest films seen were over 20 years old.
		{copolymer, "", "acetone", Fresh, answer{Observed: DissolvesIt}},
		{copolymer, "", "acetone", Aged, answer{Observed: DissolvesIt, AgeSeen: true}},
		// Sold as soluble in ethanol; alone it can be hazy.
		{copolymer, "", "ethanol", AnyAge, answer{Observed: Disputed}},
		{copolymer, "", "ethanol-96", AnyAge, answer{Observed: Disputed, ByClass: true}},
		{copolymer, "", "n-heptane", AnyAge, answer{Observed: NoEffect, ByClass: true}},
		{copolymer, "", "o-xylene", Fresh, answer{Observed: DissolvesIt, ByClass: true}},
		// Rule known-solvent-of-earlier-layer: the higher-hydroxyl grade only swells in acetone, the lower dissolves.
		{"pvb-high-hydroxyl", "", "acetone", Fresh, answer{Observed: Swells}},
		{"pvb-low-hydroxyl", "", "acetone", Fresh, answer{Observed: DissolvesIt}},
		// Two sources contradict each other on methanol.
		{"poly-vinyl-acetate-resin", "", "methanol", Fresh, answer{Observed: Disputed}},
		// Water thins the dispersion before it dries; the dried film swells and does not dissolve again.
		{"poly-vinyl-acetate-dispersion", "", "water", Fresh, answer{Observed: DissolvesIt, AgeSeen: true, Recalled: true}},
		{"poly-vinyl-acetate-dispersion", "", "water", AnyAge, answer{Observed: Swells}},
		// Shellac: young in ethanol, old ones resist.
		{"shellac", "", "ethanol", Aged, answer{Observed: Softens, AgeSeen: true, Recalled: true}},
		// Fresh behaviour of a resin that cross-links is no answer for a film of unknown age.
		{"poly-n-butyl-methacrylate", "", "toluene", Fresh, answer{Observed: DissolvesIt, AgeSeen: true}},
		{"poly-n-butyl-methacrylate", "", "toluene", AnyAge, answer{Observed: UnknownEffect, ByClass: true, AgeSeen: true, Recalled: true}},
		{"animal-glue", "hardened", "hot-water", AnyAge, answer{Observed: NoEffect, Recalled: true}},
		{"methylcellulose", "", "hot-water", AnyAge, answer{Observed: NoEffect}},
		{"methylcellulose", "", "water", Fresh, answer{Observed: DissolvesIt}},
		{"epoxy-bisphenol-a-amine", "", "ethanol", AnyAge, answer{Observed: UnknownEffect}},
		{"no-such-material", "", "acetone", AnyAge, answer{Observed: UnknownEffect}},
		{copolymer, "", "no-such-solvent", AnyAge, answer{Observed: UnknownEffect}},
	} {
		s := Builtin().Solubility(c.material, c.grade, c.solvent, c.age)
		got := answer{s.Observed, s.ByClass, s.AgeSeen, s.Recalled}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s %s in %s, %s (-want +got):\n%s", c.material, c.grade, c.solvent, c.age, diff)
		}
		if len(s.Rows) == 0 && s.Observed != UnknownEffect {
			t.Errorf("%s in %s: verdict %s without a row", c.material, c.solvent, s.Observed)
		}
	}
}

func TestSolubilityKeepsWhatDisagrees(t *testing.T) {
	t.Parallel()
	s := Builtin().Solubility("poly-vinyl-acetate-resin", "", "toluene", Fresh)
	against := 0
	for _, r := range s.Others {
		if r.Solvent == "hydrocarbons" && r.Observed == NoEffect {
			against++
		}
	}
	if s.Observed != DissolvesIt || against != 1 {
		t.Errorf("got %s with %d rows against, want dissolves and the row on hydrocarbons", s.Observed, against)
	}
	if v := Builtin().SolubilityInVapour(copolymer, "", "acetone", AnyAge); v.Observed != Softens {
		t.Errorf("acetone vapour: got %s, want softens", v.Observed)
	}
}

func TestReversibility(t *testing.T) {
	t.Parallel()
	const epoxy, butyl = "epoxy-bisphenol-a-amine", "poly-n-butyl-methacrylate"
	for _, c := range []struct {
		q    ReversibilityQuery
		want [3]Answer
	}{
		{ReversibilityQuery{Material: copolymer, Role: Coating, Age: AnyAge}, [3]Answer{Yes, Yes, Yes}},
		{ReversibilityQuery{Material: copolymer, Role: Consolidant, Age: AnyAge}, [3]Answer{Yes, Partly, Yes}},
		{ReversibilityQuery{Material: copolymer, Role: PenetratingConsolidant, Age: Fresh}, [3]Answer{Yes, Partly, Yes}},
		{ReversibilityQuery{Material: epoxy, Role: Adhesive, Age: AnyAge}, [3]Answer{No, No, No}},
		{ReversibilityQuery{Material: epoxy, Role: Adhesive, Age: AnyAge, Barrier: OverBarrier}, [3]Answer{No, Yes, Yes}},
		{ReversibilityQuery{Material: epoxy, Role: Adhesive, Age: AnyAge, Barrier: NoBarrier}, [3]Answer{No, No, No}},
		{ReversibilityQuery{Material: butyl, Role: Coating, Age: Fresh}, [3]Answer{Yes, Yes, Yes}},
		{ReversibilityQuery{Material: butyl, Role: Coating, Age: Aged}, [3]Answer{Partly, No, NotKnown}},
		{ReversibilityQuery{Material: butyl, Role: Coating}, [3]Answer{Partly, No, NotKnown}},
		{ReversibilityQuery{Material: "animal-glue", Role: Coating}, [3]Answer{Yes, Yes, Yes}},
		{ReversibilityQuery{Material: "animal-glue", Grade: "hardened", Role: Coating}, [3]Answer{No, No, NotKnown}},
		{ReversibilityQuery{Material: "plaster-of-paris", Role: Fill}, [3]Answer{No, Partly, Yes}},
		{ReversibilityQuery{Material: "gum", Role: Coating}, [3]Answer{NotKnown, NotKnown, NotKnown}},
		// Of any consolidant: strictly none can be undone.
		{ReversibilityQuery{Material: "gum", Role: Consolidant}, [3]Answer{NotKnown, Partly, NotKnown}},
		{ReversibilityQuery{Material: copolymer, Role: UnknownRole}, [3]Answer{NotKnown, NotKnown, NotKnown}},
	} {
		r := Builtin().Reversibility(c.q)
		got := [3]Answer{r.Redissolvable.Answer, r.Removable.Answer, r.Retreatable.Answer}
		if got != c.want {
			t.Errorf("%+v: got %v, want %v", c.q, got, c.want)
		}
		for _, a := range []Reasoned{r.Redissolvable, r.Removable, r.Retreatable} {
			if (a.Answer == NotKnown) != (len(a.Rows) == 0) {
				t.Errorf("%+v: %s with %d statements", c.q, a.Answer, len(a.Rows))
			}
		}
	}
}

// No answer takes a consolidant out of a porous body, whatever the material.
func TestNothingLeavesAPorousBody(t *testing.T) {
	t.Parallel()
	for _, m := range Builtin().Materials(Filter{}) {
		for _, role := range []Role{Consolidant, PenetratingConsolidant} {
			for _, age := range []Age{Fresh, Aged, AnyAge} {
				r := Builtin().Reversibility(ReversibilityQuery{Material: m.ID, Role: role, Age: age})
				if r.Removable.Answer == Yes {
					t.Errorf("%s as %s, %s: removable yes", m.ID, role, age)
				}
			}
		}
	}
}

func TestReversibilityShowsContradiction(t *testing.T) {
	t.Parallel()
	r := Builtin().Reversibility(ReversibilityQuery{Material: "microcrystalline-wax", Role: Consolidant})
	if r.Removable.Answer != No || !r.Removable.Contradicted || len(r.Removable.Rows) != 2 {
		t.Errorf("wax in pores: got %+v, want the more cautious of two statements", r.Removable)
	}
}

func TestAnalysisEffects(t *testing.T) {
	t.Parallel()
	effects := Builtin().AnalysisEffects(copolymer, Consolidant, "radiocarbon")
	subjects := map[string]int{}
	for _, e := range effects {
		subjects[e.Subject]++
		if e.Analysis != "radiocarbon" || e.Evidence.Source.Citation == "" {
			t.Errorf("got %+v, want a sourced effect on radiocarbon", e)
		}
	}
	if diff := cmp.Diff(map[string]int{copolymer: 2, "consolidant-any": 2}, subjects); diff != "" {
		t.Errorf("effects by subject (-want +got):\n%s", diff)
	}
	// A set of polar solvents over 48 h lowers collagen carbon by 0.3 to 0.4 permil.
	sizes := map[string]bool{}
	for _, e := range Builtin().AnalysisEffects("solvent-exposure", UnknownRole, "collagen-isotopes") {
		sizes[e.Size] = true
	}
	if !sizes["-0.4..-0.3 permil"] || !sizes["0..0.9 permil"] {
		t.Errorf("sizes: got %v", sizes)
	}
}

func TestStrengths(t *testing.T) {
	t.Parallel()
	for _, s := range Builtin().Strengths(copolymer, Adhesive) {
		if s.Written == [2]string{"40", "40"} && (s.Basis != "mass-per-solvent-volume" || s.Unit != "g/dL") {
			t.Errorf("80 g in 200 mL: got %s %s, want g/dL per solvent volume", s.Unit, s.Basis)
		}
		if s.Written == [2]string{"60", "60"} && s.Basis != "unknown" {
			t.Errorf("60 %% w/v of an abstract: got %s, want unknown", s.Basis)
		}
	}
	if n := len(Builtin().Strengths(copolymer, Adhesive)); n != 5 {
		t.Errorf("adhesive strengths of the copolymer: got %d, want 5", n)
	}
	total := 0
	for _, m := range Builtin().Materials(Filter{}) {
		total += len(Builtin().Strengths(m.ID, AnyRole))
	}
	if total != 79 {
		t.Errorf("strengths: got %d, want 79", total)
	}
}

func TestContainerRatings(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		container, solvent string
		rating             Rating
		basis              Basis
		of                 string
	}{
		{"glass", "acetone", Satisfactory, Recalled, ""},
		{"hdpe", "acetone", Unsuitable, ReadNamed, ""}, // limited by the class, unsuitable by name: the worse one
		{"ldpe", "acetone", Limited, ReadNamed, ""},
		{"pp", "acetone", Limited, ReadNamed, ""},
		{"hdpe", "toluene", Limited, Recalled, ""}, // the chart read is milder; what is recalled is kept
		{"hdpe", "propan-2-ol", Satisfactory, ReadClass, ""},
		{"hdpe", "o-xylene", Limited, Recalled, "xylene-mixed-isomers"},
		{"ptfe", "acetone", Satisfactory, ReadNamed, ""},
		{"pmma", "xylene-mixed-isomers", Unsuitable, ReadClass, ""}, // by relatives of it
		{"aluminium", "dichloromethane", Unsuitable, Recalled, ""},
		{"hdpe", "ethanol-96", Satisfactory, ReadNamed, "ethanol"},
		{"abs", "acetone", Unsuitable, Recalled, ""},
		{"abs", "ethanol", UnknownRating, NoBasis, ""},
		{"hdpe", "turpentine", UnknownRating, NoBasis, ""},
		{"bucket", "acetone", UnknownRating, NoBasis, ""},
	} {
		v := Builtin().ContainerRating(c.container, c.solvent)
		if v.Rating != c.rating || v.Basis != c.basis || v.Of != c.of {
			t.Errorf("%s in %s: got %s, %q, of %q, want %s, %q, %q", c.solvent, c.container, v.Rating, v.Basis, v.Of,
				c.rating, c.basis, c.of)
		}
	}
}

// Counts of the sixteen solvents in fourteen materials, as the charts and
// memory together rate them.
func TestEveryContainerIsRated(t *testing.T) {
	t.Parallel()
	isomers := map[string]bool{"o-xylene": true, "m-xylene": true, "p-xylene": true}
	got := map[Rating]int{}
	for _, c := range Builtin().Containers() {
		for _, m := range Builtin().Materials(Filter{Kinds: []Kind{Solvent}}) {
			v := Builtin().ContainerRating(c.ID, m.ID)
			if c.ID == "abs" || isomers[m.ID] || v.Rating == UnknownRating {
				continue
			}
			got[v.Rating]++
			if len(v.Rows) == 0 || v.Basis == NoBasis {
				t.Errorf("%s in %s: %s rests on nothing", m.ID, c.ID, v.Rating)
			}
		}
	}
	if diff := cmp.Diff(map[Rating]int{Satisfactory: 102, Limited: 57, Unsuitable: 65}, got); diff != "" {
		t.Errorf("ratings (-want +got):\n%s", diff)
	}
}

func TestResinCodes(t *testing.T) {
	t.Parallel()
	codes := Builtin().ResinCodes()
	if len(codes) != 7 || codes[6].Container != "" || codes[6].Note == "" {
		t.Errorf("got %+v, want seven codes, the last without a polymer", codes)
	}
	for _, c := range codes[:6] {
		if container, ok := Builtin().Container(c.Container); !ok || container.Code != c.Code {
			t.Errorf("code %s: got container %+v", c.Code, container)
		}
	}
}

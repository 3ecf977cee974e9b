package material

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/fault"
)

func TestResolve(t *testing.T) {
	t.Parallel()
	for words, want := range map[string][]string{
		"PVA":               {"poly-vinyl-acetate-dispersion", "poly-vinyl-acetate-resin", "poly-vinyl-alcohol"},
		"p.v.a.":            {"poly-vinyl-acetate-dispersion", "poly-vinyl-acetate-resin", "poly-vinyl-alcohol"},
		"5 % PVA, acetone":  {"poly-vinyl-acetate-dispersion", "poly-vinyl-acetate-resin", "poly-vinyl-alcohol", "acetone"},
		"PVB":               {"pvb-low-hydroxyl", "pvb-high-hydroxyl"},
		"lacquer":           {"cellulose-nitrate", "shellac"},
		"white glue":        {"poly-vinyl-acetate-dispersion"},
		"coat of Shellac":   {"shellac"},
		"acrylic copolymer": {copolymer},
		"67-64-1":           {"acetone"},
		"methyl ethyl ketone": {
			"butanone",
		},
		copolymer:           {copolymer},
		"no idea what this": nil,
		"":                  nil,
	} {
		var got []string
		for _, c := range Builtin().Resolve(words).Candidates {
			got = append(got, c.Material)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%q (-want +got):\n%s", words, diff)
		}
	}
	peg, ok := Builtin().Resolve("PEG 1500").One()
	if !ok || peg.Material != "polyethylene-glycol" || peg.Grade != "1500" {
		t.Errorf("PEG 1500: got %+v", peg)
	}
	if r := Builtin().Resolve("PVA"); !r.Ambiguous() {
		t.Error("PVA: got one meaning, want several")
	}
	if _, one := Builtin().Resolve("PVA").One(); one {
		t.Error("PVA was taken as one of its meanings")
	}
}

// Poling and others, 5th edition, evaluated independently in the vapour-pressure
// column of the same tables; Perry's equation as the second opinion.
func TestVapourPressure(t *testing.T) {
	t.Parallel()
	for _, m := range Builtin().Materials(Filter{Kinds: []Kind{Solvent}}) {
		for _, f := range Builtin().Property(m.ID, VapourPressure, "").All {
			want, single := f.Value.Single()
			if f.Rank == Doubted || f.Evidence.Status != Computed || !single || len(f.Evidence.Also) > 0 {
				continue
			}
			got, err := Builtin().VapourPressure(m.ID, f.At)
			if err != nil {
				t.Errorf("%s: %v", m.ID, err)
				continue
			}
			tolerance := 0.14 // the widest second opinion: n-butyl acetate, extrapolated
			if f.Rank == Preferred {
				tolerance = 0.005
			}
			if m.ID == "water" {
				tolerance = 0.005 // the preferred figure is IAPWS-IF97
			}
			if math.Abs(got.KPa/want-1) > tolerance {
				t.Errorf("%s at %g Cel: got %.4g kPa by %s, want %s (%s)", m.ID, f.At, got.KPa, got.Equation,
					f.Value.Written, f.Evidence.Source.Citation)
			}
		}
	}
}

// At the boiling point the vapour pressure is one atmosphere: the equations
// against the boiling points of the CRC Handbook.
func TestVapourPressureAtTheBoilingPoint(t *testing.T) {
	t.Parallel()
	checked := 0
	for _, m := range Builtin().Materials(Filter{Kinds: []Kind{Solvent}}) {
		bp, f, ok := Builtin().Figure(m.ID, BoilingPoint, "")
		if _, single := f.Value.Single(); !ok || !single {
			continue
		}
		p, err := Builtin().VapourPressure(m.ID, bp)
		if err != nil || math.Abs(p.KPa/101.325-1) > 0.015 {
			t.Errorf("%s at %g Cel: got %.2f kPa, %v, want 101.325 within 1.5 %%", m.ID, bp, p.KPa, err)
		}
		checked++
	}
	if checked < 17 {
		t.Errorf("checked %d solvents, want 17", checked)
	}
}

func TestVapourPressureSaysWhatItCannotKnow(t *testing.T) {
	t.Parallel()
	b := Builtin()
	if p, err := b.VapourPressure("xylene-mixed-isomers", 20); err != nil || p.Of != "m-xylene" {
		t.Errorf("xylene: got %+v, %v, want m-xylene standing in", p, err)
	}
	if p, err := b.VapourPressure("1-methoxy-2-propanol", 20); err != nil || !p.Extrapolated {
		t.Errorf("1-methoxy-2-propanol: got %+v, %v, want an extrapolation that is said", p, err)
	}
	if p, err := b.VapourPressure("white-spirit-stoddard-solvent", 20); err != nil || p.KPa != 0.2 ||
		p.Equation != "point" {
		t.Errorf("white spirit at 20 Cel: got %+v, %v", p, err)
	}
	for _, at := range []struct {
		id string
		t  float64
	}{{"white-spirit-stoddard-solvent", 40}, {"turpentine", 20}, {"acetone", -300}} {
		if p, err := b.VapourPressure(at.id, at.t); !errors.Is(err, ErrNoValue) {
			t.Errorf("%s at %g Cel: got %+v, %v, want no value", at.id, at.t, p, err)
		}
	}
}

// Densities against temperature as the equations give them, kg/m3: DIPPR 105
// for acetone and toluene, Tanaka 2001 for water; published evaluations.
func TestDensityRatio(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		id          string
		celsius     float64
		at, twenty  float64
		extrapolate bool
	}{
		{"acetone", 0, 814.42, 792.24, false},
		{"acetone", 40, 769.22, 792.24, false},
		{"toluene", 0, 886.40, 868.47, false},
		{"toluene", 30, 859.33, 868.47, false},
		{"ethanol", 10, 799.03, 790.32, false},
		{"water", 0, 999.8428, 998.2067, false},
		{"water", 40, 992.2152, 998.2067, false},
	} {
		r, err := Builtin().DensityRatio(c.id, c.celsius)
		if err != nil || math.Abs(r.Value-c.at/c.twenty) > 2e-5 || r.Extrapolated != c.extrapolate {
			t.Errorf("%s at %g Cel: got %+v, %v, want %.5f", c.id, c.celsius, r, err, c.at/c.twenty)
		}
	}
	if r, err := Builtin().DensityRatio("cyclohexane", 30); err != nil || math.Abs(r.Value-(1-0.0095/0.7787)) > 1e-12 {
		t.Errorf("cyclohexane by its slope: got %+v, %v", r, err)
	}
	if r, err := Builtin().DensityRatio("acetone", 55); err != nil || !r.Extrapolated {
		t.Errorf("acetone at 55 Cel: got %+v, %v, want an extrapolation that is said", r, err)
	}
	if _, err := Builtin().DensityRatio(copolymer, 30); !errors.Is(err, ErrNoValue) {
		t.Errorf("copolymer: got %v, want no value", err)
	}
}

func TestHazards(t *testing.T) {
	t.Parallel()
	b := Builtin()
	if diff := cmp.Diff([]string{"H225", "H319", "H336", "EUH066"},
		b.LabelHazards("acetone", HazardStatement)); diff != "" {
		t.Errorf("acetone (-want +got):\n%s", diff)
	}
	// H400 is classified and not labelled beside H410.
	if diff := cmp.Diff([]string{"H225", "H304", "H315", "H336", "H410"},
		b.LabelHazards("n-heptane", HazardStatement)); diff != "" {
		t.Errorf("n-heptane (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{"Danger"}, b.LabelHazards("methanol", SignalWord)); diff != "" {
		t.Errorf("methanol (-want +got):\n%s", diff)
	}
	for code, want := range map[string]string{
		"H225": "Highly flammable liquid and vapour.",
		"H372": "Causes damage to organs through prolonged or repeated exposure.",
		"H340": "May cause genetic defects.",
		"H361": "Suspected of damaging fertility or the unborn child.",
		"P210": "Keep away from heat, hot surfaces, sparks, open flames and other ignition sources. No smoking.",
	} {
		if s, ok := b.Statement(code); !ok || s.Text() != want {
			t.Errorf("%s: got %q, want %q", code, s.Text(), want)
		}
	}
	if n := len(b.Precautions("Flam. Liq. 2")); n != 11 {
		t.Errorf("precautions of flammable liquids: got %d, want 11", n)
	}
}

func TestExposureLimits(t *testing.T) {
	t.Parallel()
	type limit struct {
		Body    LimitBody
		Kind    LimitKind
		Written string
		Unit    string
	}
	var got []limit
	for _, l := range Builtin().ExposureLimits("toluene") {
		got = append(got, limit{l.Body, l.Kind, l.Value.Written, l.Unit})
	}
	want := []limit{
		{NIOSH, TimeWeighted, "100", "[ppm]"}, {NIOSH, TimeWeighted, "375", "mg/m3"},
		{NIOSH, ShortTerm, "150", "[ppm]"}, {NIOSH, ShortTerm, "560", "mg/m3"},
		{OSHA, TimeWeighted, "200", "[ppm]"}, {OSHA, Ceiling, "300", "[ppm]"}, {OSHA, Peak, "500", "[ppm]"},
		{NIOSH, ImmediatelyDangerous, "500", "[ppm]"},
		{EU, TimeWeighted, "50", "[ppm]"}, {EU, TimeWeighted, "192", "mg/m3"},
		{EU, ShortTerm, "100", "[ppm]"}, {EU, ShortTerm, "384", "mg/m3"},
		{UK, TimeWeighted, "50", "[ppm]"}, {UK, TimeWeighted, "191", "mg/m3"},
		{UK, ShortTerm, "100", "[ppm]"}, {UK, ShortTerm, "384", "mg/m3"},
		{France, TimeWeighted, "50", "[ppm]"}, {France, TimeWeighted, "192", "mg/m3"},
		{France, ShortTerm, "100", "[ppm]"}, {France, ShortTerm, "384", "mg/m3"},
		{Germany, TimeWeighted, "50", "[ppm]"}, {Germany, TimeWeighted, "190", "mg/m3"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("toluene (-want +got):\n%s", diff)
	}
}

func TestMixtures(t *testing.T) {
	t.Parallel()
	b := Builtin()
	spirit, _ := b.Material("ethanol-96")
	if len(spirit.Components) != 2 || spirit.Components[0].Amount.Written != "96" ||
		spirit.Components[1].Basis != "balance" {
		t.Errorf("ethanol, 96 %%: got %+v, want ethanol by volume and water for the rest", spirit.Components)
	}
	if c := b.Contractions("water", "ethanol-96"); len(c) != 2 || c[0].Change.Written != "-3.55" {
		t.Errorf("ethanol and water: got %+v", c)
	}
	for pair, want := range map[[2]string]Mixes{
		{"toluene", "water"}: Immiscible, {"water", "toluene"}: Immiscible, {"water", "butanone"}: PartlyMixes,
		{"water", "acetone"}: Miscible, {"acetone", "n-butyl-acetate"}: MixesUnknown,
	} {
		if m := b.Miscibility(pair[0], pair[1]); m.Verdict != want {
			t.Errorf("%v: got %s, want %s", pair, m.Verdict, want)
		}
	}
}

func TestKindsSayHowToMix(t *testing.T) {
	t.Parallel()
	for id, want := range map[string]Mixing{
		copolymer: Dissolves, "shellac": Dissolves, "animal-glue": Dissolves, "microcrystalline-wax": Dissolves,
		"acrylic-dispersion": BySolids, "epoxy-bisphenol-a-amine": MakersRatio, "ethyl-cyanoacrylate": MakersRatio,
		"unsaturated-polyester-styrene": MakersRatio, "plaster-of-paris": MakersRatio,
		"calcium-hydroxide-nanolime": AsSupplied, "ethyl-silicate": AsSupplied, "acetone": Liquid, "ethanol-96": Liquid,
		"alcohols": Unmixable, "consolidant-any": Unmixable,
	} {
		if m, _ := Builtin().Material(id); m.Kind.Mixing() != want {
			t.Errorf("%s: got %s, want %s", id, m.Kind.Mixing(), want)
		}
	}
}

func ownCopolymer() OwnMaterial {
	return OwnMaterial{
		ID: "0198c5a2-7f00-7000-8000-000000000001", Name: "acrylic copolymer, beads of 2024", Like: copolymer,
		TradeNames: []string{"Bench acrylic"}, Citation: "Data sheet of the supplier, March 2024",
		Values: []OwnValue{{Property: DensityProperty, Value: "1.16", Unit: "g/mL"}},
		Observed: []OwnObservation{{
			Solvent: "ethanol", Age: Fresh, Observed: DissolvesIt, Remark: "clear after a night",
			Citation: "Bench test, May 2024",
		}},
	}
}

func TestWithLaysOwnMaterialsOver(t *testing.T) {
	t.Parallel()
	own := ownCopolymer()
	b, err := Builtin().With([]OwnMaterial{own})
	if err != nil {
		t.Fatal(err)
	}
	d, err := b.Density(own.ID, "")
	if err != nil || d.GPerML != 1.16 || d.Fact.Evidence.Status != InstitutionsOwn ||
		d.Fact.Evidence.Source.Citation != own.Citation {
		t.Errorf("own density: got %+v, %v", d, err)
	}
	if builtin, _ := b.Density(copolymer, ""); builtin.GPerML != 1.15 {
		t.Errorf("built-in density: got %v, want it unchanged", builtin.GPerML)
	}
	if tg := b.Property(own.ID, GlassTransition, "").Preferred; tg == nil || tg.Value.Written != "40" ||
		tg.Material != copolymer {
		t.Errorf("what it does not say itself: got %+v, want the built-in value", tg)
	}
	if s := b.Solubility(own.ID, "", "ethanol", Fresh); s.Observed != DissolvesIt || s.ByClass || len(s.Others) == 0 {
		t.Errorf("own observation: got %+v, want it to decide and the published ones beside it", s)
	}
	if s := b.Solubility(own.ID, "", "toluene", Fresh); s.Observed != DissolvesIt || !s.ByClass {
		t.Errorf("toluene: got %+v, want the behaviour of the material that it is like", s)
	}
	if r := b.Reversibility(ReversibilityQuery{Material: own.ID, Role: Consolidant}); r.Removable.Answer != Partly {
		t.Errorf("reversibility: got %+v", r.Removable)
	}
	if c, ok := b.Resolve("bench ACRYLIC").One(); !ok || c.Material != own.ID || c.Name.Kind != TradeName {
		t.Errorf("trade name: got %+v", c)
	}
	if m, _ := b.Material(own.ID); !m.Own() || m.Kind != Resin {
		t.Errorf("own material: got %+v", m)
	}
	if _, ok := Builtin().Material(own.ID); ok {
		t.Error("the built-in base was changed")
	}
	if got, want := len(b.Materials(Filter{})), len(Builtin().Materials(Filter{}))+1; got != want {
		t.Errorf("materials: got %d, want %d", got, want)
	}
}

func TestCheckOwnPointsAtEveryFault(t *testing.T) {
	t.Parallel()
	err := Builtin().CheckOwn(OwnMaterial{
		ID: "acetone", Like: "no-such", LikeGrade: "", Kind: "gadget",
		Values: []OwnValue{
			{Property: "beauty", Value: "1", Unit: "1"},
			{Property: DensityProperty, Value: "1.2", Unit: "kg/m3"},
			{Property: DensityProperty, Value: "0.2", Unit: "g/mL"},
			{Property: GlassTransition, Value: "warm", Unit: "Cel"},
			{Property: UNNumber, Value: "UN1866", Unit: "1"},
		},
		Observed: []OwnObservation{{Solvent: "shellac", Age: "ripe", Observed: "melts"}},
	})
	got := map[string]string{}
	for _, f := range fault.From(err) {
		got[f.Pointer+" "+f.Code] = f.Detail
	}
	for _, want := range []string{
		"/id material-built-in", "/name name-missing", "/citation citation-missing", "/like material-unknown",
		"/values/0/property property-unknown", "/values/1/unit unit-wrong", "/values/2/property value-twice",
		"/values/2/value value-out-of-range", "/values/3/value value-unreadable", "/values/4/unit unit-unexpected",
		"/observed/0/solvent solvent-unknown", "/observed/0/age age-unknown", "/observed/0/observed observed-unknown",
	} {
		if got[want] == "" {
			t.Errorf("want the fault %s, got %v", want, got)
		}
	}
	if _, err := Builtin().With([]OwnMaterial{ownCopolymer(), {ID: "x"}}); fault.From(err) == nil ||
		fault.From(err)[0].Pointer[:2] != "/1" {
		t.Errorf("With: got %v, want faults at /1", err)
	}
}

// Own values come back with the digits they were written with, for any density
// that a solid can have.
func TestOwnDensityIsWhatWasWritten(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		written := rapid.StringMatching(`[1-7]\.[0-9]{1,5}`).Draw(t, "density")
		own := ownCopolymer()
		own.Values[0].Value = written
		b, err := Builtin().With([]OwnMaterial{own})
		if err != nil {
			t.Fatal(err)
		}
		d, err := b.Density(own.ID, AnyGrade)
		if err != nil || d.Fact.Value.Written != written || d.HalfWidth <= 0 {
			t.Fatalf("got %+v, %v, want %s", d, err, written)
		}
	})
}

// A card may hold any text: resolving it never fails and never invents a
// material.
func FuzzResolve(f *testing.F) {
	for _, s := range []string{"PVA", "PEG 400 in water", "", "\x00", "acetone acetone", "ü % Φ"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, words string) {
		for _, c := range Builtin().Resolve(words).Candidates {
			if _, ok := Builtin().Material(c.Material); !ok {
				t.Errorf("%q resolves to %q, which is no material", words, c.Material)
			}
		}
	})
}

func FuzzValue(f *testing.F) {
	for _, s := range []string{"1.15", "45..63", ">40", "<0.3", "-20", "1E-5", "none", "..", "1..", "0x1p4", "1_0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := parseValue(s, "Cel")
		if err != nil || v.None {
			return
		}
		if math.IsNaN(v.Low) || math.IsNaN(v.High) || v.Low > v.High || v.Written != s {
			t.Errorf("%q: got %+v", s, v)
		}
		if v.Closed() && !(v.HalfWidth() >= 0) {
			t.Errorf("%q: half-width %v", s, v.HalfWidth())
		}
	})
}

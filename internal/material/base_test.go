package material

import (
	"errors"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestDensities(t *testing.T) {
	t.Parallel()
	// CRC Handbook, Physical Constants of Organic Compounds (water: IAPWS-IF97), at 20 Cel.
	for id, want := range map[string]float64{
		"acetone": 0.7901, "ethanol": 0.7893, "water": 0.99821, "propan-2-ol": 0.7855, "methanol": 0.7914,
		"toluene": 0.8670, "xylene-mixed-isomers": 0.864, "o-xylene": 0.8796, "m-xylene": 0.8640, "p-xylene": 0.8607,
		"ethyl-acetate": 0.9003, "n-butyl-acetate": 0.8825, "butanone": 0.8053, "1-methoxy-2-propanol": 0.922,
		"diacetone-alcohol": 0.9387, "dichloromethane": 1.3266, "n-heptane": 0.6838, "cyclohexane": 0.7787,
		"white-spirit-stoddard-solvent": 0.78,
		// OIML R 22 at 93.83839 % by mass.
		"ethanol-96": 0.8074,
		// The supplier's sheet of the copolymer; the museum encyclopedia for poly(vinyl butyral).
		"ethyl-methacrylate-methyl-acrylate-copolymer": 1.15, "pvb-low-hydroxyl": 1.083,
	} {
		d, err := Builtin().Density(id, AnyGrade)
		if err != nil || d.GPerML != want {
			t.Errorf("density of %s: got %v, %v, want %v", id, d.GPerML, err, want)
		}
		if !(d.HalfWidth > 0) || d.HalfWidth > 0.05*d.GPerML {
			t.Errorf("density of %s: half-width %v", id, d.HalfWidth)
		}
	}
}

// Second sources lie within 0.4 % of the preferred density, the widest of them
// methanol in Perry's Handbook; the one that does not (1-methoxy-2-propanol as
// transcribed from the CRC Handbook, 0.9620) is doubted and never computed with.
func TestDensitiesAgreeWithTheSecondSource(t *testing.T) {
	t.Parallel()
	compared := 0
	for _, m := range Builtin().Materials(Filter{Kinds: []Kind{Solvent}}) {
		f := Builtin().Property(m.ID, DensityProperty, "")
		for _, x := range f.All {
			if x.Rank == Preferred || x.Rank == Doubted || x.Evidence.Status == Memory || strings.Contains(x.Remark, "isomers") {
				continue
			}
			if d := f.departure(x); d > 0.004 {
				t.Errorf("%s: %s says %s at %g Cel, %.2f %% away", m.ID, x.Evidence.Source.Citation, x.Value.Written, x.At, 100*d)
			} else if d > 0 {
				compared++
			}
		}
	}
	if compared < 30 {
		t.Errorf("compared %d densities, want at least 30", compared)
	}
	wrong := Builtin().Property("1-methoxy-2-propanol", DensityProperty, "").Disagreements()
	if len(wrong) != 1 || wrong[0].Fact.Rank != Doubted || math.Abs(wrong[0].Relative-0.043) > 0.001 {
		t.Errorf("1-methoxy-2-propanol: got %+v, want the doubted figure, 4.3 %% away", wrong)
	}
}

func TestDensityNeedsTheGradeOrSaysSo(t *testing.T) {
	t.Parallel()
	b := Builtin()
	for _, c := range []struct {
		id, grade string
		want      float64
		err       error
	}{
		{"cellulose-nitrate", "", 0, ErrGradeNeeded},
		{"cellulose-nitrate", "pure", 1.6, nil},
		{"cellulose-nitrate", "film", 1.375, nil},
		{"polyethylene-glycol", "400", 1.125, nil}, // within liquid
		{"polyethylene-glycol", "4000", 1.205, nil},
		{"polyethylene-glycol", "", 0, ErrGradeNeeded},
		{"shellac", "", 1.17, nil}, // the middle of 1.14..1.20
		{"poly-vinyl-alcohol", "", 0, ErrNoValue},
		{"philosophers-stone", "", 0, ErrUnknownMaterial},
	} {
		d, err := b.Density(c.id, c.grade)
		if !errors.Is(err, c.err) || math.Abs(d.GPerML-c.want) > 1e-12 {
			t.Errorf("%s %q: got %v, %v, want %v, %v", c.id, c.grade, d.GPerML, err, c.want, c.err)
		}
	}
}

// numbersBySolvents counts how many of the 19 solvents have each property, so
// that no value is lost from the tables.
func TestEverySolventHasItsProperties(t *testing.T) {
	t.Parallel()
	b := Builtin()
	got := map[Property]int{}
	for _, m := range b.Materials(Filter{}) {
		if len(b.facts[factKey{m.ID, BoilingPoint}]) == 0 || m.Kind != Solvent {
			continue
		}
		for _, p := range b.Properties(m.ID) {
			if b.Property(m.ID, p, "").Preferred != nil {
				got[p]++
			}
		}
	}
	want := map[Property]int{
		CASNumber: 19, "ec-number": 19, Formula: 19, MolarMass: 19, DensityProperty: 19, DensitySlope: 19,
		BoilingPoint: 19, FlashPoint: 19, LowerExplosiveLimit: 19, UpperExplosiveLimit: 19, VapourPressure: 19,
		SaturatedVapour: 19, VapourDensity: 19, EvaporationRate: 19, Viscosity: 19, SurfaceTension: 19, RefractiveIndex: 19,
		TeasDispersion: 19, TeasPolar: 19, TeasHydrogen: 19, HansenDispersion: 19, HansenPolar: 19, HansenHydrogen: 19,
		VapourConversion: 19, UNNumber: 18, "transport-class": 18, "packing-group": 18, "melting-point": 17,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("solvents with a preferred value (-want +got):\n%s", diff)
	}
}

func TestSpotValues(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		id   string
		p    Property
		want string
		unit string
		by   Status
	}{
		{"acetone", BoilingPoint, "56.1", "Cel", Read},
		{"acetone", FlashPoint, "-20", "Cel", Read},
		{"acetone", VapourPressure, "24.71", "kPa", Computed},
		{"acetone", EvaporationRate, "5.6", "1", Read},
		{"acetone", HansenDispersion, "15.5", "{MPa^0.5}", Read},
		{"acetone", UNNumber, "UN1090", "", Read},
		{"acetone", TeasDispersion, "47.1", "%", Computed},
		{"ethanol", TeasDispersion, "36", "%", Read},
		{"ethanol", UpperExplosiveLimit, "19", "%", Read},
		{"water", FlashPoint, "none", "", Memory},
		{"water", RefractiveIndex, "1.33335", "1", Computed},
		{"water", Viscosity, "1.00160", "mPa.s", Computed},
		{"1-methoxy-2-propanol", EvaporationRate, "0.62", "1", Read},
		{"1-methoxy-2-propanol", DensityProperty, "0.922", "g/mL", Memory},
		{"m-xylene", EvaporationRate, "0.7", "1", Read},
		{"methanol", VapourConversion, "1.311", "mg/m3/[ppm]", Computed},
		{"toluene", VapourConversion, "3.77", "mg/m3/[ppm]", Read},
		{"n-heptane", LowerExplosiveLimit, "1.05", "%", Read},
		{"dichloromethane", FlashPoint, "none", "", Memory},
		{"dichloromethane", Formula, "CH2Cl2", "", Read},
		{"white-spirit-stoddard-solvent", "packing-group", "II or III", "", Read},
		{"ethyl-methacrylate-methyl-acrylate-copolymer", GlassTransition, "40", "Cel", Read},
		{"poly-isobutyl-methacrylate", GlassTransition, "48", "Cel", Read},
		{"hydroxypropylcellulose", "gelling", "40..45", "Cel", Memory},
		{"methylcellulose", "gelling", "50..75", "Cel", Read},
		{"poly-vinyl-butyral", BulkDensity, "0.22..0.25", "g/mL", Read},
	} {
		f := Builtin().Property(c.id, c.p, "").Preferred
		if f == nil || f.Value.Written != c.want || f.Unit != c.unit || f.Evidence.Status != c.by {
			t.Errorf("%s %s: got %+v, want %s %s, %s", c.id, c.p, f, c.want, c.unit, c.by)
		}
	}
}

func TestDisagreementsAreShown(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		id    string
		p     Property
		grade string
		want  []string
	}{
		{"poly-vinyl-butyral", GlassTransition, "", []string{"45..63"}},
		{"cellulose-nitrate", "service-life", "", []string{"6..20"}},
		{"ethyl-silicate", "water-repellent-period", "", []string{"2..4"}},
		{"ethyl-silicate", RefractiveIndex, "liquid", []string{"1.38"}},
		{"ethyl-acetate", EvaporationRate, "", []string{"2.8"}},
		{"acetone", EvaporationRate, "", []string{"7.7"}},
		{"acetone", UpperExplosiveLimit, "", []string{"14.3"}},
		{"toluene", LowerExplosiveLimit, "", []string{"1.4"}},
		{"n-butyl-acetate", VapourPressure, "", []string{"1.2453", "1.1701"}},
		{"cyclohexane", VapourPressure, "", []string{"12.67"}},
		{"acetone", BoilingPoint, "", nil},
		{"acetone", HansenPolar, "", nil},
		{"methanol", FlashPoint, "", []string{"9"}},
	} {
		var got []string
		for _, d := range Builtin().Property(c.id, c.p, c.grade).Disagreements() {
			got = append(got, d.Fact.Value.Written)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s %s (-want +got):\n%s", c.id, c.p, diff)
		}
	}
}

// Readers see citations: no text of the tables holds a key of the bibliography.
func TestNoTextHoldsAKey(t *testing.T) {
	t.Parallel()
	b := Builtin()
	var texts []string
	for _, rows := range b.facts {
		for _, f := range rows {
			texts = append(texts, f.Remark, f.Value.Written)
		}
	}
	for _, rows := range b.solubility {
		for _, r := range rows {
			texts = append(texts, r.Remark)
		}
	}
	for _, rows := range b.strengths {
		for _, r := range rows {
			texts = append(texts, r.Remark)
		}
	}
	for _, rows := range b.reversibility {
		for _, r := range rows {
			texts = append(texts, r.Reason)
		}
	}
	for _, rows := range b.ratings {
		for _, r := range rows {
			texts = append(texts, r.Remark, r.Printed)
		}
	}
	var keys []string
	for _, s := range b.Sources() {
		if strings.ContainsAny(s.Key, "0123456789") {
			keys = append(keys, regexp.QuoteMeta(s.Key))
		}
	}
	key := regexp.MustCompile(`\b(` + strings.Join(keys, "|") + `)\b`)
	for _, text := range texts {
		if found := key.FindString(text); found != "" {
			t.Errorf("%q holds the key %s", text, found)
		}
	}
	if len(texts) < 1500 {
		t.Errorf("looked at %d texts, want all", len(texts))
	}
}

// The Teas fractions of every material here sum to 100 %, as far as fractions in whole numbers do.
func TestTeasFractionsMakeAWhole(t *testing.T) {
	t.Parallel()
	b, with := Builtin(), 0
	for _, m := range b.Materials(Filter{}) {
		d, _, is := b.Figure(m.ID, TeasDispersion, AnyGrade)
		p, _, isToo := b.Figure(m.ID, TeasPolar, AnyGrade)
		h, _, andThis := b.Figure(m.ID, TeasHydrogen, AnyGrade)
		if is != isToo || is != andThis || is && math.Abs(d+p+h-100) > 1 {
			t.Errorf("%s: got %v, %v and %v", m.ID, d, p, h)
		}
		if is {
			with++
		}
	}
	if with < 15 {
		t.Errorf("%d materials have Teas fractions", with)
	}
}

// What is said of hazards is about the substance, and says each note of an entry once.
func TestNotesOfHazardsAreForReaders(t *testing.T) {
	t.Parallel()
	b := Builtin()
	ours := regexp.MustCompile(`(?i)re-?read|not read|\bwindow\b|not in the product|proposed id`)
	letter := regexp.MustCompile(`(?i)\bnote ([A-Z])\b.*harmonised entry`)
	for id, all := range b.hazards {
		seen := map[string]bool{}
		for _, h := range all {
			if ours.MatchString(h.Value + h.Remark) {
				t.Errorf("%s: %q %q speaks of how the table was made", id, h.Value, h.Remark)
			}
			if f := letter.FindStringSubmatch(h.Value); f != nil {
				if seen[f[1]] {
					t.Errorf("%s: note %s stands twice", id, f[1])
				}
				seen[f[1]] = true
			}
		}
	}
}

package material

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Errors of the lookups that need exactly one figure.
var (
	// ErrUnknownMaterial: no such id. Ask the caller to name a known one.
	ErrUnknownMaterial = errors.New("material is not known")
	// ErrNoValue: nothing is known of it. Say so; never put a figure in its place.
	ErrNoValue = errors.New("no value is known")
	// ErrGradeNeeded: the value depends on the grade. Ask which; the error text
	// names the grades.
	ErrGradeNeeded = errors.New("the value depends on the grade")
)

// referenceCel is the temperature of densities and volumes.
const referenceCel = 20

// Density is the density of a material at 20 Cel, with how well it is known.
type Density struct {
	// GPerML is the density in g/mL: the preferred figure, or the middle of its range.
	GPerML float64
	// HalfWidth in g/mL bounds it (rectangular): the widest of half the preferred
	// range, half a unit of the last written digit, and the distance to what other
	// sources say. Doubted values do not widen it.
	HalfWidth float64
	// Fact is the preferred value; its At is NaN when the source gives no temperature.
	Fact Fact
	// Others are the other values, at 20 Cel or elsewhere.
	Others []Fact
}

// Density gives the true density at 20 Cel. Errors: ErrUnknownMaterial,
// ErrNoValue, ErrGradeNeeded.
func (b *Base) Density(id, grade string) (Density, error) {
	if _, ok := b.materials[id]; !ok {
		return Density{}, fmt.Errorf("density of %q: %w", id, ErrUnknownMaterial)
	}
	f := b.Property(id, DensityProperty, grade)
	switch {
	case len(f.Grades) > 0:
		return Density{}, fmt.Errorf("density of %s: %w (%v)", id, ErrGradeNeeded, f.Grades)
	case f.Preferred == nil:
		return Density{}, fmt.Errorf("density of %s: %w", id, ErrNoValue)
	}
	mid, ok := f.Preferred.Value.Mid()
	if !ok {
		return Density{}, fmt.Errorf("density of %s: %w", id, ErrNoValue)
	}
	d := Density{GPerML: mid, HalfWidth: f.Preferred.Value.HalfWidth(), Fact: *f.Preferred}
	for _, x := range f.All {
		if x.Rank != Preferred || x.Grade != f.Preferred.Grade {
			d.Others = append(d.Others, x)
		}
	}
	for _, x := range f.All {
		d.HalfWidth = max(d.HalfWidth, mid*f.departure(x))
	}
	return d, nil
}

// departure gives how far another value lies from the preferred source, as a
// fraction: at the temperature of the other source, where the preferred source
// has a figure for it too.
func (f Facts) departure(x Fact) float64 {
	if x.Rank == Doubted {
		return 0
	}
	for _, y := range f.All {
		if y.Evidence.Source.Key == f.Preferred.Evidence.Source.Key && samePlace(x, y) && y.Value.Closed() &&
			x.Value.Closed() {
			middle, _ := y.Value.Mid()
			return max(math.Abs(x.Value.Low-middle), math.Abs(x.Value.High-middle)) / middle
		}
	}
	return 0
}

// Ratio is a density at a temperature as a fraction of that at 20 Cel.
type Ratio struct {
	Value float64
	// Extrapolated says that the temperature lies outside the range of the equation.
	Extrapolated bool
	// Evidence is where the equation or the slope was read.
	Evidence Evidence
}

// DensityRatio gives ρ(t)/ρ(20 Cel) of a solvent at t in Cel: from its density
// equation where there is one, else from the slope near 20 Cel,
//
//	ρ(t)/ρ(20) = 1 + s (t − 20)/ρ(20),   s in g/mL/K,
//
// which holds between 0 and 40 Cel. The equations are biased by up to 0.2 % in
// the density itself, so they serve for the ratio only. ErrNoValue when neither
// is known (solids: their change is far below other uncertainties).
func (b *Base) DensityRatio(id string, celsius float64) (Ratio, error) {
	id = b.behavesAs(id)
	i := slices.IndexFunc(b.densities, func(c densityCurve) bool { return c.material == id })
	if i >= 0 {
		c := b.densities[i]
		return Ratio{
			Value: c.at(celsius) / c.at(referenceCel), Evidence: c.evidence,
			Extrapolated: celsius < c.low || celsius > c.high,
		}, nil
	}
	slope, f, ok := b.Figure(id, DensitySlope, AnyGrade)
	rho, _, known := b.Figure(id, DensityProperty, AnyGrade)
	if !ok || !known {
		return Ratio{}, fmt.Errorf("density of %s against temperature: %w", id, ErrNoValue)
	}
	return Ratio{
		Value: 1 + slope*(celsius-referenceCel)/rho, Evidence: f.Evidence,
		Extrapolated: celsius < 0 || celsius > 40,
	}, nil
}

// densityCurve is one equation of density against temperature.
type densityCurve struct {
	material, form string
	c              [6]float64
	low, high      float64 // Cel
	evidence       Evidence
}

var densityForms = wordSet("dippr-105", "vdi", "tanaka")

// at gives the density in kg/m3 at t in Cel. With T = t + 273.15 in K:
//
//	dippr-105: ρ = M C1 / C2^(1 + (1 − T/C3)^C4), C1 in kmol/m3, M in g/mol
//	vdi:       ρ = ρc + A s^0.35 + B s^(2/3) + C s + D s^(4/3), s = 1 − T/Tc
//	tanaka:    ρ = a5 [1 − (t + a1)² (t + a2) / (a3 (t + a4))], water without air at 101.325 kPa
//
// Sources: Perry's Handbook, 8th edition, table 2-32; VDI Heat Atlas, PPDS;
// Tanaka and others, Metrologia 38, 2001. Ranges stand in the table.
func (d densityCurve) at(t float64) float64 {
	c, kelvin := d.c, t+273.15
	switch d.form {
	case "dippr-105":
		return c[4] * c[0] / math.Pow(c[1], 1+math.Pow(1-kelvin/c[2], c[3]))
	case "vdi":
		s := 1 - kelvin/c[0]
		return c[1] + c[2]*math.Pow(s, 0.35) + c[3]*math.Pow(s, 2.0/3) + c[4]*s + c[5]*math.Pow(s, 4.0/3)
	default:
		return c[0] * (1 - (t-c[1])*(t-c[1])*(t+c[2])/(c[3]*(t+c[4])))
	}
}

func readDensityCurves(b *Base, r *reader) {
	r.table("density-curves.tsv", "material form c1 c2 c3 c4 c5 c6 low high remark source status", func(w row) {
		d := densityCurve{
			material: w.material(b, "material"), form: string(word(w, "form", densityForms)),
			low: w.number("low"), high: w.number("high"), evidence: w.evidence(),
		}
		for i, column := range []string{"c1", "c2", "c3", "c4", "c5"} {
			d.c[i] = w.number(column)
		}
		if d.form == "vdi" {
			d.c[5] = w.number("c6")
		}
		b.densities = append(b.densities, d)
	})
}

package substance

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

const copolymer = "ethyl-methacrylate-methyl-acrylate-copolymer"

func solvent(t *testing.T, l *Lookup, id string) material.Material {
	t.Helper()
	m, known := l.Solvent("/at", id)
	if !known {
		t.Fatalf("%s: got %v", id, l.Faults)
	}
	return m
}

func TestSolventsAlone(t *testing.T) {
	t.Parallel()
	for id, code := range map[string]string{
		"no-such-thing": "material-unknown", "shellac": "not-a-solvent", "toluene": "",
	} {
		l := lookup()
		_, known := l.Solvent("/at", id)
		got := ""
		for _, f := range l.Faults {
			got += f.Code + f.Pointer
		}
		if known != (code == "") || !known && got != code+"/at" {
			t.Errorf("%s: got %v, %v, want %q", id, known, l.Faults, code)
		}
	}
}

// A mixture whose parts are known counts as its parts, and each solvent once.
func TestMixturesCountAsTheirParts(t *testing.T) {
	t.Parallel()
	l := lookup()
	var ids []string
	for _, m := range l.SolventsWithParts("/solvents", []string{"acetone-ethanol-mixture", "toluene", "acetone"}) {
		ids = append(ids, m.ID)
	}
	slices.Sort(ids)
	if strings.Join(ids, " ") != "acetone ethanol toluene" || len(l.Faults) > 0 {
		t.Errorf("got %v, %v", ids, l.Faults)
	}
	if l.SolventsWithParts("/solvents", []string{"toluene", "shellac"}); l.Faults[0].Pointer != "/solvents/1" {
		t.Errorf("got %v, want the second", l.Faults)
	}
}

// Toluene: flash point 4 Cel and lower explosive limit 1.1 % (NFPA 497), boiling point
// 110.6 Cel (CRC Handbook), molar mass 92.141 (IUPAC); NIOSH 100 ppm over a day and
// 150 ppm for a short time, OSHA 200 ppm and a ceiling of 300 ppm (NIOSH Pocket Guide).
func TestEvaporating(t *testing.T) {
	t.Parallel()
	l := lookup()
	e := l.Evaporating("/at", solvent(t, l, "toluene"))
	if len(l.Faults) > 0 || *e.Flash != 4 || *e.LowerExplosive != 1.1 || *e.Boils != 110.6 || e.MolarMass != 92.141 {
		t.Errorf("got %+v, %v", e, l.Faults)
	}
	if kPa, known := e.Pressure.Equation(25); !known || math.Abs(kPa-3.79) > 0.03 { // common practice
		t.Errorf("vapour pressure at 25 Cel: got %v kPa, %v, want 3.79", kPa, known)
	}
	for _, want := range []solution.ExposureLimit{
		{List: "NIOSH recommended limit (US)", Kind: solution.WorkingDay, PPM: 100},
		{List: "NIOSH recommended limit (US)", Kind: solution.ShortTerm, PPM: 150},
		{List: "OSHA permissible limit (US)", Kind: solution.WorkingDay, PPM: 200},
		{List: "OSHA permissible limit (US)", Kind: solution.Ceiling, PPM: 300},
	} {
		if got := limitOf(e, want.List, want.Kind); math.Abs(got-want.PPM) > 1e-9 {
			t.Errorf("%s, %s: got %v ppm, want %v", want.List, want.Kind, got, want.PPM)
		}
	}
	if e.Carcinogen || !l.Evaporating("/at", solvent(t, l, "dichloromethane")).Carcinogen {
		t.Error("dichloromethane is suspected of causing cancer (H351), and toluene is not")
	}
}

func limitOf(e solution.Evaporating, list string, kind solution.LimitKind) float64 {
	for _, l := range e.Limits {
		if l.List == list && l.Kind == kind {
			return l.PPM
		}
	}
	return 0
}

// For white spirit NIOSH prints 350 mg/m3 alone, and a ceiling of 15 minutes; 24.45 L
// of air hold a mole. OSHA prints ppm, and the lowest is kept.
func TestLimitsThatAreConverted(t *testing.T) {
	t.Parallel()
	l := lookup()
	e := l.Evaporating("/at", solvent(t, l, "white-spirit-stoddard-solvent"))
	for _, want := range []solution.ExposureLimit{
		{List: "NIOSH recommended limit (US)", Kind: solution.WorkingDay, PPM: 350 * 24.45 / 144},
		{List: "NIOSH recommended limit (US)", Kind: solution.ShortTerm, PPM: 1800 * 24.45 / 144},
		{List: "OSHA permissible limit (US)", Kind: solution.WorkingDay, PPM: 200},
	} {
		if got := limitOf(e, want.List, want.Kind); math.Abs(got-want.PPM) > 0.01 {
			t.Errorf("%s, %s: got %v ppm, want %v", want.List, want.Kind, got, want.PPM)
		}
	}
}

// A spirit leaves as ethanol and water: 100 g of 96 % by volume hold 93.83839 g of
// ethanol (OIML R 22), and 100 mL weigh 80.74 g.
func TestASpiritLeavesAsItsParts(t *testing.T) {
	t.Parallel()
	l := lookup()
	spirit := solvent(t, l, "ethanol-96")
	for unit, whole := range map[quantity.Unit]float64{quantity.Gram: 100, quantity.Millilitre: 80.74} {
		shares := l.VapourShares("/at", spirit, of(t, "100", unit))
		if len(shares) != 2 || shares[0].Solvent.Name != "ethanol" {
			t.Fatalf("got %v, %v, want ethanol and water", shares, l.Faults)
		}
		ethanol, water := shares[0].Amount.Value.Float64(), shares[1].Amount.Value.Float64()
		in := shares[0].Amount.Unit
		if math.Abs(ethanol-0.9383839*whole) > 0.01 || math.Abs(ethanol+water-whole) > 0.01 || in != quantity.Gram {
			t.Errorf("100 %s: got %v g of ethanol and %v g of water, of %v g", unit, ethanol, water, whole)
		}
	}
	if one := l.VapourShares("/at", solvent(t, l, "acetone"), of(t, "100", quantity.Gram)); len(one) != 1 {
		t.Errorf("acetone: got %v, want itself", one)
	}
}

// Acetone has the Hansen parameters 15.5, 10.4 and 7.0; Teas fractions are their shares.
func TestBlendSolvent(t *testing.T) {
	t.Parallel()
	l := lookup()
	s := l.BlendSolvent(solvent(t, l, "acetone"))
	if s.Hansen == nil || s.Hansen.Dispersion != 15.5 || s.Hansen.Polar != 10.4 || s.Hansen.Hydrogen != 7 {
		t.Fatalf("got %+v", s.Hansen)
	}
	const sum = 15.5 + 10.4 + 7
	for got, part := range map[float64]float64{s.Teas.Dispersion: 15.5, s.Teas.Polar: 10.4, s.Teas.Hydrogen: 7} {
		if math.Abs(got-100*part/sum) > 0.06 {
			t.Errorf("Teas: got %v, want %v", got, 100*part/sum)
		}
	}
	if len(s.Cautions) > 0 || s.Signal != "Danger" || !slices.Contains(s.Symbols, "GHS02") || len(s.Hazards) == 0 {
		t.Errorf("label: got %v, %q, %v, %v", s.Cautions, s.Signal, s.Symbols, s.Hazards)
	}
}

func TestSolventPair(t *testing.T) {
	t.Parallel()
	l := lookup()
	water, heptane, acetone := solvent(t, l, "water"), solvent(t, l, "n-heptane"), solvent(t, l, "acetone")
	if p := l.SolventPair(water, heptane); p.Mixing != solution.Mixing(material.Immiscible) || p.Source.Citation == "" {
		t.Errorf("water and n-heptane: got %+v, want that they do not mix, and who says so", p)
	}
	if p := l.SolventPair(acetone, water); p.Shrinks == "" || p.ShrinksSource.Citation == "" {
		t.Errorf("acetone and water: got %+v, want that they shrink", p)
	}
	if p := l.SolventPair(acetone, solvent(t, l, "ethanol")); p.Shrinks != "" {
		t.Errorf("acetone and ethanol: got %q, which no jug shows", p.Shrinks)
	}
}

// The supplier of the copolymer says that it dissolves in acetone and in toluene.
func TestResinEvidence(t *testing.T) {
	t.Parallel()
	l := lookup()
	acetone, ethanol := solvent(t, l, "acetone"), solvent(t, l, "ethanol")
	e := l.ResinEvidence("/resin", copolymer, "", material.AnyAge, []material.Material{acetone, ethanol})
	if len(l.Faults) > 0 || len(e.Observations) < 3 {
		t.Fatalf("got %+v, %v", e, l.Faults)
	}
	// What was seen in a mixture of just these comes first.
	if first := e.Observations[0]; first.Solvent != "acetone with some ethanol" || first.Source.Citation == "" {
		t.Errorf("first: got %+v", first)
	}
	if !slices.ContainsFunc(e.Observations, func(o solution.Observation) bool {
		return o.Solvent == "acetone" && o.Observed == string(material.DissolvesIt)
	}) {
		t.Errorf("got %+v, want that it dissolves in acetone", e.Observations)
	}
	alone := l.ResinEvidence("/resin", copolymer, "", material.AnyAge, []material.Material{acetone})
	if first := alone.Observations[0]; first.Solvent != "acetone" {
		t.Errorf("in acetone alone: got %+v first", first)
	}
	none := l.ResinEvidence("/resin", copolymer, "no such grade", material.AnyAge, []material.Material{acetone})
	if len(none.Observations) > 0 {
		t.Errorf("a grade that is none: got %v", none.Observations)
	}
	if l.ResinEvidence("/resin", "no-such-resin", "", material.AnyAge, nil); l.Faults[0].Pointer != "/resin/material" {
		t.Errorf("got %v", l.Faults)
	}
	seen := l.Observed(copolymer, "", []string{"toluene", "no-such-thing"})
	if len(seen) != 1 || seen[0].Solvent != "toluene" || seen[0].Observed != string(material.DissolvesIt) {
		t.Errorf("got %+v, want what was seen in toluene", seen)
	}
}

func TestContainerPart(t *testing.T) {
	t.Parallel()
	l := lookup()
	acetone := []material.Material{solvent(t, l, "acetone")}
	byID := l.ContainerPart("/body", solution.Body, "aluminium", "", acetone)
	if len(byID.Candidates) != 1 || byID.Said != byID.Candidates[0].Name || len(byID.Candidates[0].Ratings) == 0 {
		t.Errorf("by its id: got %+v", byID)
	}
	// The chart on the corrosion of aluminium names acetone.
	r := byID.Candidates[0].Ratings[0]
	if r.Solvent != "acetone" || r.Verdict != solution.Satisfactory || r.Known != solution.ReadNamed {
		t.Errorf("aluminium and acetone: got %+v", r)
	}
	byCode := l.ContainerPart("/liner", solution.Liner, "", "7", acetone)
	if len(byCode.Candidates) < 2 || !strings.HasSuffix(byCode.Said, "code 7") ||
		!strings.HasPrefix(byCode.Note, "Code 7: ") {
		t.Errorf("by its code: got %+v", byCode)
	}
	if len(l.Faults) > 0 {
		t.Errorf("got %v", l.Faults)
	}
	l.ContainerPart("/closure", solution.Closure, "no-such-thing", "", acetone)
	if len(l.Faults) != 1 || l.Faults[0].Pointer != "/closure" {
		t.Errorf("got %v, want one at the closure", l.Faults)
	}
}

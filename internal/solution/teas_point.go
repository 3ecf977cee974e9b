package solution

import "math"

// Teas are the fractional solubility parameters of a solvent, in per cent of
// their sum: dispersion, polar, hydrogen bonding. Source of the definition: Burke,
// Solubility Parameters, AIC Book and Paper Group Annual 3, 1984, part 7 (read):
// the three Hansen parameters each as a share of their sum, after Teas 1968, on
// the assumption that all materials have the same total.
type Teas struct {
	Dispersion, Polar, Hydrogen float64 // %
	Source                      Source
}

// Hansen are the three parts of the solubility parameter, MPa^0.5.
type Hansen struct {
	Dispersion, Polar, Hydrogen float64
	Source                      Source
}

// Sphere is the Hansen sphere of a resin: its centre, and the radius R₀ inside
// which solvents are predicted to dissolve it, MPa^0.5.
type Sphere struct {
	Hansen
	Radius float64
}

// distance is Ra, MPa^0.5:
//
//	Ra² = 4 (δD₁ - δD₂)² + (δP₁ - δP₂)² + (δH₁ - δH₂)²
//
// Source: a lexicon page on Hansen solubility parameters (read).
func (h Hansen) distance(g Hansen) float64 {
	d, p, b := h.Dispersion-g.Dispersion, h.Polar-g.Polar, h.Hydrogen-g.Hydrogen
	return math.Sqrt(4*d*d + p*p + b*b)
}

// weakest is the status of a figure computed from several.
func weakest(sources []Source) Status {
	worst := Computed
	for _, s := range sources {
		if worst.Better(s.Status) {
			worst = s.Status
		}
	}
	return worst
}

// teas averages the fractions by volume, as the triangle is used; nil where a
// solvent has none. Source: blend numbers of a conservation mailing list, 1989,
// which average by volume.
func (m blend) teas() *Teas {
	byVolume, _ := m.fractions(m.values())
	if byVolume == nil {
		return nil
	}
	var t Teas
	var sources []Source
	for i, s := range m.solvents {
		if s.Teas == nil {
			return nil
		}
		t.Dispersion += byVolume[i] * s.Teas.Dispersion
		t.Polar += byVolume[i] * s.Teas.Polar
		t.Hydrogen += byVolume[i] * s.Teas.Hydrogen
		sources = append(sources, s.Teas.Source)
	}
	t.Source = Cited("teas-average", weakest(sources))
	return &t
}

// hansen averages the three parameters by volume; nil where a solvent has none.
func (m blend) hansen() *Hansen {
	byVolume, _ := m.fractions(m.values())
	if byVolume == nil {
		return nil
	}
	var h Hansen
	var sources []Source
	for i, s := range m.solvents {
		if s.Hansen == nil {
			return nil
		}
		h.Dispersion += byVolume[i] * s.Hansen.Dispersion
		h.Polar += byVolume[i] * s.Hansen.Polar
		h.Hydrogen += byVolume[i] * s.Hansen.Hydrogen
		sources = append(sources, s.Hansen.Source)
	}
	h.Source = Cited("hansen-average", weakest(sources))
	return &h
}

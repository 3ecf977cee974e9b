package substance

import (
	"math"
	"strings"

	"meniscus/internal/material"
	"meniscus/internal/solution"
)

// BlendSolvent gives what is known of a solvent by itself.
func (l *Lookup) BlendSolvent(m material.Material) solution.BlendSolvent {
	s := solution.BlendSolvent{Name: m.Name}
	if c, known := l.Known("", m.ID, "", false); known {
		s.Density, s.Ethanol = c.Density, c.Ethanol
	}
	s.Teas, s.Hansen = l.teas(m.ID), l.hansen(m.ID)
	for _, f := range l.Base.Property(m.ID, material.EvaporationRate, material.AnyGrade).All {
		if v, closed := f.Value.Mid(); closed && f.Rank != material.Doubted {
			s.Rates = append(s.Rates, solution.EvaporationRate{Value: v, Source: Cited(f.Evidence)})
		}
	}
	for _, id := range l.Base.ClassifiedBy(m.ID) {
		l.label(&s, id)
	}
	s.Cautions = l.beyondLabel(m, solution.Liquid)
	return s
}

// label adds what the label of a material says to that of a solvent.
func (l *Lookup) label(s *solution.BlendSolvent, id string) {
	for _, h := range l.Base.Hazards(id) {
		switch {
		case !h.OnLabel:
		case h.Kind == material.HazardStatement:
			if st, known := l.Base.Statement(h.Value); known {
				line := solution.HazardLine{Code: h.Value, Text: st.Text(), Source: Cited(h.Evidence)}
				s.Hazards = append(s.Hazards, line)
			}
		case h.Kind == material.Pictogram:
			s.Symbols = append(s.Symbols, h.Value)
		case h.Kind == material.SignalWord && (h.Value == "Danger" || s.Signal == ""):
			s.Signal = h.Value
		}
	}
}

func (l *Lookup) teas(id string) *solution.Teas {
	v, source, known := l.properties(id, material.TeasDispersion, material.TeasPolar, material.TeasHydrogen)
	if !known {
		return nil
	}
	return &solution.Teas{Dispersion: v[0], Polar: v[1], Hydrogen: v[2], Source: source}
}

func (l *Lookup) hansen(id string) *solution.Hansen {
	v, source, known := l.properties(id, material.HansenDispersion, material.HansenPolar, material.HansenHydrogen)
	if !known {
		return nil
	}
	return &solution.Hansen{Dispersion: v[0], Polar: v[1], Hydrogen: v[2], Source: source}
}

// properties gives the figures of properties that are of use only together, and where
// the first was read.
func (l *Lookup) properties(id string, all ...material.Property) ([]float64, solution.Source, bool) {
	var sources []solution.Source
	var figures []float64
	for _, p := range all {
		v := l.property(id, p, &sources)
		if v == nil {
			return nil, solution.Source{}, false
		}
		figures = append(figures, *v)
	}
	return figures, sources[0], true
}

// negligible is a departure from additive volumes, %, that is too small to
// measure with a jug.
const negligible = 0.3

// SolventPair gives what is known of two solvents together.
func (l *Lookup) SolventPair(x, y material.Material) solution.SolventPair {
	m := l.Base.Miscibility(x.ID, y.ID)
	p := solution.SolventPair{A: x.Name, B: y.Name, Mixing: solution.Mixing(m.Verdict), Remark: m.Remark}
	if m.Verdict != material.MixesUnknown {
		p.Source = Cited(m.Evidence)
	}
	var sizes []string
	for _, c := range l.Base.Contractions(x.ID, y.ID) {
		if math.Max(math.Abs(c.Change.Low), math.Abs(c.Change.High)) < negligible {
			continue
		}
		sizes = append(sizes, strings.ReplaceAll(c.Change.Written, "..", " to ")+" % ("+c.Condition+")")
		p.ShrinksSource = Cited(c.Evidence)
	}
	p.Shrinks = strings.Join(sizes, ", ")
	return p
}

package httpapi

import (
	"math"
	"slices"
	"strings"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// solventBlend finds what is known of the solvents of a blend, of each two of
// them, and of a resin in them.
func (a *asking) solventBlend(request api.SolventBlendRequest) solution.SolventBlend {
	q := solution.SolventBlend{
		ByMass: request.By == "mass", Amount: a.quantity("/amount", request.Amount), Instruments: a.instruments("/instruments", request.Instruments),
	}
	var found []material.Material
	for i, s := range request.Solvents {
		at := item("/solvents", i)
		fraction := a.quantity(at+"/fraction", &s.Fraction)
		if m, known := a.pureSolvent(at+"/material", s.Material); known {
			found = append(found, m)
			q.Shares = append(q.Shares, solution.BlendShare{Solvent: a.blendSolvent(m), Fraction: fraction})
		}
	}
	for i, y := range found {
		for _, x := range found[:i] {
			q.Pairs = append(q.Pairs, a.solventPair(x, y))
		}
	}
	if request.Resin != nil {
		q.Resin = a.resinEvidence(*request.Resin, found)
	}
	return q
}

func (a *asking) blendSolvent(m material.Material) solution.BlendSolvent {
	s := solution.BlendSolvent{Name: m.Name, NotRated: true}
	if c, known := a.Known("", m.ID, "", false); known {
		s.Density, s.Ethanol = c.Density, c.Ethanol
	}
	s.Teas, s.Hansen = a.teas(m.ID), a.hansen(m.ID)
	for _, f := range a.Base.Property(m.ID, material.EvaporationRate, material.AnyGrade).All {
		if v, closed := f.Value.Mid(); closed && f.Rank != material.Doubted {
			s.Rates = append(s.Rates, solution.EvaporationRate{Value: v, Source: substance.Cited(f.Evidence)})
		}
	}
	for _, h := range a.Base.Hazards(m.ID) {
		s.NotRated = false
		switch h.Kind {
		case material.HazardStatement:
			if st, known := a.Base.Statement(h.Value); known {
				s.Hazards = append(s.Hazards, solution.HazardLine{Code: h.Value, Text: st.Text(), Source: substance.Cited(h.Evidence)})
			}
		case material.Pictogram:
			s.Symbols = append(s.Symbols, h.Value)
		case material.SignalWord:
			s.Signal = h.Value
		}
	}
	return s
}

func (a *asking) teas(id string) *solution.Teas {
	var sources []solution.Source
	d, p, h := a.property(id, material.TeasDispersion, &sources), a.property(id, material.TeasPolar, &sources), a.property(id, material.TeasHydrogen, &sources)
	if d == nil || p == nil || h == nil {
		return nil
	}
	return &solution.Teas{Dispersion: *d, Polar: *p, Hydrogen: *h, Source: sources[0]}
}

func (a *asking) hansen(id string) *solution.Hansen {
	var sources []solution.Source
	d, p, h := a.property(id, material.HansenDispersion, &sources), a.property(id, material.HansenPolar, &sources), a.property(id, material.HansenHydrogen, &sources)
	if d == nil || p == nil || h == nil {
		return nil
	}
	return &solution.Hansen{Dispersion: *d, Polar: *p, Hydrogen: *h, Source: sources[0]}
}

// negligible is a departure from additive volumes, %, that no jug shows.
const negligible = 0.3

// solventPair gives what is known of two solvents together.
func (a *asking) solventPair(x, y material.Material) solution.SolventPair {
	m := a.Base.Miscibility(x.ID, y.ID)
	p := solution.SolventPair{A: x.Name, B: y.Name, Mixing: solution.Mixing(m.Verdict), Remark: m.Remark}
	if m.Verdict != material.MixesUnknown {
		p.Source = substance.Cited(m.Evidence)
	}
	var sizes []string
	for _, c := range a.Base.Contractions(x.ID, y.ID) {
		if math.Max(math.Abs(c.Change.Low), math.Abs(c.Change.High)) < negligible {
			continue
		}
		sizes = append(sizes, strings.ReplaceAll(c.Change.Written, "..", " to ")+" % ("+c.Condition+")")
		p.ShrinksSource = substance.Cited(c.Evidence)
	}
	p.Shrinks = strings.Join(sizes, ", ")
	return p
}

// resinEvidence gathers what was observed of a resin in the solvents and in
// mixtures of just these, and its Hansen sphere.
func (a *asking) resinEvidence(asked api.BlendResin, solvents []material.Material) *solution.ResinEvidence {
	m, known := a.Base.Material(asked.Material)
	if !known {
		a.Faults.Add("material-unknown", "/resin/material", "No material with this id is known here; /v1/materials lists them, and with a key the institution's own too.")
		return nil
	}
	e := &solution.ResinEvidence{Name: m.Name}
	for _, g := range m.Grades {
		e.Grades = append(e.Grades, g.Name)
	}
	age := material.AnyAge
	if asked.Age != nil {
		age = material.Age(*asked.Age)
	}
	if asked.Grade != nil {
		e.Grade = *asked.Grade
	}
	if e.Grade == "" || e.Grade == material.AnyGrade || slices.Contains(e.Grades, e.Grade) {
		e.Observations = a.observations(m.ID, e.Grade, age, solvents)
	}
	e.Sphere, e.SphereNote = a.sphere(m, e.Grade)
	return e
}

// observations lists those on mixtures of just these solvents first, then those on
// each solvent.
func (a *asking) observations(resin, grade string, age material.Age, solvents []material.Material) []solution.Observation {
	var list []solution.Observation
	add := func(solvent material.Material) {
		s := a.Base.Solubility(resin, grade, solvent.ID, age)
		for _, row := range append(s.Rows, s.Others...) {
			of, _ := a.Base.Material(row.Solvent)
			o := solution.Observation{
				Solvent: of.Name, Grade: gradeOf(row), Age: string(row.Age), Observed: string(row.Observed),
				Remark: row.Remark, ByClass: row.Solvent != solvent.ID || row.Material != resin, Source: substance.Cited(row.Evidence),
			}
			if !slices.Contains(list, o) {
				list = append(list, o)
			}
		}
	}
	for _, mixture := range a.Base.Materials(material.Filter{Kinds: []material.Kind{material.SolventMixture}}) {
		if madeOf(mixture, solvents) {
			add(mixture)
		}
	}
	for _, s := range solvents {
		add(s)
	}
	return list
}

// gradeOf gives the grade that an observation is limited to, or "".
func gradeOf(row material.SolubilityRow) string {
	if row.Grade == material.AnyGrade {
		return ""
	}
	return row.Grade
}

// madeOf tells whether a mixture is made of just these solvents, in whatever proportion.
func madeOf(mixture material.Material, solvents []material.Material) bool {
	if len(solvents) < 2 || len(mixture.Components) != len(solvents) {
		return false
	}
	for _, s := range solvents {
		if !slices.ContainsFunc(mixture.Components, func(c material.Component) bool { return c.Material == s.ID }) {
			return false
		}
	}
	return true
}

// sphere gives the Hansen sphere of a resin, or of the main polymer that it is made
// of, and what that is worth.
func (a *asking) sphere(m material.Material, grade string) (*solution.Sphere, string) {
	if s, note := a.sphereOf(m.ID, grade); s != nil {
		if note != "" {
			note = "Of this sphere: " + note + "."
		}
		return s, note
	}
	for _, part := range m.Components {
		if s, note := a.sphereOf(part.Material, ""); s != nil {
			p, _ := a.Base.Material(part.Material)
			return s, "The sphere is that of " + p.Name + ", of which it is made in part: " + note + "."
		}
	}
	return nil, ""
}

func (a *asking) sphereOf(id, grade string) (*solution.Sphere, string) {
	var v [4]float64
	var note string
	var source solution.Source
	for i, p := range []material.Property{material.HansenDispersion, material.HansenPolar, material.HansenHydrogen, material.HansenRadius} {
		x, fact, found := a.Base.Figure(id, p, grade)
		if !found {
			return nil, ""
		}
		v[i], note, source = x, fact.Remark, substance.Cited(fact.Evidence)
	}
	return &solution.Sphere{Hansen: solution.Hansen{Dispersion: v[0], Polar: v[1], Hydrogen: v[2], Source: source}, Radius: v[3]}, note
}

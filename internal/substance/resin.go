package substance

import (
	"slices"

	"meniscus/internal/material"
	"meniscus/internal/solution"
)

// Observed gives what was seen of a fresh resin in each liquid by itself; what is
// not known here is left out.
func (l *Lookup) Observed(resin, grade string, liquids []string) []solution.Observation {
	var all []solution.Observation
	for _, id := range liquids {
		m, known := l.Base.Material(id)
		if !known {
			continue
		}
		s := l.Base.Solubility(resin, grade, id, material.Fresh)
		o := solution.Observation{Solvent: m.Name, Grade: grade, Observed: string(s.Observed)}
		if len(s.Rows) > 0 {
			o.Source = Cited(s.Rows[0].Evidence)
		}
		all = append(all, o)
	}
	return all
}

// ResinEvidence gathers what was observed of a resin in the solvents and in
// mixtures of just these, and its Hansen sphere.
func (l *Lookup) ResinEvidence(
	at, id, grade string, age material.Age, solvents []material.Material,
) *solution.ResinEvidence {
	m, known := l.Base.Material(id)
	if !known {
		l.Faults.Add("material-unknown", at+"/material", "No material with this id is known here; "+
			"/v1/materials lists them, and with a key the institution's own too.")
		return nil
	}
	e := &solution.ResinEvidence{Name: m.Name, Grade: grade}
	for _, g := range m.Grades {
		e.Grades = append(e.Grades, g.Name)
	}
	if grade == "" || grade == material.AnyGrade || slices.Contains(e.Grades, grade) {
		e.Observations = l.observations(m.ID, grade, age, solvents)
	}
	e.Sphere, e.SphereNote = l.sphere(m, grade)
	return e
}

// observations lists those on mixtures of just these solvents first, then those on
// each solvent.
func (l *Lookup) observations(
	resin, grade string, age material.Age, solvents []material.Material,
) []solution.Observation {
	var list []solution.Observation
	add := func(solvent material.Material) {
		s := l.Base.Solubility(resin, grade, solvent.ID, age)
		for _, row := range append(s.Rows, s.Others...) {
			of, _ := l.Base.Material(row.Solvent)
			o := solution.Observation{
				Solvent: of.Name, Grade: gradeOf(row), Age: string(row.Age), Observed: string(row.Observed),
				Remark: row.Remark, ByClass: row.Solvent != solvent.ID || row.Material != resin,
				Source: Cited(row.Evidence),
			}
			if !slices.Contains(list, o) {
				list = append(list, o)
			}
		}
	}
	for _, mixture := range l.Base.Materials(material.Filter{Kinds: []material.Kind{material.SolventMixture}}) {
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
// of, and how reliable that is.
func (l *Lookup) sphere(m material.Material, grade string) (*solution.Sphere, string) {
	if s, note := l.sphereOf(m.ID, grade); s != nil {
		if note != "" {
			note = "Of this sphere: " + note + "."
		}
		return s, note
	}
	for _, part := range m.Components {
		if s, note := l.sphereOf(part.Material, ""); s != nil {
			p, _ := l.Base.Material(part.Material)
			return s, "The sphere is that of " + p.Name + ", of which it is made in part: " + note + "."
		}
	}
	return nil, ""
}

func (l *Lookup) sphereOf(id, grade string) (*solution.Sphere, string) {
	var v [4]float64
	var note string
	var source solution.Source
	for i, p := range []material.Property{
		material.HansenDispersion, material.HansenPolar, material.HansenHydrogen, material.HansenRadius,
	} {
		x, fact, found := l.Base.Figure(id, p, grade)
		if !found {
			return nil, ""
		}
		v[i], note, source = x, fact.Remark, Cited(fact.Evidence)
	}
	hansen := solution.Hansen{Dispersion: v[0], Polar: v[1], Hydrogen: v[2], Source: source}
	return &solution.Sphere{Hansen: hansen, Radius: v[3]}, note
}

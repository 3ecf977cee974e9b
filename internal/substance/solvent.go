package substance

import (
	"strconv"

	"meniscus/internal/material"
	"meniscus/internal/solution"
)

// Solvent finds a solvent by its id.
func (l *Lookup) Solvent(pointer, id string) (material.Material, bool) {
	m, known := l.Base.Material(id)
	switch {
	case !known:
		l.Faults.Add("material-unknown", pointer, "No material with this id is known here; "+
			"/v1/materials?kind=solvent lists the solvents, and with a key the institution's own too.")
	case m.Kind.Mixing() == material.Liquid:
		l.Named = append(l.Named, id)
	default:
		l.Faults.Add("not-a-solvent", pointer, "This material is no solvent, and what is dissolved in one is left out here: "+
			"/v1/materials?kind=solvent lists the solvents.")
		known = false
	}
	return m, known
}

// property gives the figure of a property of a material, and adds where it was read
// to the sources.
func (l *Lookup) property(id string, p material.Property, sources *[]solution.Source) *float64 {
	v, fact, found := l.Base.Figure(id, p, material.AnyGrade)
	if !found {
		return nil
	}
	*sources = append(*sources, Cited(fact.Evidence))
	return &v
}

// SolventsWithParts finds the solvents that are listed below a place; a mixture whose parts are known counts as
// its parts, for how the container resists each.
func (l *Lookup) SolventsWithParts(at string, ids []string) []material.Material {
	var list []material.Material
	seen := map[string]bool{}
	add := func(m material.Material) {
		if !seen[m.ID] {
			seen[m.ID] = true
			list = append(list, m)
		}
	}
	for i, id := range ids {
		m, known := l.Solvent(at+"/"+strconv.Itoa(i), id)
		if !known {
			continue
		}
		parts := 0
		for _, part := range m.Components {
			p, known := l.Base.Material(part.Material)
			if known && p.Kind == material.Solvent && m.Kind == material.SolventMixture {
				add(p)
				parts++
			}
		}
		if parts == 0 {
			add(m)
		}
	}
	return list
}

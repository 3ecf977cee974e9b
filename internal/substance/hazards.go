package substance

import (
	"strings"

	"meniscus/internal/material"
	"meniscus/internal/solution"
)

// unknownHazards says that the hazards are unknown, not that there are none.
func unknownHazards(name string) solution.Caution {
	return solution.Caution{Sentence: material.UnknownHazards(name),
		Source: solution.Cited("hazards-not-held", solution.CommonPractice)}
}

// CautionsOf are what is known of the hazards of a substance in water by its id, or that they are not known.
func (l *Lookup) CautionsOf(id string) []solution.Caution {
	if m, known := l.Base.Material(id); known {
		return l.cautions(m, solution.Liquid)
	}
	return []solution.Caution{unknownHazards(strings.ReplaceAll(id, "-", " "))}
}

// cautions are what is known of the hazards of a material: the statements of its label
// word for word, what goes beyond them, or that the hazards of a liquid are not known.
func (l *Lookup) cautions(m material.Material, phase solution.Phase) []solution.Caution {
	var out []solution.Caution
	for _, id := range l.Base.ClassifiedBy(m.ID) {
		part := l.speaking(m, id)
		out = append(out, l.told(id, material.HazardStatement, "On the label of "+part.Name+", at least: ")...)
	}
	return append(out, l.beyondLabel(m, phase)...)
}

// beyondLabel is what is to be known of a material beside the statements of its
// harmonised label: what suppliers add, what disagrees with it, notes.
func (l *Lookup) beyondLabel(m material.Material, phase solution.Phase) []solution.Caution {
	by := l.Base.ClassifiedBy(m.ID)
	var out []solution.Caution
	if len(by) == 0 {
		if phase == solution.Liquid {
			out = append(out, unknownHazards(m.Name))
		}
		by = []string{m.ID}
	}
	for _, id := range by {
		part := l.speaking(m, id)
		out = append(out, l.told(id, material.SupplierStatement,
			"Suppliers of "+part.Name+" often add, beyond the harmonised classification: ")...)
		out = append(out, l.lights(part)...)
		out = append(out, l.told(id, material.HazardNote, "Of "+part.Name+": ")...)
	}
	if len(by) > 0 && !l.same(m.ID, by[0]) {
		out = append(out, l.told(m.ID, material.HazardNote, "Of "+m.Name+": ")...)
	}
	return out
}

// speaking is the material whose classification speaks for another: itself, or a part of it.
func (l *Lookup) speaking(m material.Material, id string) material.Material {
	if l.same(m.ID, id) {
		return m
	}
	part, _ := l.Base.Material(id)
	return part
}

// same tells whether the classification held under an id is that of the
// material itself.
func (l *Lookup) same(material, id string) bool {
	m, _ := l.Base.Material(material)
	return material == id || m.Like == id
}

// told joins the rows of a kind to sentences, one for each source.
func (l *Lookup) told(id string, kind material.HazardKind, before string) []solution.Caution {
	var out []solution.Caution
	for _, h := range l.Base.Hazards(id) {
		if h.Kind != kind {
			continue
		}
		text := h.Value
		if st, known := l.Base.Statement(h.Value); known {
			text = st.Text()
		}
		text = strings.TrimSuffix(text, ".") + "."
		if last := len(out) - 1; last >= 0 && out[last].Source == Cited(h.Evidence) {
			out[last].Sentence += " " + text
		} else {
			out = append(out, solution.Caution{Sentence: before + text, Source: Cited(h.Evidence)})
		}
	}
	return out
}

// flammable is the highest flash point, °C, of a flammable liquid (Regulation (EC) No
// 1272/2008, Annex I, 2.6).
const flammable = 60

// lights says of a liquid that its flash point is that of a flammable one, although the
// harmonised label does not say so.
func (l *Lookup) lights(m material.Material) []solution.Caution {
	flash, f, known := l.Base.Figure(m.ID, material.FlashPoint, material.AnyGrade)
	if !known || flash > flammable || l.saysItBurns(m.ID) {
		return nil
	}
	return []solution.Caution{{Source: Cited(f.Evidence), Sentence: "The flash point of " + m.Name + " is " +
		f.Value.Written + " °C: it can be lit, although its harmonised classification does not call it flammable."}}
}

// saysItBurns tells whether the harmonised classification calls a liquid flammable.
func (l *Lookup) saysItBurns(id string) bool {
	for _, h := range l.Base.Hazards(id) {
		if h.Kind == material.HazardStatement && strings.HasPrefix(h.Value, "H22") {
			return true
		}
	}
	return false
}

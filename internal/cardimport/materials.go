package cardimport

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
)

// addMaterials makes a use of each material cell, with the strength, the solvent
// and the role that stand in the columns of the same turn. A card without any
// does not say that nothing was used.
func (a *assembler) addMaterials() {
	strengths, solvents, roles := a.turns(Strength), a.turns(Solvent), a.turns(Role)
	var uses []any
	for turn, material := range a.materialCells() {
		if material.text != "" {
			uses = append(uses, a.use(material, strengths[turn], solvents[turn], roles[turn]))
		}
	}
	if len(uses) > 0 {
		a.out["materials"] = uses
	}
}

// materialCells gives the material of each turn, some of them empty.
func (a *assembler) materialCells() []cell {
	var out []cell
	for turn, column := range a.mapping.columnsOf(Material) {
		c, written := a.cells.at(column)
		if !written {
			c = cell{column: column}
			if turn == 0 {
				c.text = a.mapping.Constants[Material]
			}
		}
		out = append(out, c)
	}
	return out
}

// passing keeps what a card of an action that adds nothing says of materials: a
// solvent touched the specimen, and the material is what was looked at or taken
// off, which is a remark and no layer.
func (a *assembler) passing(action string) {
	var remarks []string
	if text := a.text(Remarks); text != "" {
		remarks = append(remarks, text)
	}
	for turn, material := range a.materialCells() {
		solvent := a.turns(Solvent)[turn]
		if id := a.solventID(solvent.text); id != "" {
			exposures, _ := a.out["solventExposure"].([]any)
			a.out["solventExposure"] = append(exposures, map[string]any{"solvent": id, "time": unknown(), "during": during(action)})
			solvent.text = ""
		}
		for _, c := range []struct{ what, text string }{{"material", material.text}, {"strength", a.turns(Strength)[turn].text}, {"solvent", solvent.text}} {
			if c.text != "" {
				remarks = append(remarks, c.what+" on the card: "+c.text)
			}
		}
	}
	if len(remarks) > 0 {
		a.out["remarks"] = strings.Join(remarks, "; ")
	}
}

// during is the contract's word for when a solvent touched the specimen.
func during(action string) string {
	switch action {
	case "removal", "cleaning", "test":
		return action
	}
	return "other"
}

// columnsOf gives the columns of a field, in the order of the mapping.
func (m Mapping) columnsOf(f Field) []Column {
	var out []Column
	for _, c := range m.Columns {
		if c.Field == f {
			out = append(out, c)
		}
	}
	return out
}

// at gives the cell of a column.
func (cs cells) at(column Column) (cell, bool) {
	for _, c := range cs {
		if c.column == column {
			return c, true
		}
	}
	return cell{}, false
}

// turns gives the cells of a field by turn, the first column's first; a constant
// stands in every turn that is empty.
func (a *assembler) turns(f Field) map[int]cell {
	out := map[int]cell{}
	for turn := range a.mapping.columnsOf(Material) {
		out[turn] = cell{column: Column{Name: string(f), Field: f}, text: a.mapping.Constants[f]}
	}
	for turn, column := range a.mapping.columnsOf(f) {
		if c, written := a.cells.at(column); written {
			out[turn] = c
		}
	}
	return out
}

// use is one material of the card. Words that mean one material by the mapping
// become that material; all others stay words, with every candidate.
func (a *assembler) use(material, strength, solvent, role cell) map[string]any {
	use := map[string]any{}
	if role.text != "" {
		use["role"] = strings.ToLower(strings.ReplaceAll(role.text, " ", "-"))
	}
	reading, given := a.reading(material.text)
	if given && reading.Material != "" {
		a.identified(use, reading, strength, solvent)
		return use
	}
	words := map[string]any{"verbatim": material.text, "certainty": certainty(reading.Certainty, "unknown")}
	if reading.AnalysedBy != "" {
		words["analysedBy"] = reading.AnalysedBy
	}
	candidates := reading.Candidates
	if !given && a.words != nil {
		found, solvents := a.words(material.text)
		if candidates = found; len(candidates) == 0 {
			candidates = solvents
		}
	}
	if len(candidates) > 0 {
		words["candidates"] = anyList(candidates)
	}
	a.doubtMaterial(material, given, candidates)
	use["used"] = map[string]any{"words": words}
	a.remark(use, strength, solvent)
	return use
}

// candidatesNamed is how many materials a doubt names.
const candidatesNamed = 12

func (a *assembler) doubtMaterial(c cell, given bool, candidates []string) {
	switch {
	case len(candidates) == 0 && !given:
		a.doubt(c, DoubtMaterialUnknown, "Nothing is known here under these words; they are kept as they stand, and nobody has said what they mean.")
	case len(candidates) > 1 && !given:
		a.doubt(c, DoubtMaterialAmbiguous, fmt.Sprintf("The words may mean %d materials (%s); all of them are kept, and none is taken as the meaning.",
			len(candidates), strings.Join(candidates[:min(len(candidates), candidatesNamed)], ", ")))
	}
}

// identified is a use whose material somebody has named in the mapping.
func (a *assembler) identified(use map[string]any, r Reading, strength, solvent cell) {
	material := map[string]any{"id": r.Material, "certainty": certainty(r.Certainty, "inferred")}
	if r.AnalysedBy != "" {
		material["analysedBy"] = r.AnalysedBy
	}
	if strength.text != "" {
		if s := a.strength(strength); s != nil {
			material["strength"] = s
			strength.text = ""
		}
	}
	if id := a.solventID(solvent.text); id != "" {
		material["solvents"] = []any{map[string]any{"id": id}}
		solvent.text = ""
	}
	use["used"] = map[string]any{"material": material}
	a.remark(use, strength, solvent)
}

// remark keeps what stands beside a material and has no place of its own.
func (a *assembler) remark(use map[string]any, strength, solvent cell) {
	var parts []string
	if strength.text != "" {
		parts = append(parts, "strength on the card: "+strength.text)
	}
	if solvent.text != "" {
		parts = append(parts, "solvent on the card: "+solvent.text)
	}
	if len(parts) > 0 {
		use["remark"] = strings.Join(parts, "; ")
	}
}

func (a *assembler) reading(words string) (Reading, bool) {
	for _, r := range a.mapping.Materials {
		if strings.EqualFold(r.Words, words) {
			return r, true
		}
	}
	return Reading{}, false
}

// solventID gives the one solvent that words mean, or "".
func (a *assembler) solventID(words string) string {
	if words == "" {
		return ""
	}
	if r, given := a.reading(words); given {
		return r.Material
	}
	if a.words == nil {
		return ""
	}
	if _, solvents := a.words(words); len(solvents) == 1 {
		return solvents[0]
	}
	return ""
}

var strengthNumber = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(?:%|percent|per cent|pc)?$`)

// strength reads a number or a percentage on the basis that the mapping names;
// the number keeps its digits. Anything else stays in words.
func (a *assembler) strength(c cell) map[string]any {
	f := strengthNumber.FindStringSubmatch(strings.ToLower(c.text))
	if f == nil {
		a.doubt(c, DoubtStrengthWords, "The strength is not a plain number; its words are kept in a remark.")
		return nil
	}
	value := strings.TrimLeft(strings.ReplaceAll(f[1], ",", "."), "0")
	if value == "" || value[0] == '.' {
		value = "0" + value
	}
	basis := a.mapping.StrengthBasis
	if basis == "" {
		basis = "unknown"
	}
	s := map[string]any{"value": json.Number(value), "basis": basis}
	if unit := strengthUnits[basis]; unit != "" {
		s["unit"] = unit
	}
	return s
}

// strengthUnits are the units in which the numbers of each basis are read.
var strengthUnits = map[string]string{
	"mass-per-solution-volume": "g/dL", "mass-per-solvent-volume": "g/dL", "mass-fraction": "%", "volume-fraction": "%",
}

func certainty(said, otherwise string) string {
	if said == "" {
		return otherwise
	}
	return said
}

func anyList(texts []string) []any {
	out := make([]any, len(texts))
	for i, t := range texts {
		out[i] = t
	}
	return out
}

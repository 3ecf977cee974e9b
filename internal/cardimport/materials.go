package cardimport

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
)

// addMaterials makes a use of each material cell, with the strength, the solvent
// and the role in the columns of the same turn. A card without a material does
// not say that nothing was used.
func (a *assembler) addMaterials() {
	strengths, solvents, roles := a.turns(Strength), a.turns(Solvent), a.turns(Role)
	var uses []record.Use
	for turn, material := range a.materialCells() {
		if material.text != "" {
			uses = append(uses, a.use(material, strengths[turn], solvents[turn], roles[turn]))
		}
	}
	if len(uses) > 0 {
		a.out.Uses = record.Give(uses)
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

// passing keeps what a card says of materials if its action adds nothing. The
// solvent touched the specimen; the material was looked at or taken off, and
// becomes a remark instead of a layer.
func (a *assembler) passing() {
	remarks := a.out.Remarks
	for turn, material := range a.materialCells() {
		solvent := a.turns(Solvent)[turn]
		if id := a.solventID(solvent.text); id != "" {
			a.out.Exposures = append(a.out.Exposures,
				record.Exposure{Solvent: id, Time: record.Amount{Answer: record.AnswerUnknown}, During: during(a.out.Action)})
			solvent.text = ""
		}
		remarks = remark(remarks, "material", material)
		remarks = remark(remarks, "strength", a.turns(Strength)[turn])
		remarks = remark(remarks, "solvent", solvent)
	}
	a.out.Remarks = remarks
}

// remark adds what is on the card and has no field of its own.
func remark(remarks, what string, c cell) string {
	switch {
	case c.text == "":
		return remarks
	case remarks != "":
		remarks += "; "
	}
	return remarks + what + " on the card: " + c.text
}

// during is the contract's word for when a solvent touched the specimen.
func during(action record.Action) string {
	switch action {
	case record.ActionRemoval, record.ActionCleaning, record.ActionTest:
		return string(action)
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
// fills every turn that is empty.
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
func (a *assembler) use(material, strength, solvent, role cell) record.Use {
	use := record.Use{Role: strings.ToLower(strings.ReplaceAll(role.text, " ", "-"))}
	reading, given := a.reading(material.text)
	use.CertaintySaid, use.AnalysedBy = true, reading.AnalysedBy
	if given && reading.Material != "" {
		use.Material, use.Certainty = reading.Material, record.Certainty(cmp.Or(reading.Certainty, "inferred"))
		strength, solvent = a.dissolved(&use, strength, solvent)
	} else {
		use.Words, use.Certainty = material.text, record.Certainty(cmp.Or(reading.Certainty, "unknown"))
		use.Candidates = append(use.Candidates, reading.Candidates...) // nil where there are none
		if !given && a.words != nil {
			found, solvents := a.words(material.text)
			if use.Candidates = found; len(found) == 0 {
				use.Candidates = solvents
			}
		}
		a.doubtMaterial(material, given, use.Candidates)
	}
	use.Remark = remark(remark("", "strength", strength), "solvent", solvent)
	return use
}

// candidatesNamed is how many materials a doubt names.
const candidatesNamed = 12

func (a *assembler) doubtMaterial(c cell, given bool, candidates []string) {
	switch {
	case len(candidates) == 0 && !given:
		a.doubt(c, DoubtMaterialUnknown,
			"Nothing is known here under these words; they are kept as they stand, and what they mean is not said.")
	case len(candidates) > 1 && !given:
		a.doubt(c, DoubtMaterialAmbiguous,
			fmt.Sprintf("The words may mean %d materials (%s); all of them are kept, and none is taken as the meaning.",
				len(candidates), strings.Join(candidates[:min(len(candidates), candidatesNamed)], ", ")))
	}
}

// dissolved sets the strength and the solvent of a material that was identified. It
// gives back the cells that are left for a remark.
func (a *assembler) dissolved(use *record.Use, strength, solvent cell) (cell, cell) {
	if strength.text != "" && a.strength(strength, use) {
		strength.text = ""
	}
	if id := a.solventID(solvent.text); id != "" {
		use.Solvents = record.Give([]record.SolventShare{{Material: id}})
		solvent.text = ""
	}
	return strength, solvent
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
func (a *assembler) strength(c cell, use *record.Use) (read bool) {
	f := strengthNumber.FindStringSubmatch(strings.ToLower(c.text))
	if f == nil {
		a.doubt(c, DoubtStrengthWords, "The strength is not a plain number; its words are kept in a remark.")
		return false
	}
	digits := strings.TrimLeft(strings.ReplaceAll(f[1], ",", "."), "0")
	if digits == "" || digits[0] == '.' {
		digits = "0" + digits
	}
	value, err := quantity.ParseDecimal(digits)
	if err != nil {
		found := fault.From(err)[0]
		a.fault(c, found.Code, "%s", found.Detail)
	}
	basis := cmp.Or(solution.Basis(a.mapping.StrengthBasis), solution.UnknownBasis)
	use.Strength = record.Give(record.Strength{UnitSaid: basis != solution.UnknownBasis,
		Strength: solution.Strength{Basis: basis, Number: quantity.Quantity{Value: value, Unit: basis.Unit()}}})
	return true
}

package material

import "slices"

func readMaterials(b *Base, r *reader) {
	var broader []row
	r.table("materials.tsv", "id name family kind broader note source status", func(w row) {
		m := Material{
			ID: w.need("id"), Name: w.need("name"), Family: w.need("family"), Kind: word(w, "kind", kinds),
			Broader: w.text("broader"), Note: w.text("note"), Evidence: w.evidence(),
		}
		if _, twice := b.materials[m.ID]; twice {
			w.fail("material %q stands twice", m.ID)
			return
		}
		b.materials[m.ID] = m
		b.order = append(b.order, m.ID)
		broader = append(broader, w)
	})
	for _, w := range broader {
		w.maybeMaterial(b, "broader")
	}
	slices.Sort(b.order)
}

func readGrades(b *Base, r *reader) {
	var within []row
	r.table("grades.tsv", "material grade within note source status", func(w row) {
		id := w.material(b, "material")
		m := b.materials[id]
		m.Grades = append(m.Grades, Grade{Name: w.need("grade"), Within: w.text("within"), Note: w.text("note"),
			Evidence: w.evidence()})
		b.materials[id] = m
		within = append(within, w)
	})
	for _, w := range within {
		if w.text("within") != "" {
			w.grade(b, w.text("material"), "within")
		}
	}
}

func readCompositions(b *Base, r *reader) {
	r.table("compositions.tsv", "material component low high unit basis note source status", func(w row) {
		id := w.material(b, "material")
		c := Component{
			Material: w.material(b, "component"), Basis: string(word(w, "basis", componentBases)),
			Note: w.text("note"), Evidence: w.evidence(),
		}
		if amount := w.rangeOf("low", "high"); amount != "" {
			c.Amount = w.value(amount, "%")
		}
		if want := map[bool]string{true: "%"}[c.Amount.Numeric]; w.text("unit") != want {
			w.fail("unit: %q, want %q", w.text("unit"), want)
		}
		m := b.materials[id]
		m.Components = append(m.Components, c)
		b.materials[id] = m
	})
}

func readNames(b *Base, r *reader) {
	for _, id := range b.order {
		b.addName(Name{Text: b.materials[id].Name, Kind: GenericName, Material: id, Evidence: b.materials[id].Evidence})
	}
	r.table("names.tsv", "name material kind note source status", func(w row) {
		b.addName(Name{
			Text: w.need("name"), Material: w.material(b, "material"), Kind: word(w, "kind", nameKinds),
			Note: w.text("note"), Evidence: w.evidence(),
		})
	})
}

func readClasses(b *Base, r *reader) {
	r.table("solvent-classes.tsv", "member class note source status", func(w row) {
		member, class := w.material(b, "member"), w.material(b, "class")
		w.evidence()
		if b.materials[class].Kind != SolventClass {
			w.fail("class: %q is not a class of solvents", class)
		}
		b.classes[member] = append(b.classes[member], class)
	})
}

// rangeOf writes the bounds of two columns as one value.
func (w row) rangeOf(low, high string) string {
	if w.text(low) == w.text(high) {
		return w.text(low)
	}
	return w.text(low) + ".." + w.text(high)
}

// value reads a written value and its unit.
func (w row) value(written, unit string) Value {
	v, err := parseValue(written, unit)
	if err != nil {
		w.fail("value: %s", err)
	}
	return v
}

const factColumns = "material grade property value unit at with rank remark also source status"

func readFacts(b *Base, r *reader) {
	for _, file := range []string{"properties.tsv", "solvent-properties.tsv", "freezing-points.tsv"} {
		r.table(file, factColumns, func(w row) { b.addFact(w, readFact(b, w)) })
	}
}

func readFact(b *Base, w row) Fact {
	id := w.material(b, "material")
	f := Fact{
		Material: id, Grade: w.grade(b, id, "grade"), Property: Property(w.need("property")), Unit: w.text("unit"),
		At: w.optional("at"), With: w.maybeMaterial(b, "with"), Rank: word(w, "rank", ranks),
		Remark: w.text("remark"), Evidence: w.evidence(),
	}
	def, ok := definitions[f.Property]
	switch {
	case !ok:
		w.fail("property: %q is not defined", f.Property)
	case f.Unit != "" && !slices.Contains(def.Units, f.Unit):
		w.fail("unit: %q is not a unit of %s", f.Unit, f.Property)
	case def.words():
		f.Value = Value{Written: w.need("value")}
	default:
		f.Value = w.value(w.text("value"), f.Unit)
	}
	return f
}

func (b *Base) addFact(w row, f Fact) {
	key := factKey{f.Material, f.Property}
	for _, x := range b.facts[key] {
		if x.Rank == Preferred && f.Rank == Preferred && x.Grade == f.Grade {
			w.fail("a second preferred value of %s for %s %s", f.Property, f.Material, f.Grade)
		}
	}
	b.facts[key] = append(b.facts[key], f)
	if !slices.Contains(b.known[f.Material], f.Property) {
		b.known[f.Material] = append(b.known[f.Material], f.Property)
	}
}

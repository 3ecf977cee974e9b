package label

import (
	"cmp"
	"slices"
	"strings"

	"meniscus/internal/material"
)

// hazards are those of all substances of a batch together.
type hazards struct {
	signal      string
	pictograms  []string
	statements  []material.Statement
	bySupplier  []material.Statement // what suppliers often add
	precautions []material.Statement
	classes     []string
	known       []string                // names of substances whose classification is held
	harmless    []string                // of these, those that are not classified as hazardous
	unknown     []string                // names of substances whose classification is not held
	warnings    []material.ClassWarning // of the classes of what is in it
	leftOut     []Omission
	sources     []Rule
}

// The rules about what a label leaves out because something else on it says
// it.
var (
	duplicateRule = Rule{
		Says:   "A statement that says less of the same hazard than another on the label is left out (Article 27).",
		Source: cited("clp-recalled"), Status: "memory",
	}
	skullRule = Rule{
		Says:   "Where the skull and crossbones stands, the exclamation mark does not (Article 26(1)(b)).",
		Source: cited("clp-recalled"), Status: "memory",
	}
)

// hazardsOf gathers what is held of the substances of a batch, as if each were
// there alone, and what their classes warn of in a container of a capacity in mL.
func hazardsOf(base *material.Base, f Facts, capacity float64) hazards {
	var h hazards
	for _, id := range f.Substances {
		h.take(base, id)
	}
	for _, words := range f.Unnamed {
		h.unknown = appendOnce(h.unknown, words)
	}
	slices.SortStableFunc(h.statements, func(a, b material.Statement) int {
		// supplemental ones last
		return cmp.Or(strings.Compare(string(a.Kind), string(b.Kind)), strings.Compare(a.Code, b.Code))
	})
	slices.Sort(h.classes)
	h.dropDuplicates()
	h.precaution(base)
	for _, w := range base.ClassWarnings(f.Substances, capacity) {
		if w.Severity == material.Careful {
			continue
		}
		h.warnings = append(h.warnings, w)
		h.sources = appendOnce(h.sources, Rule{Says: "Warning of the class: " + w.ID + ".",
			Source: w.Evidence.Source.Citation, Status: string(w.Evidence.Status)})
	}
	return h
}

// take adds one substance.
func (h *hazards) take(base *material.Base, id string) {
	name := id
	if m, ok := base.Material(id); ok {
		name = m.Name
	}
	speaking := base.ClassifiedBy(id)
	if len(speaking) == 0 {
		h.unknown = appendOnce(h.unknown, name)
		speaking = []string{id} // what is held of it is said too, however little
	} else {
		h.known = appendOnce(h.known, name)
	}
	for _, part := range speaking {
		h.classify(base, part, name)
		h.supplied(base, part)
	}
}

// classify adds what the classification of a material says of a substance.
func (h *hazards) classify(base *material.Base, id, name string) {
	for _, row := range base.Hazards(id) {
		switch {
		case row.Kind == material.HazardClass && row.Value == "none":
			h.harmless = appendOnce(h.harmless, name)
		case row.Kind == material.HazardClass:
			h.classes = appendOnce(h.classes, row.Value)
		case row.Kind == material.Pictogram && row.OnLabel:
			h.pictograms = appendOnce(h.pictograms, row.Value)
		case row.Kind == material.SignalWord && row.OnLabel && (row.Value == "Danger" || h.signal == ""):
			h.signal = row.Value
		case row.Kind == material.HazardStatement && row.OnLabel:
			h.statements = withStatement(h.statements, base, row.Value)
		case row.Kind == material.SupplierStatement:
			continue
		}
		h.sources = appendOnce(h.sources, Rule{Says: "Classification of " + name + ".",
			Source: row.Evidence.Source.Citation, Status: string(row.Evidence.Status)})
	}
}

// supplied adds what suppliers often say of a material beyond the harmonised classification.
func (h *hazards) supplied(base *material.Base, id string) {
	for _, row := range base.Hazards(id) {
		if row.Kind == material.SupplierStatement {
			h.bySupplier = withStatement(h.bySupplier, base, row.Value)
			h.sources = appendOnce(h.sources, Rule{Says: "What suppliers often add: " + row.Value + ".",
				Source: row.Evidence.Source.Citation, Status: string(row.Evidence.Status)})
		}
	}
}

func withStatement(list []material.Statement, base *material.Base, code string) []material.Statement {
	st, ok := base.Statement(code)
	if ok && !slices.ContainsFunc(list, func(have material.Statement) bool { return have.Code == code }) {
		list = append(list, st)
	}
	return list
}

// dropDuplicates leaves out what another statement or pictogram says already.
func (h *hazards) dropDuplicates() {
	codes := codesOf(h.statements)
	h.statements = slices.DeleteFunc(h.statements, func(st material.Statement) bool {
		less := material.Covered(st.Code, codes)
		if less {
			h.leftOut = append(h.leftOut, Omission{Element: HazardText, Code: st.Code, Text: st.Text(),
				Rule: duplicateRule, Instead: "Another statement on the label says more of the same hazard."})
		}
		return less
	})
	added := append(codes, codesOf(h.bySupplier)...)
	h.bySupplier = slices.DeleteFunc(h.bySupplier, func(st material.Statement) bool {
		return slices.Contains(codes, st.Code) || material.Covered(st.Code, added)
	})
	shown, covered := material.Pictograms(h.pictograms)
	h.pictograms = shown
	for _, code := range covered {
		h.leftOut = append(h.leftOut, Omission{Element: PictogramMark, Code: code, Text: pictogramNames[code],
			Rule: skullRule, Instead: "The skull and crossbones stands for it."})
	}
}

func codesOf(list []material.Statement) []string {
	out := make([]string, 0, len(list))
	for _, st := range list {
		out = append(out, st.Code)
	}
	return out
}

// precaution adds the precautionary statements that are assigned to the classes,
// in the order prevention, response, storage, disposal.
func (h *hazards) precaution(base *material.Base) {
	for _, phase := range []string{"prevention", "response", "storage", "disposal"} {
		for _, class := range h.classes {
			for _, p := range base.Precautions(class) {
				st, ok := base.Statement(p.Code)
				if ok && p.Phase == phase && !slices.ContainsFunc(h.precautions,
					func(have material.Statement) bool { return have.Code == p.Code }) {
					h.precautions = append(h.precautions, st)
				}
			}
		}
	}
}

// rules are the sources of the classification.
func (h hazards) rules() []Rule { return h.sources }

func appendOnce[T comparable](list []T, x T) []T {
	if slices.Contains(list, x) {
		return list
	}
	return append(list, x)
}

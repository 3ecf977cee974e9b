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
	precautions []material.Statement
	classes     []string
	known       []string // names of substances whose classification is held
	harmless    []string // of these, those that are not classified as hazardous
	unknown     []string // names of substances whose classification is not held
	leftOut     []Omission
	sources     []Rule
}

// The rules about what stands on a label only once.
var (
	duplicateRule = Rule{
		Says:   "A statement that says less of the same hazard than another on the label is left out.",
		Source: "Regulation (EC) No 1272/2008, Article 27", Status: "memory",
	}
	skullRule = Rule{
		Says:   "Where the skull and crossbones stands, the exclamation mark does not.",
		Source: "Regulation (EC) No 1272/2008, Article 26(1)(b)", Status: "memory",
	}
)

// covers tells which statements say less of the same hazard.
var covers = map[string][]string{
	"H224": {"H225", "H226"}, "H225": {"H226"},
	"H301": {"H302"}, "H311": {"H312"}, "H331": {"H332"},
	"H340": {"H341"}, "H350": {"H351"}, "H360D": {"H361", "H361d"}, "H361": {"H361d"},
	"H370": {"H371"}, "H372": {"H373"},
	"H410": {"H400", "H411", "H412"}, "H411": {"H412"},
}

// hazardsOf gathers what is held of the substances of a batch, as if each were
// there alone.
func hazardsOf(base *material.Base, f Facts) hazards {
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
	slices.Sort(h.pictograms)
	slices.Sort(h.classes)
	h.dropDuplicates()
	h.precaution(base)
	return h
}

// take adds one substance.
func (h *hazards) take(base *material.Base, id string) {
	name := id
	if m, ok := base.Material(id); ok {
		name = m.Name
	}
	rows := base.Hazards(id)
	if len(rows) == 0 {
		h.unknown = appendOnce(h.unknown, name)
		return
	}
	h.known = appendOnce(h.known, name)
	for _, row := range rows {
		switch {
		case row.Kind == material.HazardClass && row.Value == "none":
			h.harmless = appendOnce(h.harmless, name)
		case row.Kind == material.HazardClass:
			h.classes = appendOnce(h.classes, row.Value)
		case row.Kind == material.Pictogram && row.OnLabel:
			h.pictograms = appendOnce(h.pictograms, row.Value)
		case row.Kind == material.SignalWord && (row.Value == "Danger" || h.signal == ""):
			h.signal = row.Value
		case row.Kind == material.HazardStatement && row.OnLabel:
			h.state(base, row.Value)
		}
		h.sources = appendOnce(h.sources, Rule{Says: "Classification of " + name + ".",
			Source: row.Evidence.Source.Citation, Status: string(row.Evidence.Status)})
	}
}

func (h *hazards) state(base *material.Base, code string) {
	st, ok := base.Statement(code)
	if ok && !slices.ContainsFunc(h.statements, func(have material.Statement) bool { return have.Code == code }) {
		h.statements = append(h.statements, st)
	}
}

// dropDuplicates leaves out what another statement or pictogram says already.
func (h *hazards) dropDuplicates() {
	less := map[string]bool{}
	for _, st := range h.statements {
		for _, code := range covers[st.Code] {
			less[code] = true
		}
	}
	h.statements = slices.DeleteFunc(h.statements, func(st material.Statement) bool {
		if less[st.Code] {
			h.leftOut = append(h.leftOut, Omission{Element: HazardText, Code: st.Code, Text: st.Text(),
				Rule: duplicateRule, Instead: "Another statement on the label says more of the same hazard."})
		}
		return less[st.Code]
	})
	if slices.Contains(h.pictograms, "GHS06") && slices.Contains(h.pictograms, "GHS07") {
		h.pictograms = slices.DeleteFunc(h.pictograms, func(code string) bool { return code == "GHS07" })
		h.leftOut = append(h.leftOut, Omission{Element: PictogramMark, Code: "GHS07", Text: pictogramNames["GHS07"],
			Rule: skullRule, Instead: "The skull and crossbones stands for it."})
	}
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

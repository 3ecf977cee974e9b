package material

import (
	"slices"
	"strings"
)

// covers lists, for a statement, those that say less of the same hazard.
var covers = map[string][]string{
	"H224": {"H225", "H226"}, "H225": {"H226"},
	"H301": {"H302"}, "H311": {"H312"}, "H330": {"H331", "H332"}, "H331": {"H332"},
	"H314": {"H315", "H318", "H319"}, "H318": {"H319"},
	"H340": {"H341"}, "H350": {"H351"}, "H360D": {"H361", "H361d"}, "H361": {"H361d"},
	"H370": {"H371"}, "H372": {"H373"},
	"H410": {"H400", "H411", "H412"}, "H411": {"H412"},
}

// Covered tells whether one of the codes on a label says more of the same hazard
// than this one, which is then left out (Regulation (EC) No 1272/2008, Article 27).
func Covered(code string, all []string) bool {
	return slices.ContainsFunc(all, func(more string) bool { return slices.Contains(covers[more], code) })
}

// Pictograms divides the pictograms of what is in one bottle into those on its
// label, in order and each once, and those that a stronger one replaces: the skull
// and crossbones replaces the exclamation mark (Regulation (EC) No 1272/2008,
// Article 26(1)(b)).
func Pictograms(all []string) (shown, covered []string) {
	shown = slices.Compact(slices.Sorted(slices.Values(all)))
	if !slices.Contains(shown, "GHS06") || !slices.Contains(shown, "GHS07") {
		return shown, nil
	}
	return slices.DeleteFunc(shown, func(code string) bool { return code == "GHS07" }), []string{"GHS07"}
}

// ClassifiedBy lists the materials whose classification speaks for a material: itself,
// or the parts that it is made of where each of them has one. An empty list means that
// its hazards are not known here, not that it has none.
func (b *Base) ClassifiedBy(id string) []string {
	id = b.behavesAs(id)
	if b.classified(id) {
		return []string{id}
	}
	var parts []string
	for _, c := range b.materials[id].Components {
		if !b.classified(c.Material) {
			return nil
		}
		parts = append(parts, c.Material)
	}
	return parts
}

// UnknownHazards says that the hazards of what has this name are not known here, not that there are none.
func UnknownHazards(name string) string {
	return "Hazards of " + name + " are not known here; see its safety data sheet."
}

// classified tells whether the tables hold a hazard statement of the harmonised label,
// or state that there is none. A supplemental statement alone classifies nothing.
func (b *Base) classified(id string) bool {
	return slices.ContainsFunc(b.hazards[id], func(h Hazard) bool {
		return h.Kind == HazardClass && h.Value == "none" ||
			h.Kind == HazardStatement && h.OnLabel && strings.HasPrefix(h.Value, "H")
	})
}

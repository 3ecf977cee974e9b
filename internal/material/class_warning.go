package material

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// What class warnings are about beside materials and containers.
const (
	Formalin = "formalin" // a solution of formaldehyde
	Heat     = "heat"     // drying in warmth
)

// Severity of a class warning, judged here.
type Severity string

// The severities, the worst first.
const (
	Dangerous Severity = "dangerous"
	Serious   Severity = "serious"
	Careful   Severity = "caution"
)

var severities = wordSet(Dangerous, Serious, Careful)

// ClassWarning warns of a class of substances, alone or with another.
type ClassWarning struct {
	ID       string
	Severity Severity
	// Together says that it is about two groups that must not meet.
	Together bool
	Sentence string // what can happen, and what the hands do; names what was found
	Evidence Evidence

	groups [][]string
	first  int     // the number of its first group, of the groups of all
	from   float64 // mL
}

// Blocks tells whether what it warns of is not to be done: two groups that must not meet, as
// a source that was read says. What is recalled advises.
func (w ClassWarning) Blocks() bool {
	return w.Together && w.Severity == Dangerous && w.Evidence.Status.Seen()
}

// ClassWarnings are those that hold where materials, containers and what else class warnings
// are about come together in a volume in mL (0 is not known: what holds from a volume is then
// left out), the worst first. A mixture counts as its parts too.
func (b *Base) ClassWarnings(ids []string, millilitres float64) []ClassWarning {
	found := make([]string, b.classGroups) // of each group the name of the first that belongs to it
	for _, id := range b.withParts(ids) {
		for _, group := range b.groupsOf(id) {
			if found[group] == "" {
				found[group] = b.called(id)
			}
		}
	}
	var out []ClassWarning
	for _, w := range b.classWarnings {
		names := found[w.first : w.first+len(w.groups)]
		if w.from <= millilitres && !slices.Contains(names, "") {
			w.Sentence = w.naming(names)
			out = append(out, w)
		}
	}
	order := []Severity{Dangerous, Serious, Careful}
	slices.SortStableFunc(out, func(x, y ClassWarning) int {
		return cmp.Compare(slices.Index(order, x.Severity), slices.Index(order, y.Severity))
	})
	return out
}

// withParts lists what is there, each once, with the parts of mixtures.
func (b *Base) withParts(ids []string) []string {
	var out []string
	for _, id := range ids {
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
		for _, c := range b.materials[b.behavesAs(id)].Components {
			if !slices.Contains(out, c.Material) {
				out = append(out, c.Material)
			}
		}
	}
	return out
}

// classMember is the key of the groups that something belongs to.
type classMember string

// groupsOf gives the numbers of the groups of class warnings that something belongs to.
func (b *Base) groupsOf(id string) []int {
	return *Kept(b, classMember(id), func() *[]int {
		var in []int
		for _, w := range b.classWarnings {
			for i, group := range w.groups {
				if slices.ContainsFunc(group, func(member string) bool { return b.belongs(id, member) }) {
					in = append(in, w.first+i)
				}
			}
		}
		return &in
	})
}

// belongs tells whether something is a member of a group.
func (b *Base) belongs(id, member string) bool {
	if kind, of := strings.CutPrefix(member, "kind="); of {
		return string(b.materials[b.behavesAs(id)].Kind) == kind
	}
	return id == member || b.IsA(id, member)
}

// called is a name as a sentence says it.
func (b *Base) called(id string) string {
	if m, known := b.materials[id]; known {
		return m.Name
	}
	if c, known := b.Container(id); known {
		return c.Name
	}
	return id
}

// naming is the sentence with the names of what was found; what is recalled says so.
func (w ClassWarning) naming(names []string) string {
	text := w.Sentence
	for i, name := range names {
		hole := "{" + string(rune('a'+i)) + "}"
		if strings.HasPrefix(text, hole) && name[0] >= 'a' && name[0] <= 'z' {
			text = strings.ToUpper(name[:1]) + name[1:] + text[len(hole):]
		}
		text = strings.ReplaceAll(text, hole, name)
	}
	if w.Evidence.Status == Memory {
		text = strings.TrimSuffix(text, ".") + " (recalled)."
	}
	return text
}

func readClassWarnings(b *Base, r *reader) {
	r.table("class-warnings.tsv", "id when from severity sentence source status", func(w row) {
		c := ClassWarning{ID: w.need("id"), Severity: word(w, "severity", severities), Sentence: w.need("sentence"),
			Evidence: w.evidence()}
		for _, group := range strings.Split(w.need("when"), ";") {
			members := strings.Fields(group)
			if len(members) == 0 {
				w.fail("when: a group is empty")
			}
			for _, m := range members {
				w.member(b, m)
			}
			c.groups = append(c.groups, members)
		}
		c.Together, c.first = len(c.groups) > 1, b.classGroups
		b.classGroups += len(c.groups)
		if from := w.text("from"); from != "" {
			v, err := strconv.ParseFloat(from, 64)
			if err != nil || !(v > 0) {
				w.fail("from: %q is no volume in mL", from)
			}
			c.from = v
		}
		if slices.ContainsFunc(b.classWarnings, func(have ClassWarning) bool { return have.ID == c.ID }) {
			w.fail("class warning %q stands twice", c.ID)
		}
		b.classWarnings = append(b.classWarnings, c)
	})
}

// member checks that a member of a group is something that is known.
func (w row) member(b *Base, m string) {
	kind, of := strings.CutPrefix(m, "kind=")
	_, material := b.materials[m]
	_, container := b.Container(m)
	if of && !kinds[Kind(kind)] || !of && !material && !container && m != Formalin && m != Heat {
		w.fail("when: %q is no material, class, kind or container", m)
	}
}

package material

import (
	"slices"
	"strings"
)

// NameKind says what sort of name it is.
type NameKind string

// The kinds of name.
const (
	GenericName    NameKind = "generic"
	SystematicName NameKind = "systematic"
	OtherName      NameKind = "other-name"
	Abbreviation   NameKind = "abbreviation"
	// OldWord is a word on old cards and labels; it may mean several materials.
	OldWord NameKind = "old-word"
	// TradeName is an institution's own name for its own material.
	TradeName NameKind = "trade-name"
)

var nameKinds = wordSet(SystematicName, OtherName, Abbreviation, OldWord)

// Name is one name of one material.
type Name struct {
	Text     string
	Material string
	Kind     NameKind
	Note     string
	Evidence Evidence
}

// Candidate is a material that words may mean.
type Candidate struct {
	Material string
	// Grade is the grade that the words name ("PEG 400"), or "".
	Grade string
	Name  Name
}

// Resolution is what words may mean: no candidate, one, or several. Several are
// a set, in no order of likelihood; none of them is ever chosen as the meaning.
type Resolution struct {
	Words      string
	Candidates []Candidate
}

// One gives the material when the words mean exactly one.
func (r Resolution) One() (Candidate, bool) {
	if len(r.Candidates) != 1 {
		return Candidate{}, false
	}
	return r.Candidates[0], true
}

// Ambiguous says that the words may mean several materials.
func (r Resolution) Ambiguous() bool { return len(r.Candidates) > 1 }

func (b *Base) addName(n Name) {
	key := fold(n.Text)
	b.names[key] = append(b.names[key], n)
	b.namesOf[n.Material] = append(b.namesOf[n.Material], n)
}

// Names lists the names of a material, its generic name first.
func (b *Base) Names(id string) []Name { return slices.Clone(b.namesOf[id]) }

// Resolve finds what the words on a card or label may mean: an id, a name, a CAS
// number, an abbreviation, alone or within a longer phrase ("5 % PVA in
// acetone" resolves to the candidates of PVA and to acetone). Letters' case,
// spaces and punctuation do not count. The longest name wins where names
// overlap. Brand names are not known here; an institution adds its own.
func (b *Base) Resolve(words string) Resolution {
	res := Resolution{Words: words}
	if m, ok := b.materials[words]; ok {
		res.Candidates = []Candidate{{Material: m.ID, Name: Name{Text: m.Name, Material: m.ID, Kind: GenericName,
			Evidence: m.Evidence}}}
		return res
	}
	if found := b.candidates(words); len(found) > 0 {
		res.Candidates = found
		return res
	}
	if id, ok := b.byCAS(words); ok {
		return b.Resolve(id)
	}
	res.Candidates = b.within(strings.FieldsFunc(words,
		func(r rune) bool { return strings.ContainsRune(" \t\n,;:/+&", r) }))
	return res
}

// candidates gives the distinct materials of one whole name.
func (b *Base) candidates(words string) []Candidate {
	key := fold(words)
	var out []Candidate
	if id, ok := b.idByFold(key); ok {
		out = append(out, Candidate{Material: id, Name: Name{Text: b.materials[id].Name, Material: id,
			Kind: GenericName, Evidence: b.materials[id].Evidence}})
	}
	for _, n := range b.names[key] {
		if !slices.ContainsFunc(out, func(c Candidate) bool { return c.Material == n.Material }) {
			out = append(out, Candidate{Material: n.Material, Name: n})
		}
	}
	return out
}

func (b *Base) idByFold(key string) (string, bool) {
	i := slices.IndexFunc(b.order, func(id string) bool { return fold(id) == key })
	if i < 0 || key == "" {
		return "", false
	}
	return b.order[i], true
}

func (b *Base) byCAS(words string) (string, bool) {
	for _, id := range b.order {
		for _, f := range b.facts[factKey{id, CASNumber}] {
			if f.Value.Written == strings.TrimSpace(words) {
				return id, true
			}
		}
	}
	return "", false
}

// within looks for names inside a phrase, longest first, and for a grade in the
// word that follows.
func (b *Base) within(words []string) []Candidate {
	const longest = 6
	var out []Candidate
	for at := 0; at < len(words); {
		used := 1
		for n := min(longest, len(words)-at); n > 0; n-- {
			found := b.candidates(strings.Join(words[at:at+n], " "))
			if len(found) == 0 {
				continue
			}
			used = n
			if at+n < len(words) && b.takeGrade(found, words[at+n]) {
				used++
			}
			out = appendNew(out, found)
			break
		}
		at += used
	}
	return out
}

func (b *Base) takeGrade(found []Candidate, word string) bool {
	taken := false
	for i, c := range found {
		for _, g := range b.materials[c.Material].Grades {
			if fold(g.Name) == fold(word) {
				found[i].Grade, taken = g.Name, true
			}
		}
	}
	return taken
}

func appendNew(out, found []Candidate) []Candidate {
	for _, c := range found {
		if !slices.ContainsFunc(out, func(x Candidate) bool { return x.Material == c.Material && x.Grade == c.Grade }) {
			out = append(out, c)
		}
	}
	return out
}

package material

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// SpecimenHazard is something that makes a specimen dangerous to people.
type SpecimenHazard struct {
	ID string
	// Names are the words of the record for it: arsenic, mercury, pesticide …
	Names []string
	// Substance says what it is where the name does not, or "".
	Substance string
	// Dust says that dry work sets it free.
	Dust bool
	// Carried are the liquids, or classes of them, that carry it along.
	Carried []string
	// Caution is the usual protection, a minimum.
	Caution  string
	Evidence Evidence
}

// HazardPlace is what sort of text words stand in.
type HazardPlace string

// The places. A word of AnyText counts everywhere, one of NamedMaterial in the names of
// what was used and in every text of a pest treatment.
const (
	AnyText       HazardPlace = "any"
	NamedMaterial HazardPlace = "material"
	PestText      HazardPlace = "pest-treatment"
	FluidText     HazardPlace = "fluid-change"
)

var hazardPlaces = wordSet(AnyText, NamedMaterial, PestText, FluidText)

// HazardWord is a word on an old label or card that makes a hazard suspected, and never
// more than that.
type HazardWord struct {
	Text     string
	Hazard   SpecimenHazard
	Where    HazardPlace
	Evidence Evidence

	tokens []string
}

// counts tells whether the word means a hazard in such a text.
func (w HazardWord) counts(in HazardPlace) bool {
	return w.Where == AnyText || w.Where == in || w.Where == NamedMaterial && in == PestText
}

// SpecimenHazards lists what makes specimens dangerous to people.
func (b *Base) SpecimenHazards() []SpecimenHazard { return slices.Clone(b.specimenHazards) }

// SpecimenHazard finds the hazard of a name of the record and a substance; without the
// substance, the first of that name.
func (b *Base) SpecimenHazard(name, substance string) (SpecimenHazard, bool) {
	first := -1
	for i, h := range b.specimenHazards {
		switch {
		case !slices.Contains(h.Names, name):
		case h.Substance == substance:
			return h, true
		case first < 0:
			first = i
		}
	}
	if first < 0 || name == "other" || name == "pesticide" && substance == "" {
		return SpecimenHazard{}, false
	}
	return b.specimenHazards[first], true
}

// HazardWordsIn finds the words of a text that make a hazard suspected, each hazard once,
// in the order of the text; the longest word counts where words overlap.
func (b *Base) HazardWordsIn(text string, in HazardPlace) []HazardWord {
	tokens := foldedTokens(text)
	var found []HazardWord
	for at := 0; at < len(tokens); {
		longest := 0
		for _, i := range b.hazardWordsBy[tokens[at]] {
			w := b.hazardWords[i]
			if !w.counts(in) || !begins(tokens[at:], w.tokens) || len(w.tokens) < longest {
				continue
			}
			longest = len(w.tokens)
			if !slices.ContainsFunc(found, func(x HazardWord) bool { return x.Hazard.ID == w.Hazard.ID }) {
				found = append(found, w)
			}
		}
		at += max(1, longest)
	}
	return found
}

// HazardWordsOf finds the words in the names of a material, or of what it behaves like,
// that make a hazard suspected. Old words, which may mean something else, do not count.
func (b *Base) HazardWordsOf(material string) []HazardWord {
	var found []HazardWord
	for _, id := range slices.Compact([]string{material, b.behavesAs(material)}) {
		for _, n := range b.namesOf[id] {
			if n.Kind == OldWord || n.Kind == Abbreviation {
				continue
			}
			for _, w := range b.HazardWordsIn(n.Text, NamedMaterial) {
				if !slices.ContainsFunc(found, func(x HazardWord) bool { return x.Hazard.ID == w.Hazard.ID }) {
					found = append(found, w)
				}
			}
		}
	}
	return found
}

// HazardousMaterials are the materials whose names make a hazard suspected.
func (b *Base) HazardousMaterials() []string {
	return slices.DeleteFunc(slices.Clone(b.order), func(id string) bool { return len(b.HazardWordsOf(id)) == 0 })
}

func begins(tokens, with []string) bool {
	return len(tokens) >= len(with) && slices.Equal(tokens[:len(with)], with)
}

var (
	unaccented = strings.NewReplacer(
		"ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss", "à", "a", "â", "a", "á", "a", "ç", "c", "é", "e", "è", "e", "ê", "e",
		"ë", "e", "î", "i", "ï", "i", "í", "i", "ô", "o", "ó", "o", "û", "u", "ù", "u", "ú", "u", "ñ", "n", "œ", "oe", "æ", "ae",
		"₂", "2", "₃", "3")
	token = regexp.MustCompile(`\p{L}+[0-9]*(?:\p{L}|[0-9])*|[0-9]+`)
)

// foldedTokens are the words and numbers of a text, in lower case and without accents.
func foldedTokens(text string) []string {
	return token.FindAllString(folded(text), -1)
}

// folded is a text in lower case and without accents.
func folded(text string) string {
	text = strings.ToLower(text)
	for i := range len(text) {
		if text[i] >= utf8.RuneSelf {
			return unaccented.Replace(text)
		}
	}
	return text
}

var spelled = strings.NewReplacer(
	"ae", "(ae|ä|æ)", "oe", "(oe|ö|œ)", "ue", "(ue|ü)", "ss", "(ss|ß)", "a", "[aàâá]", "c", "[cç]", "e", "[eéèêë]",
	"i", "[iîïí]", "n", "[nñ]", "o", "[oôó]", "u", "[uûùú]", "2", "[2₂]", "3", "[3₃]")

// HazardPattern is a regular expression, without regard to case, that every text matches
// in which a word of AnyText or NamedMaterial stands, also as JSON writes it; others may
// match too.
func (b *Base) HazardPattern() string {
	var words []string
	for _, w := range b.hazardWords {
		if w.Where == AnyText || w.Where == NamedMaterial {
			words = append(words, spelled.Replace(longestOf(w.tokens)))
		}
	}
	slices.Sort(words)
	return `(^|[^a-z]|\\[nrt])(` + strings.Join(slices.Compact(words), "|") + ")"
}

// MayNameHazard tells whether a text matches HazardPattern. It looks in the folded text wherever a word
// may begin, also as JSON writes it, which takes a small part of the time of the expression.
func (b *Base) MayNameHazard(text string) bool {
	text = folded(text)
	for at := range len(text) {
		if !mayBeginAt(text, at) {
			continue
		}
		for _, word := range b.telling[text[at]] {
			if strings.HasPrefix(text[at:], word) {
				return true
			}
		}
	}
	return false
}

func mayBeginAt(text string, at int) bool {
	return at == 0 || text[at-1] < 'a' || text[at-1] > 'z' ||
		at > 1 && text[at-2] == '\\' && strings.IndexByte("nrt", text[at-1]) >= 0
}

func longestOf(tokens []string) string {
	return slices.MaxFunc(tokens, func(x, y string) int { return cmp.Compare(len(x), len(y)) })
}

func readSpecimenHazards(b *Base, r *reader) {
	r.table("specimen-hazards.tsv", "id hazard substance dust carried caution source also status", func(w row) {
		h := SpecimenHazard{
			ID: w.need("id"), Names: strings.Fields(w.need("hazard")), Substance: w.text("substance"),
			Dust: word(w, "dust", labelMark) == "yes", Carried: strings.Fields(w.text("carried")),
			Caution: w.need("caution"), Evidence: w.evidence(),
		}
		for _, liquid := range h.Carried {
			if _, ok := b.materials[liquid]; !ok {
				w.fail("carried: %q is not a material", liquid)
			}
		}
		b.specimenHazards = append(b.specimenHazards, h)
	})
	r.table("specimen-hazard-words.tsv", "word language hazard where remark source status", func(w row) {
		at := slices.IndexFunc(b.specimenHazards, func(h SpecimenHazard) bool { return h.ID == w.need("hazard") })
		if at < 0 {
			w.fail("hazard: %q is not in the table of hazards", w.need("hazard"))
			return
		}
		x := HazardWord{Text: w.need("word"), Hazard: b.specimenHazards[at],
			Where: word(w, "where", hazardPlaces), Evidence: w.evidence()}
		if x.tokens = foldedTokens(x.Text); len(x.tokens) == 0 {
			w.fail("word: %q has no letters", x.Text)
			return
		}
		b.hazardWords = append(b.hazardWords, x)
	})
	slices.SortStableFunc(b.hazardWords, func(x, y HazardWord) int { return cmp.Compare(len(y.tokens), len(x.tokens)) })
	for i, x := range b.hazardWords {
		if x.Where == AnyText || x.Where == NamedMaterial {
			telling := longestOf(x.tokens)
			b.telling[telling[0]] = append(b.telling[telling[0]], telling)
		}
		b.hazardWordsBy[x.tokens[0]] = append(b.hazardWordsBy[x.tokens[0]], i)
	}
}

package material

import "strings"

// set is a closed list of words.
type set[T ~string] map[T]bool

func wordSet[T ~string](words ...T) set[T] {
	s := make(set[T], len(words))
	for _, w := range words {
		s[w] = true
	}
	return s
}

// has tells whether w is on the list.
func (s set[T]) has(w string) bool { return s[T(w)] }

var (
	statuses     = wordSet(Verified, Read, Computed, Memory, CommonPractice)
	ranks        = wordSet(Preferred, Also, Disagrees, Doubted)
	ages         = wordSet(Fresh, Aged, AnyAge)
	contacts     = wordSet(LiquidContact, VapourContact)
	observations = wordSet(DissolvesIt, Softens, Swells, NoEffect, Disputed, UnknownEffect)
	answers      = wordSet(Yes, Partly, No, NotKnown)
	bases        = wordSet("mass-per-solution-volume", "mass-per-solvent-volume", "mass-fraction", "volume-fraction",
		"parts-by-volume", "parts-by-mass", "one-in", "as-supplied-volume", "unknown")
)

// Age says how old a film is.
type Age string

// The ages that evidence is about.
const (
	Fresh  Age = "fresh" // a new film; of a dispersion, before drying
	Aged   Age = "aged"  // an old film
	AnyAge Age = "any"   // not limited, or not known
)

// Role is what a layer does on a specimen.
type Role string

// The roles of a layer.
const (
	Consolidant            Role = "consolidant"
	PenetratingConsolidant Role = "penetrating-consolidant"
	Coating                Role = "coating"
	Barrier                Role = "barrier"
	LabelBase              Role = "label-base"
	LabelTop               Role = "label-top"
	Ink                    Role = "ink"
	Adhesive               Role = "adhesive"
	Fill                   Role = "fill"
	Paint                  Role = "paint"
	Mount                  Role = "mount"
	OtherRole              Role = "other"
	UnknownRole            Role = "unknown"
	// AnyRole is the role of a row that holds for every role; no layer has it.
	AnyRole Role = "any"
)

var roles = wordSet(Consolidant, PenetratingConsolidant, Coating, Barrier, LabelBase, LabelTop, Ink, Adhesive,
	Fill, Paint, Mount, OtherRole, UnknownRole, AnyRole)

// fold makes words comparable: lower case, letters and digits only.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r > 127:
			return r
		}
		return -1
	}, s)
}

package label

import (
	"strings"

	"meniscus/internal/bibliography"
)

// Rule is a published rule, or a practice that is called one.
type Rule struct {
	Says   string
	Source string
	// Status is verified, memory (the source itself not seen) or
	// common-practice.
	Status string
}

// Size is how large a label, its pictograms and its letters must be at least.
// Lengths are in mm; the long side of the label lies across.
type Size struct {
	Width, Height float64
	// Side is the side of a pictogram's frame, and LeastSide what it may shrink to.
	Side, LeastSide float64
	// XHeight is the height of the letter x.
	XHeight float64
}

// SmallPackage is the capacity in mL up to which statements may be left out
// (Regulation (EC) No 1272/2008, Annex I, 1.5.2.1).
const SmallPackage = 125

// cited are the texts of sources by their keys.
func cited(keys ...string) string {
	texts := make([]string, len(keys))
	for i, key := range keys {
		texts[i] = bibliography.Named(key).Citation
	}
	return strings.Join(texts, "; ")
}

// The rules that decide sizes.
var (
	sizeRule = Rule{
		Says: "Least sizes of label and pictogram by the capacity of the package: 52 × 74 mm if possible up to 3 " +
			"L, 74 × 105 up to 50 L, 105 × 148 up to 500 L, 148 × 210 above; side of the pictogram 16 mm if possible " +
			"and not below 10 up to 3 L, then 23, 32 and 46 (Annex I, 1.2.1.4, table 1.3).",
		Source: cited("clp-2026"),
		Status: "verified",
	}
	letterRule = Rule{
		Says: "Least height of the letter x: 1.2 mm up to 0.5 L, 1.4 up to 3 L, 1.8 up to 50 L, 2.0 above; lines " +
			"at least 120 % of the letters apart.",
		Source: cited("eu-2024-2865"),
		Status: "memory",
	}
	smallLetterRule = Rule{
		Says: "On containers of up to 10 mL letters may be smaller if they are legible; here the x is at least " +
			"0.9 mm, which the rules on food labels (Article 13(3)) ask of the smallest food packages.",
		Source: cited("eu-2024-2865", "eu-1169-2011"), Status: "memory",
	}
	smallSizeRule = Rule{
		Says: "No norm says what is possible where 52 × 74 mm is not. Here that is up to 30 mL: 37 × 52 mm, up to " +
			"10 mL 26 × 37, up to 3 mL 18 × 26, each half of the next (ISO 216).",
		Source: cited("label-sizes"), Status: "common-practice",
	}
)

// published is table 1.3 with the letters of 2024/2865. The last row is for all
// larger capacities.
var published = []struct {
	upTo float64 // mL
	size Size
}{
	{500, Size{Width: 74, Height: 52, Side: 16, LeastSide: 16, XHeight: 1.2}},
	{3_000, Size{Width: 74, Height: 52, Side: 16, LeastSide: 16, XHeight: 1.4}},
	{50_000, Size{Width: 105, Height: 74, Side: 23, LeastSide: 23, XHeight: 1.8}},
	{500_000, Size{Width: 148, Height: 105, Side: 32, LeastSide: 32, XHeight: 2.0}},
	{0, Size{Width: 210, Height: 148, Side: 46, LeastSide: 46, XHeight: 2.0}},
}

// sizeFor is the published least size of a full label for a capacity in mL.
func sizeFor(capacity float64) Size {
	for _, row := range published {
		if capacity <= row.upTo {
			return row.size
		}
	}
	return published[len(published)-1].size
}

// small is the size of the container's piece of a small package: the published
// one where it is possible.
func small(capacity float64) Size {
	switch {
	case capacity <= Vial:
		return Size{Width: 26, Height: 18, Side: 10, LeastSide: 10, XHeight: 0.9}
	case capacity <= 10:
		return Size{Width: 37, Height: 26, Side: 10, LeastSide: 10, XHeight: 0.9}
	case capacity <= 30:
		return Size{Width: 52, Height: 37, Side: 16, LeastSide: 10, XHeight: 1.2}
	}
	s := sizeFor(capacity)
	s.LeastSide = 10
	return s
}

// larger are the sizes that a label grows through: ISO 216, the A and B series in
// turn.
var larger = [][2]float64{{31, 22}, {37, 26}, {44, 31}, {52, 37}, {62, 44}, {74, 52}, {88, 62}, {105, 74}, {125, 88},
	{148, 105}, {176, 125}, {210, 148}, {250, 176}, {297, 210}}

// grown is the next larger size; false after the largest.
func (s Size) grown() (Size, bool) {
	for _, next := range larger {
		if next[0] > s.Width {
			s.Width, s.Height = next[0], next[1]
			return s, true
		}
	}
	return s, false
}

// rules gathers the rules that were applied.
func (l *Label) rules(h hazards, capacity float64) {
	l.Rules = append(l.Rules, sizeRule, letterRule)
	if capacity <= 30 {
		l.Rules = append(l.Rules, smallSizeRule)
	}
	if capacity <= 10 {
		l.Rules = append(l.Rules, smallLetterRule)
	}
	l.Rules = append(l.Rules, h.rules()...)
	seen := map[Rule]bool{}
	for _, o := range l.LeftOut {
		if !seen[o.Rule] {
			seen[o.Rule] = true
			l.Rules = append(l.Rules, o.Rule)
		}
	}
}

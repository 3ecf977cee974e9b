package solution

import (
	"fmt"
	"slices"
)

// Hydrate is the form in which a salt is sold: the water in its crystals weighs too.
type Hydrate string

const (
	Anhydrous     Hydrate = "anhydrous"
	Monohydrate   Hydrate = "monohydrate"
	Dihydrate     Hydrate = "dihydrate"
	Heptahydrate  Hydrate = "heptahydrate"
	Dodecahydrate Hydrate = "dodecahydrate"
)

// waters is the number of molecules of water to one of the salt.
var waters = map[Hydrate]float64{Anhydrous: 0, Monohydrate: 1, Dihydrate: 2, Heptahydrate: 7, Dodecahydrate: 12}

// PhosphateBuffer says in which form the two salts are at hand.
type PhosphateBuffer struct {
	Monobasic Hydrate // of sodium dihydrogen phosphate; empty if the label does not say
	// MonobasicMeant is the form that a recipe's 4 g/L mean; empty if it does not say.
	MonobasicMeant Hydrate
	Dibasic        Hydrate // of disodium hydrogen phosphate
	Alone          bool    // only the salt that has its form named, the other left out
}

// Molar masses from the IUPAC conventional atomic weights: Na 22.990, H 1.008,
// P 30.974, O 15.999 g/mol.
const (
	massWater     = 2*1.008 + 15.999
	massMonobasic = 22.990 + 2*1.008 + 30.974 + 4*15.999 // NaH₂PO₄
	massDibasic   = 2*22.990 + 1.008 + 30.974 + 4*15.999 // Na₂HPO₄
)

// The recipe of neutral buffered formalin, g in a litre. The source gives the
// dibasic salt as anhydrous and does not say which form the monobasic one has.
const (
	monobasicPerLitre = 4.0
	dibasicPerLitre   = 6.5
)

// BufferSalt is one salt to weigh.
type BufferSalt struct {
	Name    string
	Formula string
	Form    Hydrate
	// Grams, or from Grams to GramsHigh where the source leaves the form open.
	Grams, GramsHigh float64
	Note             string
}

// inForm gives the mass of a hydrate that holds as much salt as the given grams
// of another form: g₂ = g₁ (M + n₂ M_w)/(M + n₁ M_w).
func inForm(grams, molarMass float64, from, to Hydrate) float64 {
	return grams * (molarMass + waters[to]*massWater) / (molarMass + waters[from]*massWater)
}

// forms in which each salt is sold.
var (
	monobasicForms = []Hydrate{Anhydrous, Monohydrate, Dihydrate}
	dibasicForms   = []Hydrate{Anhydrous, Dihydrate, Heptahydrate, Dodecahydrate}
)

// check refuses forms that do not exist.
func (b PhosphateBuffer) check(c *checker) {
	for pointer, form := range map[string]Hydrate{
		"/buffer/monobasic": b.Monobasic, "/buffer/monobasicMeant": b.MonobasicMeant,
	} {
		if form != "" && !slices.Contains(monobasicForms, form) {
			c.faults.Add("salt-form", pointer,
				"Sodium dihydrogen phosphate is sold anhydrous, as monohydrate and as dihydrate.")
		}
	}
	if b.Dibasic != "" && !slices.Contains(dibasicForms, b.Dibasic) {
		c.faults.Add("salt-form", "/buffer/dibasic",
			"Disodium hydrogen phosphate is sold anhydrous, as dihydrate, heptahydrate and dodecahydrate.")
	}
	if b.Alone && (b.Monobasic == "") == (b.Dibasic == "") {
		c.faults.Add("salt-alone", "/buffer/alone", "Name the form of the one salt that is wanted alone, monobasic or "+
			"dibasic, and leave out the other; for both, leave this out.")
	}
}

// weighed is what of the two salts is asked for, and what is left out of them.
func (b PhosphateBuffer) weighed(litres float64) (taken, left []BufferSalt) {
	salts := b.salts(litres)
	switch {
	case !b.Alone:
		return salts, nil
	case b.Monobasic != "":
		return salts[:1], salts[1:]
	}
	return salts[1:], salts[:1]
}

// salts gives both for a number of litres.
func (b PhosphateBuffer) salts(litres float64) []BufferSalt {
	dibasic := b.Dibasic
	if dibasic == "" {
		dibasic = Anhydrous
	}
	return []BufferSalt{
		b.monobasic(litres),
		{
			Name: "disodium hydrogen phosphate", Formula: "Na₂HPO₄", Form: dibasic,
			Grams: inForm(dibasicPerLitre*litres, massDibasic, Anhydrous, dibasic),
			Note:  "The recipe means the anhydrous salt; taking a hydrate gram for gram is the usual mistake.",
		},
	}
}

// monobasic gives both readings of "4 g/L" where the recipe's form is not said and they
// differ: as the monohydrate, which is commonly sold, or as the anhydrous salt.
func (b PhosphateBuffer) monobasic(litres float64) BufferSalt {
	s := BufferSalt{Name: "sodium dihydrogen phosphate", Formula: "NaH₂PO₄", Form: b.Monobasic,
		Grams: monobasicPerLitre * litres}
	if b.MonobasicMeant != "" {
		if s.Form == "" {
			s.Form = b.MonobasicMeant
		}
		s.Grams = inForm(s.Grams, massMonobasic, b.MonobasicMeant, s.Form)
		s.Note = "4 g/L are read as the " + string(b.MonobasicMeant) + " form, as the request says."
		return s
	}
	s.Note = "The source says 4 g/L and not which form; the forms differ by 15 % in phosphate."
	if b.Monobasic == "" {
		return s
	}
	s.Grams = inForm(monobasicPerLitre*litres, massMonobasic, Monohydrate, b.Monobasic)
	s.GramsHigh = inForm(monobasicPerLitre*litres, massMonobasic, Anhydrous, b.Monobasic)
	return s
}

// said names the salt with the amount that the scale shows.
func (s BufferSalt) said(scale gauge) string {
	form := ""
	if s.Form != "" {
		form = ", " + string(s.Form)
	}
	return fmt.Sprintf("%s of %s (%s%s)", s.grams(scale), s.Name, s.Formula, form)
}

// short is the salt by its formula.
func (s BufferSalt) short(scale gauge) string {
	if s.Form == "" {
		return s.grams(scale) + " of " + s.Formula
	}
	return fmt.Sprintf("%s of %s (%s)", s.grams(scale), s.Formula, s.Form)
}

// grams is its amount, or the range of it.
func (s BufferSalt) grams(scale gauge) string {
	if s.GramsHigh > 0 {
		return digits(scale.round(s.Grams)) + " to " + scale.say(scale.round(s.GramsHigh))
	}
	return scale.say(scale.round(s.Grams))
}

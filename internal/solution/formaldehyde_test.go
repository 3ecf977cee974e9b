package solution

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"

	"pgregory.net/rapid"
)

func stock37(density string) FormaldehydeStock {
	s := FormaldehydeStock{ByMass: quantity.New("37", quantity.Percent)}
	if density != "" {
		s.Density = quantity.New(density, quantity.GramsPerML)
	}
	return s
}

func mustFormaldehyde(t *testing.T, f Formaldehyde) FormaldehydeAnswer {
	t.Helper()
	a, err := ComputeFormaldehyde(f)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Published dilutions of formalin.
func TestFormaldehydeAsPublished(t *testing.T) {
	t.Parallel()
	litre := quantity.New("1", "L")
	// 10 % formalin is 1 part of stock with 9 of water and holds 3.7 to 4.0 %
	// formaldehyde (37 to 40 % stock). Source: histology supplier's data sheet; two
	// further pages agree. 40 % there is g in 100 mL, as the next test shows.
	a := mustFormaldehyde(t, Formaldehyde{Stock: stock37("1.083"),
		Target: FormaldehydeTarget{AsSupplied: quantity.New("10", quantity.Percent)}, Amount: litre})
	if math.Abs(a.StockVolume.Value-100) > 1e-9 || math.Abs(a.Water.Value-900) > 1e-9 {
		t.Errorf("10 %% formalin: got %g mL stock and %g mL water, want 100 and 900", a.StockVolume.Value, a.Water.Value)
	}
	if c := a.PerVolume.Value; c < 3.7 || c > 4.02 {
		t.Errorf("10 %% formalin: got %g g in 100 mL, want 3.7 to 4.0", c)
	}
	// 37 % by mass is 40 % in the trade sense (g in 100 mL). Source: histology
	// teaching page, to 0.5 %; the density, 1.08 to 1.09, is recalled.
	for _, density := range []string{"1.08", "1.09"} {
		a := mustFormaldehyde(t, Formaldehyde{Stock: stock37(density),
			Target: FormaldehydeTarget{AsSupplied: quantity.New("10", quantity.Percent)}, Amount: litre})
		if c := a.StockPerVolume.Value; math.Abs(c-40) > 0.5 {
			t.Errorf("37 %% of %s g/mL: got %g g in 100 mL, want 40 ± 0.5", density, c)
		}
	}
	// 1 L of 4.0 g in 100 mL from 37 % of 1.083 g/mL: 99.8 mL. Computed; density recalled.
	a = mustFormaldehyde(t, Formaldehyde{Stock: stock37("1.083"),
		Target: FormaldehydeTarget{PerVolume: quantity.New("4.0", quantity.GramsPerDL)}, Amount: litre})
	if math.Abs(a.StockVolume.Value-99.8) > 0.05 {
		t.Errorf("4.0 g in 100 mL: got %g mL of stock, want 99.8", a.StockVolume.Value)
	}
}

// Neutral buffered formalin: NaH₂PO₄ 4 g/L, Na₂HPO₄ (anhydrous) 6.5 g/L (histology
// supplier's data sheet). 6.5 g of the anhydrous salt is 12.27 g of the
// heptahydrate or 8.15 g of the dihydrate (molar masses; a histology posting warns
// of taking one for the other).
func TestBufferSaltsAsPublished(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		form Hydrate
		want float64
	}{{Anhydrous, 6.5}, {Heptahydrate, 12.27}, {Dihydrate, 8.15}, {"", 6.5}} {
		a := mustFormaldehyde(t, Formaldehyde{
			Stock: stock37(""), Target: FormaldehydeTarget{AsSupplied: quantity.New("10", quantity.Percent)},
			Amount: quantity.New("1", "L"), Buffer: &PhosphateBuffer{Dibasic: tt.form},
		})
		if got := a.Salts[1].Grams; math.Abs(got-tt.want) > 0.005 {
			t.Errorf("dibasic, %q: got %.4f g, want %g", tt.form, got, tt.want)
		}
		if got := a.Salts[0].Grams; got != 4 {
			t.Errorf("monobasic: got %g g, want 4", got)
		}
		if hasWarning(a.Advice, "unbuffered") || !hasWarning(a.Advice, "density-recalled") {
			t.Errorf("warnings: got %v", codes(a.Advice))
		}
	}
	// Where the form at hand is known, both readings of the recipe are given.
	s := PhosphateBuffer{Monobasic: Monohydrate}.salts(1)[0]
	if s.Grams != 4 || math.Abs(s.GramsHigh-4*137.99/119.98) > 0.001 {
		t.Errorf("monobasic monohydrate: got %g to %g, want 4 to 4.600", s.Grams, s.GramsHigh)
	}
}

// One salt alone, in every form that it is sold in. 6.5 g of the anhydrous dibasic salt are 12.27 g
// of the heptahydrate (aquatic plants mailing list, November 1997, formula weights 142 and 268) and
// 8.15 g of the dihydrate; 4 g of the anhydrous monobasic salt are 5.2 g of the dihydrate (chemistry
// forum, 9 July 2012: 3.2 g are 4.16 g). A printed recipe whose monobasic salt is the monohydrate
// says 4 g/L of it (Stainsfile, '10% Neutral Buffered Formalin'). The others are of the molar masses
// in the IUPAC conventional atomic weights: 119.98, 137.99, 141.96 and 358.14 g/mol.
func TestOneSaltAlone(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		buffer        PhosphateBuffer
		want          float64
		formula, left string
	}{
		"heptahydrate":  {PhosphateBuffer{Dibasic: Heptahydrate}, 12.27, "Na₂HPO₄", "4 g of NaH₂PO₄"},
		"dihydrate":     {PhosphateBuffer{Dibasic: Dihydrate}, 8.15, "Na₂HPO₄", "4 g of NaH₂PO₄"},
		"dodecahydrate": {PhosphateBuffer{Dibasic: Dodecahydrate}, 6.5 * 358.14 / 141.96, "Na₂HPO₄", "4 g of NaH₂PO₄"},
		"anhydrous, and the form meant of the other": {PhosphateBuffer{Dibasic: Anhydrous, MonobasicMeant: Monohydrate}, 6.5,
			"Na₂HPO₄", "4 g of NaH₂PO₄ (monohydrate)"},
		"monohydrate as printed": {PhosphateBuffer{Monobasic: Monohydrate, MonobasicMeant: Monohydrate}, 4,
			"NaH₂PO₄", "6.5 g of Na₂HPO₄ (anhydrous)"},
		"monobasic dihydrate for anhydrous": {PhosphateBuffer{Monobasic: Dihydrate, MonobasicMeant: Anhydrous}, 5.2,
			"NaH₂PO₄", "6.5 g of Na₂HPO₄ (anhydrous)"},
		"monobasic anhydrous for monohydrate": {PhosphateBuffer{Monobasic: Anhydrous, MonobasicMeant: Monohydrate},
			4 * 119.98 / 137.99, "NaH₂PO₄", "6.5 g of Na₂HPO₄ (anhydrous)"},
	} {
		tt.buffer.Alone = true
		f := Formaldehyde{Stock: stock37("1.083"), Target: FormaldehydeTarget{AsSupplied: quantity.New("10", quantity.Percent)},
			Amount: quantity.New("1", "L"), Buffer: &tt.buffer}
		a := mustFormaldehyde(t, f)
		if len(a.Salts) != 1 || math.Abs(a.Salts[0].Grams-tt.want) > 0.005 || a.Salts[0].GramsHigh != 0 ||
			a.Salts[0].Formula != tt.formula {
			t.Errorf("%s: got %+v, want %g g of %s alone", name, a.Salts, tt.want, tt.formula)
		}
		said := ""
		for _, w := range a.Warnings {
			if w.Code == "one-salt-alone" {
				said = w.Sentence
			}
		}
		if want := "A buffer needs both salts, and " + tt.formula + " alone is none: " + tt.left + " goes"; !strings.HasPrefix(said, want) {
			t.Errorf("%s: got %q, want it to begin %q", name, said, want)
		}
		label := a.Steps[len(a.Steps)-1]
		if !strings.Contains(label, "with "+tt.formula+" alone, not buffered") || hasWarning(a.Advice, "unbuffered") {
			t.Errorf("%s: the label says %q, warnings %v", name, label, codes(a.Advice))
		}
		// In a stock that is buffered already it is one salt more than is needed, and the label says buffered.
		f.Stock.Buffered = true
		a = mustFormaldehyde(t, f)
		if label := a.Steps[len(a.Steps)-1]; !hasWarning(a.Advice, "buffered-twice") || hasWarning(a.Advice, "one-salt-alone") ||
			!strings.Contains(label, "phosphate-buffered") {
			t.Errorf("%s in a buffered stock: the label says %q, warnings %v", name, label, codes(a.Advice))
		}
	}
	// A form that a recipe means is that at hand where nothing else is said of it.
	if s := (PhosphateBuffer{MonobasicMeant: Monohydrate}).salts(1); len(s) != 2 || s[0].Form != Monohydrate || s[0].Grams != 4 {
		t.Errorf("meant as monohydrate: got %+v, want 4 g of it", s)
	}
}

// The measured stock holds as much formaldehyde as the finished solution asked for.
func TestFormaldehydeIsConserved(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(low, high float64, name string, unit quantity.Unit) quantity.Quantity {
			q, _ := quantity.Of(quantity.RoundTo(rapid.Float64Range(low, high).Draw(rt, name), 1e-6), unit)
			return q
		}
		stock := FormaldehydeStock{ByMass: draw(30, 50, "w", quantity.Percent),
			Density: draw(1, 1.2, "ρ", quantity.GramsPerML)}
		w, _ := stock.ByMass.In(quantity.One)
		rho, _ := stock.Density.In(quantity.GramsPerML)
		c := draw(0.1, 29, "c", quantity.GramsPerDL)
		v := draw(1, 5000, "V", quantity.Millilitre)
		a, err := ComputeFormaldehyde(Formaldehyde{Stock: stock, Target: FormaldehydeTarget{PerVolume: c}, Amount: v})
		if err != nil {
			rt.Fatal(err)
		}
		want := c.Value.Float64() / 100 * v.Value.Float64()
		if got := a.StockVolume.Value * rho * w; math.Abs(got-want) > 1e-9*want {
			rt.Errorf("formaldehyde: got %g g, want %g", got, want)
		}
		// By mass: the same, in grams per gram.
		a, err = ComputeFormaldehyde(Formaldehyde{Stock: stock,
			Target: FormaldehydeTarget{ByMass: quantity.New("4", quantity.Percent)}, Amount: quantity.New("500", "g")})
		if err != nil {
			rt.Fatal(err)
		}
		if got := a.StockMass.Value * w; math.Abs(got-20) > 1e-9 || math.Abs(a.ByMass.Value-4) > 1e-9 ||
			math.Abs(a.StockMass.Value+a.Water.Value-500) > 1e-9 {
			rt.Errorf("by mass: got %g g of formaldehyde, %g %%, %g + %g g", got, a.ByMass.Value, a.StockMass.Value,
				a.Water.Value)
		}
	})
}

func TestFormaldehydeSaysWhatItDoes(t *testing.T) {
	t.Parallel()
	a := mustFormaldehyde(t, Formaldehyde{Stock: stock37("1.083"),
		Target: FormaldehydeTarget{AsSupplied: quantity.New("10", quantity.Percent)}, Amount: quantity.New("2", "L")})
	if !hasWarning(a.Advice, "unbuffered") || !hasWarning(a.Advice, "formalin-is-not-formaldehyde") {
		t.Errorf("warnings: got %v", codes(a.Advice))
	}
	said := ""
	for _, h := range a.Hazards {
		said += h.Code + " "
	}
	// Index number 605-001-00-5 of Annex VI to Regulation (EC) No 1272/2008, text of July 2026.
	if want := "H350 H341 H330 H302 H314 H317 EUH071 "; said != want {
		t.Errorf("hazards: got %s, want %s", said, want)
	}
}

func TestFormaldehydeFaults(t *testing.T) {
	t.Parallel()
	percent, litre := quantity.New("10", quantity.Percent), quantity.New("1", "L")
	for name, tt := range map[string]struct {
		f       Formaldehyde
		pointer string
	}{
		"two targets": {Formaldehyde{Stock: stock37(""),
			Target: FormaldehydeTarget{AsSupplied: percent, ByMass: percent}, Amount: litre}, "/target"},
		"no target": {Formaldehyde{Stock: stock37(""), Amount: litre}, "/target"},
		"over 100 %": {Formaldehyde{Stock: stock37(""),
			Target: FormaldehydeTarget{AsSupplied: quantity.New("101", quantity.Percent)}, Amount: litre}, "/target"},
		"above the stock": {Formaldehyde{Stock: stock37("1.083"),
			Target: FormaldehydeTarget{PerVolume: quantity.New("45", quantity.GramsPerDL)}, Amount: litre}, "/target"},
		"no density known": {Formaldehyde{Stock: FormaldehydeStock{ByMass: quantity.New("45", quantity.Percent)},
			Target: FormaldehydeTarget{AsSupplied: percent}, Amount: litre}, "/stock/density"},
		"by mass needs a mass": {Formaldehyde{Stock: stock37(""), Target: FormaldehydeTarget{ByMass: quantity.New("4", quantity.Percent)}, Amount: litre}, "/amount/unit"},
		"no such salt":         {Formaldehyde{Stock: stock37(""), Target: FormaldehydeTarget{AsSupplied: percent}, Amount: litre, Buffer: &PhosphateBuffer{Monobasic: Heptahydrate}}, "/buffer/monobasic"},
		"no such salt meant": {Formaldehyde{Stock: stock37(""), Target: FormaldehydeTarget{AsSupplied: percent},
			Amount: litre, Buffer: &PhosphateBuffer{MonobasicMeant: Dodecahydrate}}, "/buffer/monobasicMeant"},
		"alone, but neither": {Formaldehyde{Stock: stock37(""), Target: FormaldehydeTarget{AsSupplied: percent},
			Amount: litre, Buffer: &PhosphateBuffer{Alone: true}}, "/buffer/alone"},
		"alone, but both": {Formaldehyde{Stock: stock37(""), Target: FormaldehydeTarget{AsSupplied: percent},
			Amount: litre, Buffer: &PhosphateBuffer{Alone: true, Monobasic: Anhydrous, Dibasic: Anhydrous}},
			"/buffer/alone"},
		"nothing to make": {Formaldehyde{Stock: stock37(""), Target: FormaldehydeTarget{AsSupplied: percent}, Amount: quantity.New("0", "L")}, "/amount"},
	} {
		_, err := ComputeFormaldehyde(tt.f)
		found := false
		for _, f := range fault.From(err) {
			found = found || f.Pointer == tt.pointer
		}
		if !found {
			t.Errorf("%s: got %v, want a fault at %s", name, err, tt.pointer)
		}
	}
}

// The ways in which the same dilution is asked. 10 % formalin is 1 part of stock with 9 of
// water (histology supplier's data sheet, read); formalin sold as 40 % w/v and 4 g in 100 mL
// is the same tenth (recalled); 1 in 25 is 4 g in 100 mL by definition.
func TestFormalinAskedInOtherWords(t *testing.T) {
	t.Parallel()
	litre := quantity.New("1", "L")
	parts, ok := FormaldehydeTargetOf(Strength{Basis: PartsByVolume,
		Parts: [2]quantity.Decimal{quantity.MustDecimal("1"), quantity.MustDecimal("9")}})
	if !ok {
		t.Fatal("parts are not taken")
	}
	oneIn, ok := FormaldehydeTargetOf(Strength{Basis: OneIn, Number: quantity.New("25", quantity.MLPerGram)})
	if !ok {
		t.Fatal("one in n is not taken")
	}
	by40 := FormaldehydeStock{PerVolume: quantity.New("40", quantity.GramsPerDL)}
	for name, f := range map[string]Formaldehyde{
		"1 part to 9":         {Stock: stock37(""), Target: parts, Amount: litre},
		"40 g in 100 mL to 4": {Stock: by40, Target: FormaldehydeTarget{PerVolume: quantity.New("4", quantity.GramsPerDL)}, Amount: litre},
		"1 in 25":             {Stock: by40, Target: oneIn, Amount: litre},
	} {
		a := mustFormaldehyde(t, f)
		if math.Abs(a.StockVolume.Value-100) > 1e-9 {
			t.Errorf("%s: got %v mL of stock, want 100", name, a.StockVolume.Value)
		}
	}
	// A strength by volume makes the volume of the stock independent of its density.
	if u := mustFormaldehyde(t, Formaldehyde{Stock: by40, Target: oneIn, Amount: litre}).StockVolume.Standard; u > 1e-9 {
		t.Errorf("the density plays no part in it, got ± %v mL", u)
	}
}

// The amounts as the instruments show them, and the strength that they give: 99.8 mL by a
// 5 mL cylinder is 100 mL, and 4.007 g in 100 mL for the 4 that were asked.
func TestFormalinRounded(t *testing.T) {
	t.Parallel()
	f := Formaldehyde{Stock: stock37("1.083"),
		Target: FormaldehydeTarget{PerVolume: quantity.New("4", quantity.GramsPerDL)}, Amount: quantity.New("1", "L")}
	f.Measure.Readability = quantity.New("5", "mL")
	a := mustFormaldehyde(t, f)
	if a.AsRounded.Stock != 100 || a.AsRounded.MadeUpTo != 1000 ||
		math.Abs(a.AsRounded.PerVolume.Value-4.0071) > 1e-9 || a.AsRounded.PerVolume.Standard == 0 {
		t.Errorf("got %+v, want 100 mL to 1000 mL, 4.0071 g in 100 mL with the cylinder's uncertainty", a.AsRounded)
	}
	f = Formaldehyde{Stock: stock37("1.083"), Target: FormaldehydeTarget{ByMass: quantity.New("4", quantity.Percent)},
		Amount: quantity.New("500", "g"), Buffer: &PhosphateBuffer{}}
	f.Scale.Readability = quantity.New("1", "g")
	a = mustFormaldehyde(t, f)
	if a.AsRounded.Stock != 54 || a.AsRounded.MadeUpTo != 500 || math.Abs(a.AsRounded.ByMass.Value-37*54./500) > 1e-9 {
		t.Errorf("by mass: got %+v, want 54 g of 500", a.AsRounded)
	}
	steps := strings.Join(a.Steps, "\n")
	for _, want := range []string{"to zero, and pour in the stock until it shows 54 g", "disodium hydrogen phosphate",
		"Set the scale to zero, and pour that and the rest of the water in until it shows 446 g",
		"% by mass, phosphate-buffered"} {
		if !strings.Contains(steps, want) {
			t.Errorf("steps: got %s, want %q among them", steps, want)
		}
	}
}

// A stock is named by its content. 10 % formalin holds 3.7 to 4.0 g of formaldehyde in 100 mL
// (histology supplier's data sheet, read): of a stock of 4 g in 100 mL, 10 % is a tenth of that,
// and one to one of it is half, about 5 % formalin. Nothing is refused for being weak.
func TestAWeakStockIsNotCalledFormalin(t *testing.T) {
	t.Parallel()
	litre, percent := quantity.New("1", "L"), quantity.Percent
	weak := func(number string) FormaldehydeStock {
		return FormaldehydeStock{PerVolume: quantity.New(number, quantity.GramsPerDL)}
	}
	supplied := func(number string) FormaldehydeTarget {
		return FormaldehydeTarget{AsSupplied: quantity.New(number, percent)}
	}
	a := mustFormaldehyde(t, Formaldehyde{Stock: weak("4"), Target: supplied("10"), Amount: litre})
	if math.Abs(a.PerVolume.Value-0.4) > 1e-9 || a.Formalin != nil || a.AsRounded.Formalin != nil {
		t.Errorf("got %g g in 100 mL and formalin %v, want 0.4 and none", a.PerVolume.Value, a.Formalin)
	}
	said := ""
	for _, w := range a.Warnings {
		if w.Code == "stock-is-not-formalin" {
			said = w.Sentence
		}
	}
	for _, want := range []string{"as much as about 1 % formalin", "10 % formalin would hold about 4 g", "fixed with about 4"} {
		if !strings.Contains(said, want) {
			t.Errorf("got %q, want it to say %q", said, want)
		}
	}
	for _, step := range append(slices.Clone(a.Steps), a.Answer) {
		if strings.Contains(step, "formalin") {
			t.Errorf("%q calls a weak stock formalin", step)
		}
	}
	// A buffered 10 % formalin, one to one: half of it, about 5 % formalin, still buffered.
	stock := weak("4")
	stock.Buffered = true
	a = mustFormaldehyde(t, Formaldehyde{Stock: stock, Target: supplied("50"), Amount: litre})
	if math.Abs(a.PerVolume.Value-2) > 1e-9 || hasWarning(a.Advice, "unbuffered") || !hasWarning(a.Advice, "buffer-diluted") {
		t.Errorf("got %g g in 100 mL, warnings %v, want 2 and still buffered", a.PerVolume.Value, codes(a.Advice))
	}
	if label := a.Steps[len(a.Steps)-1]; !strings.Contains(label, "formaldehyde 2 g in 100 mL, phosphate-buffered") {
		t.Errorf("the label says %q", label)
	}
	if !strings.Contains(a.Warnings[1].Sentence+a.Warnings[0].Sentence, "about 5 % formalin") {
		t.Errorf("got %v, want about 5 %% formalin told", a.Warnings)
	}
	for _, number := range []string{"0.01", "0.5", "4", "20"} {
		for _, stock := range []FormaldehydeStock{weak(number), {ByMass: quantity.New(number, percent)}} {
			if _, err := ComputeFormaldehyde(Formaldehyde{Stock: stock, Target: supplied("10"), Amount: litre}); err != nil {
				t.Errorf("a stock of %s is refused: %v", number, err)
			}
		}
	}
	for _, number := range []string{"37", "38", "40"} {
		if a := mustFormaldehyde(t, Formaldehyde{Stock: weak(number), Target: supplied("10"), Amount: litre}); a.Formalin == nil {
			t.Errorf("a stock of %s g in 100 mL is formalin", number)
		}
	}
}

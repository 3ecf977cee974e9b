package dossier

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/label"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// labelStrength is the strength in words, from what was measured where that is
// known; else as a label says, else as the recipe asked.
func (d *Dossier) labelStrength(id uuid.UUID, said *record.Batch, held stock.Contents) label.Strength {
	on := d.book.Shelf()
	out := label.Strength{Changed: slices.ContainsFunc(on.Events(id.String()), stock.Event.ChangesStrength)}
	if now := on.Account(id.String()).Strength; now != nil && out.Changed {
		out.Now = strengthWords(100*now.Value, on.Unit(id.String()) == quantity.Gram)
	}
	switch {
	case held.Mixture != nil:
		out.Said, out.None = strengthIn(*held.Mixture)
		out.From = label.Weighed
		if held.ByLabel {
			out.From = label.Labelled
		}
	case said.LabelStrength.Given:
		out.Said, out.From = publishedStrength(said.LabelStrength.Value).Said(), label.Labelled
	case said.Recipe != nil && said.Recipe.Strength != nil:
		out.Said, out.From = publishedStrength(*said.Recipe.Strength).Said(), label.Asked
	case len(held.Why) > 0:
		out.Why, _, _ = strings.Cut(held.Why[0], ";") // what could be done about it is for who computes
	}
	return out
}

// strengthWords is a strength to three significant digits, which is what a person
// weighs and measures to.
func strengthWords(value float64, byMass bool) string {
	if byMass {
		return quantity.Digits(value, 3) + " % by mass"
	}
	return quantity.Digits(value, 3) + " g per 100 mL solution"
}

// strengthIn is the strength of a mixture in words; a mixture of liquids alone has none.
func strengthIn(m solution.Mixture) (said string, none bool) {
	for _, basis := range []solution.Basis{solution.MassPerSolutionVolume, solution.MassFraction} {
		if v := m.On(basis); v.Answered() && v.Value > 0 {
			return strengthWords(v.Value, basis == solution.MassFraction), false
		}
	}
	return "", !slices.ContainsFunc(m.Parts, func(p solution.Part) bool { return p.Phase == solution.Solid })
}

// liquidShares is how much there is of each liquid of a mixture of several.
func liquidShares(m solution.Mixture, changed bool) string {
	liquids := slices.DeleteFunc(slices.Clone(m.Parts), func(p solution.Part) bool {
		return p.Phase != solution.Liquid || p.Grams <= 0
	})
	if len(liquids) < 2 {
		return ""
	}
	total := 0.0
	for _, p := range liquids {
		total += p.Grams
	}
	shares := each(liquids, func(p solution.Part) string { return quantity.Digits(100*p.Grams/total, 2) + " % " + p.Name })
	said := "Liquids by mass: " + strings.Join(shares, ", ")
	if changed {
		said += ", as it was made"
	}
	return said
}

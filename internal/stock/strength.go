package stock

import (
	"slices"

	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
)

// Origin is how a strength is known; empty where it is unknown.
type Origin string

const (
	FromAmounts Origin = "weighed" // from the amounts that went in, left and were added
	FromLabel   Origin = "label"   // from the label of the batch or of one that it was made from
	FromRecipe  Origin = "recipe"  // from the recipe; it was not measured
)

// Strength is how strong a batch was at a moment: as it was said, or as it
// follows from the amounts.
type Strength struct {
	Origin Origin
	Said   *record.Strength
	// Computed follows from the amounts or from what was said, on Basis and in its
	// unit; zero without a basis.
	Computed quantity.Measured
	Basis    solution.Basis
}

// Strength is how strong a batch was when a record used it: computed from the
// amounts; where they are not all known, what the label says; else what the
// recipe asked for. A label and a recipe hold only for a batch whose strength has
// not changed since it was made. A bottle has the strength that its source had
// when the bottle was filled.
//
// AsMade instead of a record asks for the batch as it was made.
//
// Each batch is looked at once for each moment. The strength of bottles that were
// filled from each other in a circle is unknown.
func (k *Book) Strength(batch record.Ref, by string) Strength {
	if k.strong == nil {
		k.strong = map[occasion]Strength{}
	}
	return k.strength(k.at(batch, by))
}

func (k *Book) strength(at occasion) Strength {
	if known, met := k.strong[at]; met {
		return known
	}
	k.strong[at] = Strength{} // the answer inside a circle
	found := k.strengthAt(at)
	k.strong[at] = found
	return found
}

func (k *Book) strengthAt(at occasion) Strength {
	b := k.Batches[at.batch]
	if b == nil {
		return Strength{}
	}
	in := k.Shelf().At(at.batch.String(), at.by)
	computed := computedIn(in)
	if in.Changed {
		return computed
	}
	if b.LabelStrength.Given && (computed.Origin == "" || !amountsSaid(b)) {
		computed.Origin, computed.Said = FromLabel, &b.LabelStrength.Value
		return computed
	}
	if from := filledFrom(b); from != (record.Ref{}) {
		if s := k.strength(k.at(from, at.batch.String())); s.Said != nil || computed.Origin == "" {
			return s
		}
	}
	if computed.Origin == "" && b.Recipe != nil && b.Recipe.Strength != nil {
		return Strength{Origin: FromRecipe, Said: b.Recipe.Strength}
	}
	return computed
}

// computedIn is the strength that follows from the amounts; zero for what holds
// no solids.
func computedIn(in Moment) Strength {
	if in.Strength == nil || !(in.Strength.Value > 0) {
		return Strength{}
	}
	out := Strength{Origin: FromAmounts, Computed: *in.Strength, Basis: in.Basis}
	if in.ByLabel {
		out.Origin = FromLabel
	}
	return out
}

// filledFrom is the batch that all of a bottle came from, if the bottle's own
// record says no strength; else the zero UUID.
func filledFrom(b *record.Batch) record.Ref {
	if in := b.Inputs.Value; b.Type == "bottle" && len(in) == 1 && !b.LabelStrength.Given {
		return in[0].Batch
	}
	return record.Ref{}
}

// amountsSaid tells whether every amount that went in is known.
func amountsSaid(b *record.Batch) bool {
	in := b.Inputs.Value
	return len(in) > 0 && !slices.ContainsFunc(in, func(in record.Input) bool { return !in.Amount.Given })
}

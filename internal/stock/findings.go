package stock

import (
	"fmt"

	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// findings gathers one finding for each rule, which names all the entries that it
// is about. Readers skip a list of ten alike.
type findings struct {
	unknown   []string
	early     []string
	brush     []string
	perhaps   []string
	back      []string
	dried     []string
	overdrawn []string
	lowest    quantity.Measured
	differing []string
	surprise  string
}

func (f *findings) withoutAmount(c Change) { f.unknown = append(f.unknown, c.ID) }
func (f *findings) driedOut(c Change)      { f.dried = append(f.dried, c.ID) }

func (f *findings) returned(c Change) {
	switch b := c.DippedBrush; {
	case b.Value:
		f.brush = append(f.brush, c.ID)
	case b.Answer == record.AnswerUnknown:
		f.perhaps = append(f.perhaps, c.ID)
	default:
		f.back = append(f.back, c.ID)
	}
}

func (f *findings) belowZero(c Change, at quantity.Measured) {
	if len(f.overdrawn) == 0 || at.Value < f.lowest.Value {
		f.lowest = at
	}
	f.overdrawn = append(f.overdrawn, c.ID)
}

func (f *findings) differs(c Change, reckoned float64) {
	f.differing = append(f.differing, c.ID)
	f.surprise = fmt.Sprintf("%s expected, %s found", quantity.Digits(reckoned, 3), quantity.Digits(c.Amount.Value, 3))
}

func (f *findings) list(unit quantity.Unit) []Finding {
	var out []Finding
	add := func(of []string, rule string, severity Severity, sentence, remedy string) {
		if len(of) > 0 {
			out = append(out, Finding{rule, severity, sentence, remedy, of})
		}
	}
	add(f.early, "stock-used-before-made", Warn,
		"Entries use or change this batch before the day on which it was made.",
		"Amend the date that is wrong, or name the batch that it was.")
	add(f.overdrawn, "stock-below-zero", Warn,
		fmt.Sprintf("More left this batch than it held: the entries add up to %s %s less than nothing, "+
			"beyond their uncertainty.", quantity.Digits(-f.lowest.Value, 3), unit),
		"Look for a top-up that was not recorded, or for an amount that was written down twice or too large; "+
			"amend that entry.")
	add(f.differing, "stock-unexplained-difference", Warn,
		fmt.Sprintf("A weighing did not find what the entries add up to (%s, in %s). "+
			"Solution or only solvent may have gone, so the strength is uncertain between the two.", f.surprise, unit),
		"Record what left or was added if that is known; otherwise make a new batch where the strength matters.")
	add(f.dried, "stock-dried-out", Warn,
		"More solvent evaporated than there was liquid, or it is not known how much there was, so the strength is not "+
			"known from here on.",
		"Weigh what is left and record it, or discard the batch.")
	add(f.brush, "stock-returned-from-brush", Warn,
		"What a used brush was dipped into was poured back: dirt, loose fragments and residues of earlier coats may "+
			"be in this batch.",
		"Pour out a small amount for the work next time; do not use this batch where samples will be taken.")
	add(f.perhaps, "stock-returned-from-brush", Warn,
		"Solution was poured back, and whether a used brush had been dipped into it is not known: dirt and residues of "+
			"earlier coats may be in this batch.",
		"Do not use this batch where samples will be taken.")
	add(f.back, "stock-returned", Info,
		"Solution was poured back; it had stood open, so it may be stronger than the rest.",
		"Weigh the batch, or check the strength where it matters.")
	add(f.unknown, "stock-amount-unknown", Info,
		"Some entries have no amount, so what is left is not known exactly.",
		"Weigh what is left and record it.")
	return out
}

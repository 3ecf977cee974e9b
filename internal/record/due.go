package record

import "meniscus/internal/edtf"

// What is to be done, in words of the contract.
const (
	DueNextCheck     = "next-check"     // a treatment says when to look again
	DueDrying        = "drying"         // it was touch-dry or handling-dry, and no more, when last looked at
	DueAuthorisation = "authorisation"  // a plan waits for it
	DueSupplyExpires = "supply-expires" // the last day of a supply
	DueBatchExpires  = "batch-expires"  // the last day of a batch or bottle
	DueClearCheck    = "clear-check"    // a solution has not cleared yet
	DueStrengthCheck = "strength-check" // an unknown amount evaporated or was added
	DueRunningLow    = "running-low"    // a supply is said to; or a batch may, which has a LowAt
)

// Due is something to be done from a day on. The zero day is of what has no date: it waits since
// it was recorded.
type Due struct {
	What string
	Day  edtf.Day
}

// DueOf is what a statement alone says is to be done. Whether a later record settles it, the
// store knows.
func DueOf(v Value) []Due {
	switch v := v.(type) {
	case *Treatment:
		return v.due()
	case *Plan:
		if v.Authorisation.Given {
			return nil
		}
		day := firstDay(v.Treatment.Date)
		if day.IsZero() {
			day = firstDay(v.Proposed)
		}
		return []Due{{DueAuthorisation, day}}
	case *Supply:
		if v.State == "empty" || v.State == "discarded" {
			return nil
		}
		all := dated(DueSupplyExpires, lastDay(v.Expires))
		if v.State == "running-low" {
			all = append(all, Due{What: DueRunningLow})
		}
		return all
	case *Batch:
		return v.due()
	case *AmountChange:
		if (v.Type == "evaporated" || v.Type == "topped-up") && !v.Amount.Given {
			return dated(DueStrengthCheck, lastDay(v.Date))
		}
	}
	return nil
}

func (t *Treatment) due() []Due {
	day := firstDay(t.NextCheck)
	if day.IsZero() {
		day = lastDay(t.NextCheck)
	}
	all := dated(DueNextCheck, day)
	if t.Drying != nil && (t.Drying.State == "touch-dry" || t.Drying.State == "handling-dry") {
		all = append(all, dated(DueDrying, lastDay(t.Date))...)
	}
	return all
}

func (b *Batch) due() []Due {
	if b.State == "spent" || b.State == "discarded" {
		return nil
	}
	all := dated(DueBatchExpires, lastDay(b.Expires))
	if b.LowAt != nil {
		all = append(all, Due{What: DueRunningLow})
	}
	switch {
	case b.State != "dissolving" || b.ClearCheck != nil && b.ClearCheck.Result == "clear":
		return all
	case b.ClearCheck != nil && !lastDay(b.ClearCheck.Date).IsZero():
		return append(all, Due{DueClearCheck, lastDay(b.ClearCheck.Date)})
	}
	return append(all, Due{DueClearCheck, lastDay(b.Made)})
}

// dated is something to be done on a day, and nothing without one.
func dated(what string, day edtf.Day) []Due {
	if day.IsZero() {
		return nil
	}
	return []Due{{what, day}}
}

func firstDay(d Date) edtf.Day { return d.Value.Period().From }

func lastDay(d Date) edtf.Day { return d.Value.Period().To }

package statement

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// OfSupply reads a supply.
func OfSupply(st *api.SupplyStatement) *Reading {
	s := &record.Supply{Code: st.Code, Grade: deref(st.Material.Grade), SaysOfItself: deref(st.SaysOfItself),
		MakerLotCode: deref(st.MakerLotCode),
		State:        string(deref(st.State)), Remarks: deref(st.Remarks)}
	r := newReader(s, st)
	s.Material = r.material("/material/id", st.Material.Id)
	s.Solids = r.strength("/solids", st.Solids)
	s.Density = r.quantity("/density", st.Density, quantity.MassPerVolume)
	s.Received, s.Opened, s.Expires = r.date("/received", st.Received), r.date("/opened", st.Opened),
		r.date("/expires", st.Expires)
	s.Amount = r.amount("/amount", st.Amount, massOrVolume...)
	s.Container = r.container("/container", st.Container)
	s.SafetySheet = r.document("/safetyDataSheet", st.SafetyDataSheet)
	return r.Reading
}

// OfBatch reads a batch.
func OfBatch(st *api.BatchStatement) *Reading {
	b := &record.Batch{Code: st.Code, Type: string(st.Kind), State: string(deref(st.State)),
		ReferenceSample: text(st.ReferenceSample), Remarks: deref(st.Remarks)}
	r := newReader(b, st)
	b.Made, b.Expires = r.date("/made", st.Made), r.date("/expires", st.Expires)
	b.People = record.Said[[]record.Involvement]{Value: r.involvements("/madeBy", st.MadeBy), Given: st.MadeBy != nil}
	if st.Inputs != nil {
		b.Inputs = record.Give(each(st.Inputs, func(i int, in *api.BatchInput) record.Input {
			return r.input(item("/inputs", i), in)
		}))
	}
	b.Finished = r.amount("/finished", st.Finished, massOrVolume...)
	if x := st.Recipe; x != nil {
		b.Recipe = &record.Recipe{Strength: r.strength("/recipe/strength", x.Strength),
			Amount: r.quantity("/recipe/amount", x.Amount, massOrVolume...), Words: deref(x.Words)}
	}
	b.LabelStrength = beside(r, "/labelStrength", r.strength("/labelStrength", st.LabelStrength), st.LabelStrengthAnswer)
	b.Solvents = beside(r, "/solvents", r.solvents("/solvents", st.Solvents), st.SolventsAnswer)
	b.Container = r.container("/container", st.Container)
	b.LowAt = r.quantity("/lowAt", st.LowAt, massOrVolume...)
	if x := st.ClearCheck; x != nil {
		b.ClearCheck = &record.ClearCheck{Date: r.date("/clearCheck/date", x.Date), Result: string(x.Result)}
		r.person("/clearCheck/by", x.By, &b.ClearCheck.By)
	}
	return r.Reading
}

func (r reader) input(at string, in *api.BatchInput) record.Input {
	return record.Input{Used: r.from(at+"/from", &in.From), Part: string(in.Part),
		Amount: r.amount(at+"/amount", &in.Amount, massOrVolume...),
		Asked:  r.quantity(at+"/asked", in.Asked, massOrVolume...)}
}

// OfAmountChange reads what became of part of a batch.
func OfAmountChange(st *api.AmountChangeStatement) *Reading {
	c := &record.AmountChange{Type: string(st.Kind), Remarks: deref(st.Remarks)}
	r := newReader(c, st)
	c.DippedBrush = truth(r, "/dippedBrush", st.DippedBrush, st.DippedBrushAnswer)
	c.Batch = r.ref("/batch/id", record.KindBatch, &st.Batch.Id)
	c.Amount = r.amount("/amount", &st.Amount, massOrVolume...)
	c.Date = r.date("/date", st.Date)
	r.person("/by", st.By, &c.By)
	if st.With != nil {
		with := r.from("/with", st.With)
		c.With = &with
	}
	return r.Reading
}

package statement

import (
	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/record"
)

// OfMaterial reads an institution's own material; its id is not among the words.
func OfMaterial(st *api.MaterialStatement) *Reading {
	m := &record.Material{OwnMaterial: material.OwnMaterial{
		Name: st.Name, Like: deref(st.Like), LikeGrade: deref(st.LikeGrade), Kind: material.Kind(deref(st.Kind)),
		Note: deref(st.Note), TradeNames: deref(st.TradeNames), Citation: st.Citation,
	}}
	r := newReader(m, st)
	for i, v := range deref(st.Values) {
		at := item("/values", i)
		x := material.OwnValue{
			Property: material.Property(v.Property), Unit: deref(v.Unit), Remark: deref(v.Remark), Citation: deref(v.Citation),
		}
		x.Value = writtenValue(v, at, &r.Faults)
		if v.At != nil {
			x.At = celsius(*v.At, at+"/at", &r.Faults)
		}
		m.Values, m.Members = append(m.Values, x), append(m.Members, memberOf(v))
	}
	r.Faults = append(r.Faults, material.CheckTeas(m.Values)...)
	for _, o := range deref(st.Observed) {
		m.Observed = append(m.Observed, material.OwnObservation{
			Solvent: o.Solvent, Age: material.Age(o.Age), Observed: material.Observed(o.Observed), Remark: deref(o.Remark),
			Citation: deref(o.Citation),
		})
	}
	return r.Reading
}

// writtenValue is a value in the notation of the tables, with its digits.
func writtenValue(v api.OwnValue, at string, faults *fault.List) string {
	switch {
	case v.Value != nil && v.Low == nil && v.High == nil && v.Words == nil:
		return v.Value.String()
	case v.Value == nil && v.Low != nil && v.High != nil && v.Words == nil:
		return v.Low.String() + ".." + v.High.String()
	case v.Value == nil && v.Low != nil && v.Words == nil:
		return ">=" + v.Low.String()
	case v.Value == nil && v.High != nil && v.Words == nil:
		return "<=" + v.High.String()
	case v.Value == nil && v.Low == nil && v.High == nil && v.Words != nil:
		return *v.Words
	}
	faults.Add("choice", at, "Say the value in one way: a figure as value, a range or a bound as low and high, or words.")
	return ""
}

func celsius(q api.Quantity, at string, faults *fault.List) *float64 {
	f := q.Value.Float64()
	if q.Unit != "Cel" || f < -273.15 || f > 2000 {
		faults.Add("unit-wrong", at, "Give the temperature in Cel, from -273.15 to 2000.")
	}
	return &f
}

// memberOf is the member in which a value is written.
func memberOf(v api.OwnValue) string {
	switch {
	case v.Value != nil:
		return "value"
	case v.Words != nil:
		return "words"
	case v.Low != nil:
		return "low"
	}
	return "high"
}

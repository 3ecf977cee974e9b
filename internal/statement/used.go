package statement

import (
	"meniscus/api"
	"meniscus/internal/record"
)

// use reads one material of a treatment, given in one of four ways.
func (r reader) use(at string, u *api.TreatmentUse) record.Use {
	out := record.Use{
		Role: string(deref(u.Role)), Remark: deref(u.Remark), Amount: r.amount(at+"/amount", u.Amount, massOrVolume...),
	}
	out.Certainty = record.Documented
	at += "/used"
	switch used := u.Used; {
	case used.Batch != nil:
		out.Batch = r.ref(at+"/batch/id", record.KindBatch, &used.Batch.Id)
	case used.Supply != nil:
		out.Supply = r.ref(at+"/supply/id", record.KindSupply, &used.Supply.Id)
	case used.Material != nil:
		r.usedMaterial(at+"/material", used.Material, &out)
	case used.Words != nil:
		r.words(at+"/words", used.Words, &out.Used)
	}
	return out
}

func (r reader) usedMaterial(at string, m *api.UsedMaterial, out *record.Use) {
	out.Material, out.Grade, out.AnalysedBy = r.material(at+"/id", m.Id), deref(m.Grade), deref(m.AnalysedBy)
	if m.Certainty != nil {
		out.Certainty, out.CertaintySaid = record.Certainty(*m.Certainty), true
	}
	out.Strength = beside(r, at+"/strength", r.strength(at+"/strength", m.Strength), m.StrengthAnswer)
	out.Solvents = beside(r, at+"/solvents", r.solvents(at+"/solvents", m.Solvents), m.SolventsAnswer)
}

func (r reader) words(at string, w *api.Words, out *record.Used) {
	out.Words, out.Certainty, out.CertaintySaid, out.AnalysedBy = w.Verbatim, record.Certainty(w.Certainty), true,
		deref(w.AnalysedBy)
	out.Candidates = each(w.Candidates, func(i int, id *string) string {
		return r.material(item(at+"/candidates", i), *id)
	})
}

// from reads what went into a batch, given in one of four ways.
func (r reader) from(at string, from *api.BatchInputFrom) record.Used {
	out := record.Used{Certainty: record.Documented}
	switch {
	case from.Supply != nil:
		out.Supply = r.ref(at+"/supply/id", record.KindSupply, &from.Supply.Id)
	case from.Batch != nil:
		out.Batch = r.ref(at+"/batch/id", record.KindBatch, &from.Batch.Id)
	case from.Material != nil:
		out.Material, out.Grade = r.material(at+"/material/id", from.Material.Id), deref(from.Material.Grade)
	case from.Words != nil:
		r.words(at+"/words", from.Words, &out)
	}
	return out
}

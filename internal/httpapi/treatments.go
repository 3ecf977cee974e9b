package httpapi

import (
	"fmt"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/layers"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

func readTreatmentStatement(s *Server, c *call, _ uuid.UUID, raw []byte) (draft, error) {
	var refs references
	st, err := understand[api.TreatmentStatement](s, c, raw, &refs)
	if err != nil {
		return draft{}, err
	}
	treatment := refs.treatment(&st)
	if err := refs.faults.Merge("", treatment.Check()); err != nil {
		return draft{}, err
	}
	implied, err := refs.resolve(c.ctx(), s, c.principal.Institution)
	if err != nil {
		return draft{}, err
	}
	treatment.named(&st) // now that names have become ids
	statement, err := refs.statement(raw)
	return draft{statement: statement, implied: implied, project: func(p *postgres.Projector) { p.Treatment(treatment.Treatment) }}, err
}

// readTreatment is a treatment with the part that waits for names to become ids.
type readTreatment struct{ record.Treatment }

// treatment is what the record must know of a treatment's statement.
func (r *references) treatment(st *api.TreatmentStatement) readTreatment {
	t := record.Treatment{
		Event: deref(st.Event), Plan: deref(st.Plan), Action: string(st.Action),
		Areas: deref(st.Areas.Paths), Date: r.date(&st.Dates, "/dates"),
		HasRemoval: st.Removal != nil, HasTest: st.Test != nil, HasExamination: st.Examination != nil,
		HasSampling: st.Sampling != nil, HasLabel: st.Label != nil,
	}
	if t.Plan != uuid.Nil {
		r.record(record.KindPlan, t.Plan, "/plan")
	}
	r.specimen(&st.Specimen, "/specimen")
	r.specimen(st.JoinedTo, "/joinedTo")
	r.involvements(st.People, "/people")
	r.treatmentPeople(st)
	for i := range deref(st.Materials) {
		t.Uses = append(t.Uses, r.use((*st.Materials)[i], fmt.Sprintf("/materials/%d/used", i)))
	}
	if st.Removal != nil {
		t.Removes = st.Removal.Treatments
	}
	if st.Sampling != nil && st.Sampling.Sample != nil {
		r.record(record.KindSpecimen, *st.Sampling.Sample, "/sampling/sample")
	}
	r.date(st.NextCheck, "/nextCheck")
	r.either(st.Plan != nil, st.PlanAnswer, "/plan")
	r.either(st.Images != nil, st.ImagesAnswer, "/images")
	for i, image := range deref(st.Images) {
		if image.Taken != nil {
			r.edtf(*image.Taken, fmt.Sprintf("/images/%d/taken", i))
		}
	}
	return readTreatment{t}
}

// treatmentPeople gathers the people who stand elsewhere than among those who
// did it.
func (r *references) treatmentPeople(st *api.TreatmentStatement) {
	r.authorisation(st.Authorisation, "/authorisation")
	for i := range deref(st.Deviations) {
		r.authorisation((*st.Deviations)[i].Approval, fmt.Sprintf("/deviations/%d/approval", i))
	}
	if st.Removal != nil {
		r.person(st.Removal.ConfirmedBy, "/removal/confirmedBy")
	}
	if st.Reversibility != nil {
		r.person(st.Reversibility.By, "/reversibility/by")
		r.date(st.Reversibility.Date, "/reversibility/date")
	}
	if st.OldCard != nil {
		r.person(st.OldCard.TranscribedBy, "/oldCard/transcribedBy")
	}
}

func (r *references) authorisation(a *api.Authorisation, pointer string) {
	if a != nil && a.Given != nil {
		r.person(&a.Given.By, pointer+"/given/by")
		r.date(a.Given.Date, pointer+"/given/date")
	}
}

func (r *references) use(use api.TreatmentUse, pointer string) record.Use {
	out := record.Use{Role: string(deref(use.Role)), Certainty: record.Documented}
	switch used := use.Used; {
	case used.Batch != nil:
		out.Batch = used.Batch.Id
		r.record(record.KindBatch, used.Batch.Id, pointer+"/batch/id")
	case used.Supply != nil:
		out.Supply = used.Supply.Id
		r.record(record.KindSupply, used.Supply.Id, pointer+"/supply/id")
	case used.Material != nil:
		out.Material = used.Material.Id
		r.either(used.Material.Strength != nil, used.Material.StrengthAnswer, pointer+"/material/strength")
		r.either(used.Material.Solvents != nil, used.Material.SolventsAnswer, pointer+"/material/solvents")
		if used.Material.Certainty != nil {
			out.Certainty = record.Certainty(*used.Material.Certainty)
		}
	case used.Words != nil:
		out.Words, out.Certainty = used.Words.Verbatim, record.Certainty(used.Words.Certainty)
		out.Candidates = deref(used.Words.Candidates)
	}
	return out
}

// named takes over the ids that names have become.
func (t *readTreatment) named(st *api.TreatmentStatement) {
	t.Specimen = deref(st.Specimen.Id)
	if st.JoinedTo != nil {
		t.JoinedTo = deref(st.JoinedTo.Id)
	}
	t.People = involved(st.People)
}

// involved are the people who had a part, once names have become ids.
func involved(list *[]api.Involvement) []record.Involvement {
	var people []record.Involvement
	for _, who := range deref(list) {
		if who.Person.Id != nil {
			people = append(people, record.Involvement{Person: *who.Person.Id, Part: string(who.Part)})
		}
	}
	return people
}

// listFindings makes the handler that gives the findings kept beside a treatment
// or a plan. They are made after it has got its place; until then they are made
// now.
func listFindings(kind record.Kind, param string, now func(*Server, *call, postgres.Row) ([]postgres.Finding, error)) handler {
	return func(s *Server, c *call) (*answer, error) {
		id := c.id(param)
		if err := s.mustExist(c, kind, id); err != nil {
			return nil, err
		}
		row, err := s.store.InForce(c.ctx(), c.principal.Institution, id)
		if err != nil {
			return nil, err
		}
		checked, err := s.store.CheckedRevision(c.ctx(), c.principal.Institution, id)
		if err != nil {
			return nil, err
		}
		var found []postgres.Finding
		if checked == row.Revision || row.Act == ledger.Retracted {
			found, err = s.store.Findings(c.ctx(), c.principal.Institution, id)
		} else {
			found, err = now(s, c, row)
		}
		if err != nil {
			return nil, err
		}
		return ok(api.FindingList{Items: each(found, findingOf)})
	}
}

// planFindingsNow looks at a plan that nobody has looked at yet.
func planFindingsNow(s *Server, c *call, row postgres.Row) ([]postgres.Finding, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	tuning, err := s.TuningOf(c.ctx(), c.principal.Institution)
	if err != nil {
		return nil, err
	}
	found, _, err := layers.CheckPlan(c.ctx(), s.store, c.principal.Institution, row, base, tuning, today())
	return found, err
}

// findingsNow looks at a treatment that nobody has looked at yet.
func findingsNow(s *Server, c *call, row postgres.Row) ([]postgres.Finding, error) {
	var st api.TreatmentStatement
	if words := statementOf(row.Body); words == nil || decodeInto(words, &st) != nil || st.Specimen.Id == nil {
		return nil, nil
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	specimen, err := s.store.Survivor(c.ctx(), c.principal.Institution, *st.Specimen.Id)
	if err != nil {
		return nil, err
	}
	config, place, err := s.history(c, specimen, base, today())
	if err != nil {
		return nil, err
	}
	tuning, err := s.TuningOf(c.ctx(), c.principal.Institution)
	if err != nil {
		return nil, err
	}
	found, err := layers.Findings(config, row.Record, tuning)
	for i := range found {
		if place > 0 {
			found[i].AsOfSeq = &place
		}
	}
	return found, err
}

func findingOf(f postgres.Finding) api.Finding {
	out := api.Finding{Rule: f.Rule, Severity: api.Severity(f.Severity), Area: f.Area, Sentence: f.Sentence, Remedy: f.Remedy, Source: f.Source, Place: f.AsOfSeq}
	if len(f.Layers) > 0 {
		out.Layers = &f.Layers
	}
	return out
}

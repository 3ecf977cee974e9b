package statement

import (
	"encoding/json"
	"fmt"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/api"
	"meniscus/internal/record"
)

// Write writes a treatment as words, members in the order of their names, and reads
// them. It writes what an old card can say; a test lists the other members.
func Write(t *record.Treatment, names record.Names) (words []byte, r *Reading, err error) {
	st := &api.TreatmentStatement{
		Specimen: specimenRef(t.Specimen, names), Action: api.Action(t.Action), Remarks: orNil(t.Remarks),
		Dates: api.AnswerableDate{Edtf: orNil(t.Date.Value.String()), Answer: orNil(api.Answer(t.Date.Answer))},
	}
	writeApplication(t, st)
	writePeople(t, names, st)
	writeResults(t, st)
	writeDocuments(t, st)
	words, err = json.Marshal(st)
	if err == nil {
		err = (*jsontext.Value)(&words).Format(jsontext.ReorderRawObjects(true))
	}
	if err != nil {
		return nil, nil, fmt.Errorf("writing a statement: %w", err)
	}
	return words, OfTreatment(st), nil
}

func specimenRef(id record.Ref, names record.Names) api.SpecimenRef {
	if id != (record.Ref{}) {
		return api.SpecimenRef{Id: &id}
	}
	number := names.Specimen
	return api.SpecimenRef{Identifier: &api.CataloguedAs{
		Kind: api.CataloguedAsKind(number.Kind), Value: number.Value, Collection: orNil(names.Collection)}}
}

// writePeople writes who did it, and who copied the card, by id or by name.
func writePeople(t *record.Treatment, names record.Names, st *api.TreatmentStatement) {
	st.People = written(t.People, func(i int, who record.Involvement) api.Involvement {
		out := api.Involvement{Part: api.InvolvementPart(who.Part)}
		out.Person.Id, out.Person.Answer = orNil(who.Person), orNil(api.Answer(who.Answer))
		if out.Person.Id == nil && out.Person.Answer == nil {
			out.Person.Name = &names.People[i]
		}
		out.Organisation, out.OrganisationAnswer = orAnswer(who.Organisation)
		return out
	})
	card := t.OldCard
	if card == nil {
		return
	}
	st.OldCard = &api.OldCard{Verbatim: orNil(card.Verbatim)}
	if card.Image != nil {
		st.OldCard.Image = &api.DocumentLink{Url: card.Image.URL, Title: orNil(card.Image.Title)}
	}
	switch {
	case card.TranscribedBy != (record.Ref{}):
		st.OldCard.TranscribedBy = &api.PersonRef{Id: &card.TranscribedBy}
	case names.Transcriber != "":
		st.OldCard.TranscribedBy = &api.PersonRef{Name: &names.Transcriber}
	}
}

// writeApplication writes where, how and with what it was done.
func writeApplication(t *record.Treatment, st *api.TreatmentStatement) {
	st.Areas.Paths, st.Areas.Answer = orAnswer(t.Areas)
	st.Method, st.MethodRemark, st.Coats = orNil(api.Method(t.Method)), orNil(t.MethodRemark), orNil(int32(t.Coats))
	st.Materials = written(t.Uses.Value, writeUse)
	st.SolventExposure = written(t.Exposures, func(_ int, e record.Exposure) api.SolventExposure {
		return api.SolventExposure{Solvent: e.Solvent, Time: unmeasured(e.Time),
			During: orNil(api.SolventExposureDuring(e.During))}
	})
}

// writeUse writes a material that was identified, or the words for it.
func writeUse(_ int, u record.Use) api.TreatmentUse {
	out := api.TreatmentUse{Role: orNil(api.LayerRole(u.Role)), Remark: orNil(u.Remark)}
	if u.Words != "" {
		out.Used.Words = &api.Words{Verbatim: u.Words, Certainty: api.Certainty(u.Certainty), AnalysedBy: orNil(u.AnalysedBy)}
		if u.Candidates != nil {
			out.Used.Words.Candidates = &u.Candidates
		}
		return out
	}
	m := &api.UsedMaterial{Id: u.Material, AnalysedBy: orNil(u.AnalysedBy)}
	if u.CertaintySaid {
		m.Certainty = orNil(api.Certainty(u.Certainty))
	}
	if s := u.Strength.Value; u.Strength.Given {
		m.Strength = &api.Strength{Basis: new(api.StrengthBasis(s.Basis)), Value: &s.Number.Value}
		if s.UnitSaid {
			m.Strength.Unit = orNil(string(s.Number.Unit))
		}
	}
	m.Solvents = written(u.Solvents.Value, func(_ int, s record.SolventShare) api.SolventShare {
		return api.SolventShare{Id: s.Material}
	})
	out.Used.Material = m
	return out
}

// writeResults writes the members that depend on the action.
func writeResults(t *record.Treatment, st *api.TreatmentStatement) {
	if x := t.Removal; x != nil {
		st.Removal = &api.Removal{Treatments: deref(written(x.Treatments, func(_ int, id record.Ref) api.RecordRef {
			return api.Ref(id)
		})), Left: api.RemovalLeft(x.Left)}
	}
	if x := t.Test; x != nil {
		st.Test = &api.SpotTest{Observed: api.SpotTestObserved(x.Observed)}
	}
	if x := t.Examination; x != nil {
		st.Examination = &api.Examination{Outcome: api.ExaminationOutcome(x.Outcome)}
	}
	if x := t.Sampling; x != nil {
		mass := unmeasured(x.Mass)
		st.Sampling = &api.Sampling{Mass: &mass}
	}
	if x := t.Label; x != nil {
		st.Label = &api.Label{Number: orNil(x.Number)}
		if x.NumberRecorded.Given {
			st.Label.NumberRecorded = &x.NumberRecorded.Value
		}
	}
}

// writeDocuments writes its documents.
func writeDocuments(t *record.Treatment, st *api.TreatmentStatement) {
	st.Purpose, st.ConditionBefore, st.ConditionAfter = answerable(t.Purpose), answerable(t.ConditionBefore),
		answerable(t.ConditionAfter)
	st.InformationGained, st.InformationLost = answerable(t.InformationGained), answerable(t.InformationLost)
	st.RecordCopyLocation = answerable(t.RecordCopyLocation)
}

func answerable(t record.Text) *api.AnswerableText {
	if !t.Answered() {
		return nil
	}
	out := &api.AnswerableText{}
	out.Text, out.Answer = orAnswer(t)
	return out
}

// unmeasured writes the answer in the place of an amount.
func unmeasured(a record.Amount) api.AnswerableQuantity {
	return api.AnswerableQuantity{Answer: orNil(api.Answer(a.Answer))}
}

// orAnswer is a value, or the answer in its place.
func orAnswer[T any](s record.Said[T]) (*T, *api.Answer) {
	if s.Given {
		return &s.Value, nil
	}
	return nil, orNil(api.Answer(s.Answer))
}

// orNil is nil for the zero value.
func orNil[T comparable](value T) *T {
	var zero T
	if value == zero {
		return nil
	}
	return &value
}

// written writes the items of a list; nil stays nil.
func written[T, U any](list []T, write func(int, T) U) *[]U {
	if list == nil {
		return nil
	}
	out := make([]U, len(list))
	for i, item := range list {
		out[i] = write(i, item)
	}
	return &out
}

package httpapi

import (
	"fmt"
	"net/http"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// createGroupTreatment records one event on many specimens: one request, a
// treatment for each, all or none.
func createGroupTreatment(s *Server, c *call) (*answer, error) {
	request, err := decode[api.GroupTreatmentRequest](c)
	if err != nil {
		return nil, err
	}
	key, err := c.requestKey()
	if err != nil {
		return nil, err
	}
	if key == nil {
		return nil, fault.Of(fault.Malformed, "idempotency-key-missing", "Send an Idempotency-Key, so that sending it twice records the event once.")
	}
	if request.Statement.Event == nil {
		event := newRequestID()
		request.Statement.Event = &event
	}
	implied, err := s.resolveGroup(c, &request)
	if err != nil {
		return nil, err
	}
	w := c.write(key, postgres.Entry{}, implied)
	w.Entries = w.Entries[:len(implied)]
	for i, member := range members(request) {
		entry, err := member.entry()
		if err != nil {
			return nil, fmt.Errorf("reading member %d of a group: %w", i, err)
		}
		w.Entries = append(w.Entries, entry)
	}
	written, err := s.store.Write(c.ctx(), w)
	if err != nil {
		return nil, err
	}
	a := &answer{status: http.StatusCreated, body: itemsJSON(written.OfKind(record.KindTreatment), nil)}
	return a.saidBefore(written.Replayed), nil
}

// resolveGroup looks up, in one round trip, everything that the statement and
// the other specimens name, so that a new name in all of them is one person.
func (s *Server) resolveGroup(c *call, request *api.GroupTreatmentRequest) ([]postgres.Entry, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	refs := references{base: "/statement", faults: checkMeaning(base, *request, "")}
	treatment := refs.treatment(&request.Statement)
	if err := refs.faults.Merge(refs.base, treatment.Check()); err != nil {
		return nil, err
	}
	refs.base = ""
	for i := range request.AlsoOn {
		pointer := fmt.Sprintf("/alsoOn/%d", i)
		refs.specimen(&request.AlsoOn[i].Specimen, pointer+"/specimen")
		for j, path := range areasOf(request.AlsoOn[i].Areas) {
			if err := refs.faults.Merge(fmt.Sprintf("%s/areas/paths/%d", pointer, j), record.CheckArea(path)); err != nil {
				return nil, err
			}
		}
		for j, image := range deref(request.AlsoOn[i].Images) {
			if image.Taken != nil {
				refs.edtf(*image.Taken, fmt.Sprintf("%s/images/%d/taken", pointer, j))
			}
		}
		if request.AlsoOn[i].Label != nil && request.Statement.Label == nil {
			refs.faults.Add("label-out-of-place", pointer+"/label", "The member \"label\" belongs to the action \"labelling\".")
		}
	}
	return refs.resolve(c.ctx(), s, c.principal.Institution)
}

func areasOf(a *api.AnswerableAreas) []string {
	if a == nil {
		return nil
	}
	return deref(a.Paths)
}

// A member is one treatment of a group.
type member struct {
	id        uuid.UUID
	statement api.TreatmentStatement
}

// members gives each specimen its own statement.
func members(request api.GroupTreatmentRequest) []member {
	all := []member{{newRequestID(), request.Statement}}
	for _, other := range request.AlsoOn {
		m := member{newRequestID(), request.Statement}
		m.statement.Specimen = other.Specimen
		if other.Areas != nil {
			m.statement.Areas = *other.Areas
		}
		replace(&m.statement.ConditionBefore, other.ConditionBefore)
		replace(&m.statement.ConditionAfter, other.ConditionAfter)
		replace(&m.statement.Images, other.Images)
		replace(&m.statement.Label, other.Label)
		replace(&m.statement.Remarks, other.Remarks)
		all = append(all, m)
	}
	return all
}

// replace puts what is said of one specimen in the place of what is said of all.
func replace[T any](of **T, with *T) {
	if with != nil {
		*of = with
	}
}

// entry is the member's entry; what it names has become ids before.
func (m member) entry() (postgres.Entry, error) {
	var refs references
	treatment := refs.treatment(&m.statement)
	treatment.named(&m.statement)
	statement, err := encode(m.statement)
	return postgres.Entry{Record: m.id, Kind: record.KindTreatment, Revision: 1, Act: ledger.Stated, Body: stated(statement),
		Project: func(p *postgres.Projector) { p.Treatment(treatment.Treatment) }}, err
}

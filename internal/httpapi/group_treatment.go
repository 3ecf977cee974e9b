package httpapi

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// createGroupTreatment records one event on many specimens: one request, a
// treatment for each, all or none.
func createGroupTreatment(s *Server, c *requestContext) (*answer, error) {
	request, err := decodeInMonths[api.GroupTreatmentRequest](c)
	if err != nil {
		return nil, err
	}
	key, err := c.requestKey()
	if err != nil {
		return nil, err
	}
	if key == nil {
		return nil, fault.Of(fault.Malformed, "idempotency-key-missing",
			"Send an Idempotency-Key, so that sending it twice records the event once.")
	}
	if request.Statement.Event == nil {
		event := newRequestID()
		request.Statement.Event = new(api.Ref(event))
	}
	w, said, asked, err := s.together(c, key, members(request))
	if err != nil {
		return nil, err
	}
	written, err := c.writeUnlessAsked(w, asked)
	if err != nil {
		return nil, err
	}
	return s.madeTogether(c, record.KindTreatment, written, said)
}

// A member is one of several records that a request makes together.
type member struct {
	id        uuid.UUID
	statement any // a wire type
	reading   *statement.Reading
	// pointer turns a pointer into the statement into one into the request.
	pointer func(string) string
}

// mostTogether bounds the words of the records that one request makes: each has
// a copy of what the request says once.
const mostTogether = 8 << 20

// together reads the members of a request, so that all are recorded or none. What they
// name is looked up in one round trip, and a new name in all of them is one person. A
// fault that several have is said once. Questions about numbers that register specimens,
// and what is asked to tell what is odd, are given for each member.
func (s *Server) together(
	c *requestContext, key *postgres.RequestKey, members []member,
) (w postgres.Write, said []recording.Saying, asked fault.List, err error) {
	base, err := s.knowledge(c)
	if err != nil {
		return w, nil, nil, err
	}
	readings := make([]*statement.Reading, len(members))
	for i, m := range members {
		readings[i] = m.reading
	}
	resolved, err := recording.Resolve(c.ctx(), c.tenant(), readings...)
	if err != nil {
		return w, nil, nil, err
	}
	var faults fault.List
	beyond := c.author().MayImply(resolved.Implied, readings...)
	for i, m := range members {
		found, err := m.reading.Check(m.id, base)
		if err != nil {
			return w, nil, nil, err
		}
		faults = append(faults, m.moved(slices.Concat(found, resolved.Faults[i], beyond[i]))...)
		asked = append(asked, m.moved(recording.Questions(resolved.Numbers[i]))...)
	}
	if err := withoutRepeats(faults).Err(); err != nil {
		return w, nil, nil, err
	}
	w, said, err = entriesOf(c, key, members, resolved)
	w.Beside = recording.Asks(said...)
	return w, said, asked, err
}

// entriesOf are the entries that members imply, and after them those that they state.
func entriesOf(
	c *requestContext, key *postgres.RequestKey, members []member, resolved recording.Resolution,
) (w postgres.Write, said []recording.Saying, err error) {
	w = c.author().Write(key, resolved.Implied...)
	w.Together = true
	size := 0
	for i, m := range members {
		words, err := wire.Encode(m.statement)
		if err == nil {
			words, err = m.reading.Words(words)
		}
		if err != nil {
			return w, nil, err
		}
		if size += len(words); size > mostTogether {
			return w, nil, fault.Of(fault.TooLarge, "group-too-large",
				"What is said once is kept with each record, and would be more than %d MiB together; send fewer at a time, or say long texts of one alone.",
				mostTogether>>20)
		}
		w.Entries = append(w.Entries, recording.First(m.id, words, m.reading.Value))
		w.Claims = append(w.Claims, recording.Claims(resolved.Numbers[i])...)
		said = append(said, recording.Saying{Self: m.id, Value: m.reading.Value, Words: words, Numbers: resolved.Numbers[i]})
	}
	return w, said, nil
}

// moved points faults into the request.
func (m member) moved(found fault.List) fault.List {
	out := make(fault.List, len(found))
	for i, f := range found {
		there := *f
		there.Pointer = m.pointer(f.Pointer)
		out[i] = &there
	}
	return out
}

func withoutRepeats(faults fault.List) fault.List {
	type key struct{ pointer, code string }
	seen := map[key]bool{}
	return slices.DeleteFunc(faults, func(f *fault.Fault) bool {
		k := key{f.Pointer, f.Code}
		was := seen[k]
		seen[k] = true
		return was
	})
}

// members gives each specimen its own statement.
func members(request api.GroupTreatmentRequest) []member {
	all := []member{groupMember(&request.Statement, func(pointer string) string { return "/statement" + pointer })}
	for i, other := range request.AlsoOn {
		st, own := request.Statement, []string{"/specimen"}
		st.Specimen = other.Specimen
		if other.Areas != nil {
			st.Areas, own = *other.Areas, append(own, "/areas")
		}
		own = replace(own, &st.ConditionBefore, other.ConditionBefore, "/conditionBefore")
		own = replace(own, &st.ConditionAfter, other.ConditionAfter, "/conditionAfter")
		own = replace(own, &st.Images, other.Images, "/images")
		own = replace(own, &st.Label, other.Label, "/label")
		own = replace(own, &st.Remarks, other.Remarks, "/remarks")
		all = append(all, groupMember(&st, func(pointer string) string {
			first, _, _ := strings.Cut(strings.TrimPrefix(pointer, "/"), "/")
			if slices.Contains(own, "/"+first) {
				return fmt.Sprintf("/alsoOn/%d%s", i, pointer)
			}
			return "/statement" + pointer
		}))
	}
	return all
}

func groupMember(st *api.TreatmentStatement, pointer func(string) string) member {
	return member{id: newRequestID(), statement: *st, reading: statement.OfTreatment(st), pointer: pointer}
}

// replace puts what is said of one specimen in the place of what is said of all,
// and notes the member as its own.
func replace[T any](own []string, of **T, with *T, member string) []string {
	if with == nil {
		return own
	}
	*of = with
	return append(own, member)
}

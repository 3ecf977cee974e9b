package httpapi

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
	"meniscus/internal/views"
)

// writeUnlessAsked stores what a request says, unless the caller has to be asked first. A
// repeated request is answered as before, without questions.
func (c *requestContext) writeUnlessAsked(w postgres.Write, asked fault.List) (postgres.Written, error) {
	if len(asked) == 0 {
		return c.tenant().Write(c.ctx(), w)
	}
	said, err := c.tenant().SaidBefore(c.ctx(), w)
	if err != nil {
		return postgres.Written{}, err
	}
	if said == nil {
		return postgres.Written{}, asked
	}
	return *said, nil
}

func (s *Server) candidate(n postgres.Numbered) api.NumberCandidate {
	return api.NumberCandidate{Id: n.Specimen, Kind: n.Kind, Number: n.Number, Collection: n.Collection,
		Href: s.specimenAt(n.Specimen)}
}

// beside is what stands beside a record in the answer of the request that made or
// amended it.
type beside struct {
	Registered []api.RegisteredSpecimen `json:"registered,omitempty"`
	Findings   []api.Finding            `json:"findings,omitempty"`
	Changed    *api.Changed             `json:"changed,omitempty"`
	Cautions   *[]string                `json:"cautions,omitempty"` // of a specimen that was passed on
}

// bytes is about how many bytes that is.
func (b beside) bytes() int {
	told := len(b.Registered) + len(b.Findings)
	if b.Changed != nil {
		told += len(b.Changed.Items)
	}
	return 1000 * told
}

// of is the record with what stands beside it.
func (b beside) of(row postgres.Row) postgres.Row {
	if len(b.Registered)+len(b.Findings) == 0 && b.Changed == nil {
		return row
	}
	return withMembers(row, b)
}

// beside tells of each statement which specimens it registers by their numbers, and
// what is odd about it.
func (s *Server) beside(c *requestContext, said ...recording.Saying) ([]beside, error) {
	found, err := c.tenant().Beside(c.ctx(), recording.Asks(said...))
	if err != nil {
		return nil, err
	}
	return s.besideIn(found, said...), nil
}

// besideIn is beside with what was found of what recording.Asks.
func (s *Server) besideIn(found postgres.Beside, said ...recording.Saying) []beside {
	odd := recording.OddIn(found, s.today(), said...)
	told := make([]beside, len(said))
	for i, of := range said {
		told[i].Registered = s.registered(of.Self, of.Numbers)
		found := views.Odd(odd[i])
		for _, n := range of.Numbers {
			found = append(found, conflictFindings(n.Conflicts())...)
		}
		told[i].Findings = gravest(found)
	}
	return told
}

// gravest are the findings that an answer tells beside a record, warnings first.
func gravest(found []api.Finding) []api.Finding {
	slices.SortStableFunc(found, func(a, b api.Finding) int { return cmp.Compare(b.Severity, a.Severity) })
	return found[:min(len(found), mostBeside)]
}

// mostBeside is how many findings an answer to a create tells at most.
const mostBeside = 50

// registered are the specimens that a record registers, each once.
func (s *Server) registered(self uuid.UUID, numbers []recording.NewNumber) (found []api.RegisteredSpecimen) {
	for _, n := range numbers {
		told := func(r api.RegisteredSpecimen) bool { return r.Id == n.Specimen }
		if n.Specimen != self && !slices.ContainsFunc(found, told) {
			found = append(found, api.RegisteredSpecimen{Id: n.Specimen, Number: n.Value, Href: s.specimenAt(n.Specimen)})
		}
	}
	return found
}

func (s *Server) specimenAt(id uuid.UUID) string { return s.publicURL + "/v1/specimens/" + id.String() }

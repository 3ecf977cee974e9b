package httpapi

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
)

// writeUnlessAsked stores what a request says, unless something is to be asked
// first. What was said before is answered and not asked again.
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

// questions are those about numbers that are new and nearly known, with where the
// candidates are.
func (s *Server) questions(numbers []recording.NewNumber) fault.List {
	asked := recording.Questions(numbers)
	for _, q := range asked {
		q.Extra = map[string]any{"candidates": each(q.Extra["candidates"].([]postgres.Numbered), s.candidate)}
	}
	return asked
}

func (s *Server) candidate(n postgres.Numbered) api.NumberCandidate {
	return api.NumberCandidate{Id: n.Specimen, Kind: n.Kind, Number: n.Number, Collection: n.Collection,
		Href: s.specimenAt(n.Specimen)}
}

// beside is what stands beside a record in the answer of the request that made it.
type beside struct {
	Registered []api.RegisteredSpecimen `json:"registered,omitempty"`
	Findings   []api.Finding            `json:"findings,omitempty"`
}

// of is the record with what stands beside it.
func (b beside) of(row postgres.Row) postgres.Row {
	if len(b.Registered)+len(b.Findings) == 0 {
		return row
	}
	return withMembers(row, b)
}

// beside tells which specimens a record registered by their numbers, and what is
// odd about its own.
func (s *Server) beside(self uuid.UUID, numbers []recording.NewNumber) (b beside) {
	for _, n := range numbers {
		if n.Specimen == self {
			b.Findings = append(b.Findings, conflictFindings(n.Conflicts())...)
		} else {
			b.Registered = append(b.Registered,
				api.RegisteredSpecimen{Id: n.Specimen, Number: n.Value, Href: s.specimenAt(n.Specimen)})
		}
	}
	return b
}

// withNumbers adds, after what blocks, what is to be said of numbers that are not
// registered: nothing that is on the specimen was looked at.
func withNumbers(findings []api.Finding, numbers []recording.NewNumber) []api.Finding {
	var said []api.Finding
	for _, n := range numbers {
		said = append(said, unregisteredFinding(n))
	}
	i := slices.IndexFunc(findings, func(f api.Finding) bool { return f.Severity != "block" })
	if i < 0 {
		i = len(findings)
	}
	return slices.Insert(findings, i, said...)
}

func unregisteredFinding(n recording.NewNumber) api.Finding {
	candidates := n.Candidates()
	if len(candidates) == 0 {
		return api.Finding{Rule: "number-not-known", Severity: "info",
			Sentence: "No specimen is registered by this number, so nothing that may be on it was looked at."}
	}
	f := api.Finding{Rule: "number-nearly-known", Severity: "warn", Remedy: new("Check it again with the number as it is known, " +
		"or say with distinctFrom that it is none of these specimens.")}
	var records []uuid.UUID
	var spellings []string
	for _, k := range candidates {
		records, spellings = append(records, k.Specimen), append(spellings, k.Number)
	}
	slices.Sort(spellings)
	f.Records = &records
	f.Sentence = "No specimen is registered by this number. It is nearly known: " + strings.Join(slices.Compact(spellings), ", ") +
		" differs from it only in case, punctuation, spaces or leading zeros, and what is on that specimen was not looked at."
	return f
}

func (s *Server) specimenAt(id uuid.UUID) string { return s.publicURL + "/v1/specimens/" + id.String() }

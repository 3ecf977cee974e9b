package httpapi

import (
	"cmp"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
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
	asked, _ := s.located(recording.Questions(numbers)).(fault.List)
	return asked
}

// located tells of faults that are questions about numbers where the candidates are.
func (s *Server) located(err error) error {
	for _, f := range fault.From(err) {
		if candidates, asked := f.Extra["candidates"].([]postgres.Numbered); asked {
			f.Extra = map[string]any{"candidates": each(candidates, s.candidate)}
		}
	}
	return err
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

// beside tells of each statement which specimens it registers by their numbers, and
// what is odd about it.
func (s *Server) beside(c *requestContext, said ...recording.Saying) ([]beside, error) {
	odd, err := c.author().Odd(c.ctx(), s.today(), said...)
	if err != nil {
		return nil, err
	}
	told := make([]beside, len(said))
	for i, of := range said {
		told[i].Registered = s.registered(of.Self, of.Numbers)
		told[i].Findings = each(odd[i], recordFinding)
		for _, n := range of.Numbers {
			told[i].Findings = append(told[i].Findings, conflictFindings(n.Conflicts())...)
		}
		slices.SortStableFunc(told[i].Findings, func(a, b api.Finding) int { return cmp.Compare(b.Severity, a.Severity) }) // warn first
		told[i].Findings = told[i].Findings[:min(len(told[i].Findings), mostBeside)]
	}
	return told, nil
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

func recordFinding(f record.Finding) api.Finding {
	out := api.Finding{Rule: f.Rule, Severity: api.Severity(f.Severity), Sentence: f.Sentence, Remedy: new(f.Remedy)}
	if len(f.Records) > 0 {
		out.Records = &f.Records
	}
	return out
}

// withOdd puts among the findings of a check, by their severity, what is odd about
// the treatment without its layers, and before it what is to be said of numbers that
// are not registered: nothing that is on the specimen was looked at.
func withOdd(findings []api.Finding, numbers []recording.NewNumber, odd []record.Finding) []api.Finding {
	said := append(each(numbers, unregisteredFinding), each(odd, recordFinding)...)
	for _, severity := range []api.Severity{"warn", "info"} {
		i := slices.IndexFunc(findings, func(f api.Finding) bool { return severityRank[f.Severity] <= severityRank[severity] })
		if i < 0 {
			i = len(findings)
		}
		of := slices.DeleteFunc(slices.Clone(said), func(f api.Finding) bool { return f.Severity != severity })
		findings = slices.Insert(findings, i, of...)
	}
	return findings
}

var severityRank = map[api.Severity]int{"info": 0, "warn": 1, "block": 2}

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

package httpapi

import (
	"strings"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
)

// splitSpecimen records a part of the specimen in the path as a specimen.
func splitSpecimen(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[struct {
		ID           *api.Id            `json:"id"`
		Source       *api.Source        `json:"source"`
		DistinctFrom *api.DistinctFrom  `json:"distinctFrom"`
		Areas        *[]string          `json:"areas"`
		Date         api.AnswerableDate `json:"date"`
		Reason       string             `json:"reason"`
		Statement    jsontext.Value     `json:"statement"`
	}](c)
	if err != nil {
		return nil, err
	}
	key, err := c.createKey(request.ID, request.Source)
	if err != nil {
		return nil, err
	}
	parent, err := s.matchedKind(c, record.KindSpecimen, c.id("specimenId"))
	if err != nil {
		return nil, err
	}
	if err := recording.MustStandAlone(c.ctx(), c.tenant(), parent.Kind, parent.Record); err != nil {
		return nil, err
	}
	origin := api.PartOrigin{
		Specimen: api.Ref(parent.Record), Date: request.Date, Reason: &request.Reason,
		Areas: api.AnswerableAreas{Paths: request.Areas},
	}
	if request.Areas == nil {
		unknown := api.Answer("unknown")
		origin.Areas.Answer = &unknown
	}
	words, err := withOrigin(request.Statement, origin)
	if err != nil {
		return nil, err
	}
	written, err := s.record(c, record.KindSpecimen, creation{
		ID: request.ID, Source: request.Source, DistinctFrom: request.DistinctFrom, Statement: words,
	}, key)
	if err != nil {
		return nil, inRequest(err)
	}
	return s.made(c, written)
}

// inRequest moves faults of the origin to where the request of a split has it.
func inRequest(err error) error {
	found := fault.From(err)
	if len(found) == 0 {
		return err
	}
	moved := make(fault.List, len(found))
	for i, f := range found {
		g := *f
		g.Pointer = strings.NewReplacer(
			"/statement/partOf/areas/paths", "/areas", "/statement/partOf/date", "/date",
		).Replace(g.Pointer)
		moved[i] = &g
	}
	return moved
}

// withOrigin is a specimen's statement that says what it was part of.
func withOrigin(words []byte, origin api.PartOrigin) ([]byte, error) {
	reading, err := statement.Read(record.KindSpecimen, words)
	if err != nil {
		return nil, under("/statement", err)
	}
	if of := reading.Value.(*record.Specimen); of.Part != nil || of.SampleOf != nil {
		return nil, fault.New("origin-given", "/statement",
			"Leave partOf and sampleOf out of the statement: the path and the request say what it was part of.")
	}
	return statement.With(words, "partOf", origin)
}

// listSpecimens pages through specimens, or through the samples and parts of one.
func listSpecimens(s *Server, c *requestContext) (*answer, error) {
	if parent := c.optionalID("parent"); parent != uuid.Nil {
		if err := s.mustExist(c, record.KindSpecimen, parent); err != nil {
			return nil, err
		}
	}
	return list(record.KindSpecimen)(s, c)
}

package httpapi

import (
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/views"
)

// besideAgain is what stands beside a record in the answer of a request that is sent again:
// which specimens the first one registered, and what is odd about the record as it stands
// now. Of a record without words nothing is told.
func (s *Server) besideAgain(c *requestContext, row postgres.Row) (beside, error) {
	now, err := c.tenant().InForce(c.ctx(), row.Record)
	if err != nil {
		return beside{}, err
	}
	reading, err := statement.OfEntry(row.Kind, now.Body)
	if errors.Is(err, statement.ErrRedacted) {
		return beside{}, nil
	}
	if err != nil {
		return beside{}, fmt.Errorf("reading a record that was sent again: %w", err)
	}
	registered, err := s.registeredWith(c, row)
	if err != nil {
		return beside{}, err
	}
	own := slices.Clone(registered)
	if of, is := reading.Value.(*record.Specimen); is {
		own = append(own, numbersAgain(row.Record, of)...)
	}
	var ids []uuid.UUID
	for _, n := range own {
		if !slices.Contains(ids, n.Specimen) {
			ids = append(ids, n.Specimen)
		}
	}
	conflicts, err := c.tenant().ConflictsOf(c.ctx(), ids)
	if err != nil {
		return beside{}, err
	}
	said := recording.Saying{Self: row.Record, Value: reading.Value, Words: statement.WordsIn(now.Body), Numbers: own}
	odd, err := c.author().Odd(c.ctx(), s.today(), said)
	if err != nil {
		return beside{}, err
	}
	found := views.Odd(odd[0])
	for _, id := range ids {
		found = append(found, conflictFindings(conflicts[id])...)
	}
	return beside{Registered: s.registered(row.Record, registered), Findings: gravest(found)}, nil
}

// registeredWith are the numbers of the specimens that a record's first statement names and
// that were registered by the same request.
func (s *Server) registeredWith(c *requestContext, row postgres.Row) ([]recording.NewNumber, error) {
	first, _, err := c.tenant().Revision(c.ctx(), row.Record, 1)
	if err != nil || first == nil || first.Body == nil {
		return nil, err
	}
	reading, err := statement.OfEntry(row.Kind, first.Body)
	if err != nil {
		return nil, fmt.Errorf("reading what a record said first: %w", err)
	}
	var numbers []recording.NewNumber
	for _, named := range reading.Records {
		if named.Kind != record.KindSpecimen || named.ID == row.Record {
			continue
		}
		of, _, err := c.tenant().Revision(c.ctx(), named.ID, 1)
		if err != nil {
			return nil, err
		}
		if of == nil || of.Body == nil || of.RequestID != first.RequestID {
			continue
		}
		specimen, err := statement.OfEntry(record.KindSpecimen, of.Body)
		if err != nil {
			return nil, fmt.Errorf("reading a specimen that was registered: %w", err)
		}
		numbers = append(numbers, numbersAgain(named.ID, specimen.Value.(*record.Specimen))...)
	}
	return numbers, nil
}

// numbersAgain are the numbers of a specimen that is on record.
func numbersAgain(id uuid.UUID, of *record.Specimen) []recording.NewNumber {
	numbers := make([]recording.NewNumber, len(of.Identifiers))
	for i, n := range of.Identifiers {
		numbers[i] = recording.NewNumber{Identifier: n, Collection: of.Collection, Specimen: id}
	}
	return numbers
}

package httpapi

import (
	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// draft is a statement that was read and understood, ready to be stored.
type draft struct {
	reading *statement.Reading
	words   []byte // with the people and specimens that it names resolved to ids
	value   record.Value
	implied []postgres.Entry // records that it implies, such as a person by name
}

// project brings the projections in line with the statement.
func (d draft) project(p *postgres.Projector) { p.Project(d.value) }

// understand reads a new statement of the record self that is to be recorded. Its
// faults point into the statement.
func (s *Server) understand(c *call, kind record.Kind, self uuid.UUID, words []byte) (draft, error) {
	d, err := s.propose(c, kind, self, words)
	if err == nil {
		err = c.mayImply(d.implied, d.reading)[0].Err()
	}
	return d, err
}

// propose reads a new statement that is not to be recorded, or not yet.
func (s *Server) propose(c *call, kind record.Kind, self uuid.UUID, words []byte) (draft, error) {
	reading, err := statement.Read(kind, words)
	if err != nil {
		return draft{}, err
	}
	if err := s.mayState(c, self, reading.Value); err != nil {
		return draft{}, err
	}
	base, err := s.knowledge(c)
	if err != nil {
		return draft{}, err
	}
	faults, err := reading.Check(self, base)
	if err != nil {
		return draft{}, err
	}
	implied, unknown, err := s.resolve(c.ctx(), c.principal.Institution, reading)
	if err != nil {
		return draft{}, err
	}
	if err := append(faults, unknown[0]...).Err(); err != nil {
		return draft{}, err
	}
	words, err = reading.Words(words)
	return draft{reading: reading, words: words, value: reading.Value, implied: implied}, err
}

// mayState asks what the record and the key allow to be stated. Whoever lacks the
// scope to authorise can record everything but a plan's authorisation: amending
// an authorised plan therefore asks for it anew.
func (s *Server) mayState(c *call, self uuid.UUID, value record.Value) error {
	switch v := value.(type) {
	case *record.Specimen:
		return s.checkOrigin(c, self, v)
	case *record.Plan:
		if (v.Authorisation.Given || v.Treatment.Authorisation.Given) && !c.principal.May(access.Authorise) {
			return fault.Of(fault.Forbidden, "scope-missing",
				"Authorising a plan needs a key with the scope %q; leave the authorisation out, and let somebody who may authorise it.", string(access.Authorise))
		}
	}
	return nil
}

// firstEntry is a first revision with these words.
func firstEntry(id uuid.UUID, words []byte, value record.Value) postgres.Entry {
	return postgres.Entry{Record: id, Kind: value.Kind(), Revision: 1, Act: ledger.Stated, Body: stated(words),
		Project: func(p *postgres.Projector) { p.Project(value) }}
}

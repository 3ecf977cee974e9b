package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/record"
)

// subject is the digest of an issuer and its name for a person, in an institution.
type subject struct {
	institution uuid.UUID
	digest      [32]byte
}

// PersonOfToken gives the person in whose name the holder of a token records. Who comes for the first
// time is recorded by a name, with itself as the author.
func (s Tenant) PersonOfToken(ctx context.Context, digest [32]byte, name string) (uuid.UUID, error) {
	person, err := s.knownPerson(ctx, digest)
	if err != nil || person != uuid.Nil {
		return person, err
	}
	id := uuid.Must(uuid.NewV7())
	body, err := json.Marshal(map[string]any{"statement": map[string]string{"name": name}})
	if err != nil {
		return uuid.Nil, fmt.Errorf("writing a person: %w", err)
	}
	_, failed := s.Write(ctx, Write{Person: id, RequestID: uuid.Must(uuid.NewV7()), Entries: []Entry{{
		Record: id, Kind: record.KindPerson, Revision: 1, Act: ledger.Stated, Body: body,
		Project: func(p *Projector) {
			p.Project(&record.Person{Name: name})
			p.batch.Queue(`insert into token_person (institution_id, subject_sha256, person_id) values ($1, $2, $3)`,
				s.institution, digest[:], id)
		},
	}}})
	person, err = s.knownPerson(ctx, digest) // another request may have come first
	if err == nil && person == uuid.Nil {
		err = failed
	}
	return person, err
}

func (s Tenant) knownPerson(ctx context.Context, digest [32]byte) (uuid.UUID, error) {
	type row struct{ PersonID uuid.UUID }
	rows, err := collect[row](ctx, s,
		`select person_id from token_person where subject_sha256 = $2 and institution_id = $1`, s.institution, digest[:])
	of := subject{s.institution, digest}
	if err != nil || len(rows) == 0 {
		s.subjects.Forget(of)
		return uuid.Nil, err
	}
	s.subjects.Put(of, rows[0].PersonID)
	return rows[0].PersonID, nil
}

// RecalledPerson is PersonOfToken from this process's memory, on the premise that it is so; zero if it is
// not remembered.
func (s Tenant) RecalledPerson(digest [32]byte) (uuid.UUID, *Premises) {
	person, known := s.subjects.Of(subject{s.institution, digest})
	if !known {
		return uuid.Nil, nil
	}
	on := &Premises{institution: s.institution}
	on.rely(s.institution, holding(`exists (
		select from token_person where institution_id = $1 and subject_sha256 = $2 and person_id = $3)`,
		s.institution, digest[:], person))
	return person, on
}

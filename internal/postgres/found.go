package postgres

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/record"
)

// Founding is a new institution with its first person and key.
type Founding struct {
	Institution uuid.UUID
	Name        string
	ROR         string
	TimeZone    string
	Person      string    // the first person's name; no person is recorded if empty
	As          uuid.UUID // the person that the key acts for if Person is empty
	Scopes      []access.Scope
}

// Found makes an institution, its first person and a key in that person's name. The
// institution is made as the owner, the rest through the application's own write path.
// For an institution that is restored from an export, the person is in the export and
// not recorded yet.
func Found(ctx context.Context, ownerDSN string, s *Store, f Founding) (access.Key, error) {
	if err := addInstitution(ctx, ownerDSN, f.Institution, f.Name, f.ROR, f.TimeZone); err != nil {
		return access.Key{}, err
	}
	in := s.For(f.Institution)
	if f.Person == "" {
		return in.NewKey(ctx, f.As, "first key", f.Scopes)
	}
	person, err := in.PersonNamed(ctx, f.Person)
	if err != nil {
		return access.Key{}, err
	}
	return in.NewKey(ctx, person, "first key", f.Scopes)
}

// PersonNamed gives the institution's person of this name, recording one, with itself
// as the author, when there is none.
func (s Tenant) PersonNamed(ctx context.Context, name string) (uuid.UUID, error) {
	if record.IsBlank(name) {
		return uuid.Nil, fault.New("text-blank", "", "Nothing of the name can be seen; write a name.")
	}
	folded := record.FoldName(name)
	found, err := s.Resolve(ctx, Refs{Names: []string{folded}})
	if err != nil {
		return uuid.Nil, err
	}
	if known := found.People[folded]; len(known) > 0 {
		return known[0], nil
	}
	id := uuid.Must(uuid.NewV7())
	body, err := json.Marshal(map[string]any{"statement": map[string]string{"name": name}})
	if err != nil {
		return uuid.Nil, fmt.Errorf("writing a person: %w", err)
	}
	_, err = s.Write(ctx, Write{Person: id, RequestID: uuid.Must(uuid.NewV7()), Entries: []Entry{{
		Record: id, Kind: record.KindPerson, Revision: 1, Act: ledger.Stated, Body: body,
		Project: func(p *Projector) { p.Project(&record.Person{Name: name}) },
	}}})
	return id, err
}

// NewKey makes an access key in a person's name, as the operator; only its digest is kept.
func (s Tenant) NewKey(ctx context.Context, person uuid.UUID, name string, scopes []access.Scope) (access.Key, error) {
	if record.IsBlank(name) {
		return access.Key{}, fault.New("text-blank", "", "Nothing of the name can be seen; write a name.")
	}
	key := access.Key{Institution: s.institution, ID: uuid.Must(uuid.NewV7())}
	_, _ = rand.Read(key.Secret[:]) // never fails
	texts := make([]string, len(scopes))
	for i, scope := range scopes {
		texts[i] = string(scope)
	}
	w := Write{Person: person, RequestID: uuid.Must(uuid.NewV7())}
	_, err := s.CreateAccessKey(ctx, w, access.Principal{}, key,
		AccessKey{Name: name, Person: person, Scopes: texts}, time.Time{})
	return key, err
}

package postgres

import (
	"context"
	"crypto/subtle"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
)

// OpenSession keeps that a person signed in with a browser, for so long, and clears away those of the
// institution that are over. Its id and the secret, of which a digest is kept, are those of key, which is no
// access key.
func (s Tenant) OpenSession(ctx context.Context, key access.Key, p access.Principal, lasts time.Duration) error {
	b := newBatch(s.institution)
	digest := key.Digest()
	b.Queue(`delete from browser_session where institution_id = $1 and ends_at <= now()`, s.institution)
	b.Queue(`insert into browser_session (institution_id, id, secret_sha256, person_id, scopes, ends_at)
		values ($1, $2, $3, $4, $5, now() + make_interval(secs => $6))`,
		s.institution, key.ID, digest[:], p.Person, p.Scopes, lasts.Seconds())
	return s.run(ctx, b)
}

// SessionPrincipal is who signed in; nil if the session is not known, or over.
func (s *Store) SessionPrincipal(ctx context.Context, key access.Key) (*access.Principal, error) {
	type known struct {
		SecretSha256 []byte
		PersonID     uuid.UUID
		Scopes       []string
	}
	rows, err := collect[known](ctx, s.For(key.Institution), `
		select secret_sha256, person_id, scopes from browser_session
		 where institution_id = $1 and id = $2 and ends_at > now()`, key.Institution, key.ID)
	digest := key.Digest()
	if err != nil || len(rows) == 0 || subtle.ConstantTimeCompare(rows[0].SecretSha256, digest[:]) != 1 {
		return nil, err
	}
	p := &access.Principal{Institution: key.Institution, Person: rows[0].PersonID}
	for _, scope := range rows[0].Scopes {
		p.Scopes = append(p.Scopes, access.Scope(scope))
	}
	return p, nil
}

// EndSession ends a session, on every instance at once. One that is over already stays over.
func (s Tenant) EndSession(ctx context.Context, id uuid.UUID) error {
	b := newBatch(s.institution)
	b.Queue(`delete from browser_session where institution_id = $1 and id = $2`, s.institution, id)
	return s.run(ctx, b)
}

// EndSessionsOf ends all sessions of a person.
func (s Tenant) EndSessionsOf(ctx context.Context, person uuid.UUID) error {
	b := newBatch(s.institution)
	b.Queue(`delete from browser_session where institution_id = $1 and person_id = $2`, s.institution, person)
	return s.run(ctx, b)
}

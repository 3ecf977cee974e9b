package postgres

import (
	"context"
	"crypto/subtle"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
)

// AccessKey is a key as it is stored, without its secret.
type AccessKey struct {
	ID        uuid.UUID  `db:"id"`
	Name      string     `db:"name"`
	Person    uuid.UUID  `db:"person_id"`
	Scopes    []string   `db:"scopes"`
	CreatedAt time.Time  `db:"created_at"`
	ExpiresAt *time.Time `db:"expires_at"`
	RevokedAt *time.Time `db:"revoked_at"`
}

const keyColumns = `id, name, person_id, scopes, created_at, expires_at, revoked_at`

// knownKey is a key as it was read, with what is said of it to the database and not to callers.
type knownKey struct {
	digest    [32]byte
	scopes    []string
	principal access.Principal
}

// mostKeys is how many keys are remembered.
const mostKeys = 10_000

// valid is the condition that a key opens.
const valid = `revoked_at is null and (expires_at is null or expires_at > now())`

// Principal gives the person and institution that a key acts for, or nil if the key is
// unknown, revoked or expired. All three give the same result, which therefore does not
// help to guess a key.
func (s *Store) Principal(ctx context.Context, key access.Key) (*access.Principal, error) {
	type known struct {
		SecretSha256 []byte
		PersonID     uuid.UUID
		Scopes       []string
		ExpiresAt    *time.Time
	}
	rows, err := collect[known](ctx, s.For(key.Institution), `
		select secret_sha256, person_id, scopes, expires_at from access_key
		 where institution_id = $1 and id = $2 and `+valid,
		key.Institution, key.ID)
	if err != nil {
		return nil, err
	}
	digest := key.Digest()
	if len(rows) == 0 || subtle.ConstantTimeCompare(rows[0].SecretSha256, digest[:]) != 1 {
		s.keys.Forget(keyOf(key))
		return nil, nil
	}
	p := access.Principal{Institution: key.Institution, Key: key.ID, Person: rows[0].PersonID, Ends: rows[0].ExpiresAt}
	for _, scope := range rows[0].Scopes {
		p.Scopes = append(p.Scopes, access.Scope(scope))
	}
	s.keys.Put(keyOf(key), knownKey{digest, rows[0].Scopes, p})
	return &p, nil
}

// keyOf is what a key is remembered by: two institutions may have keys of the same id.
func keyOf(key access.Key) [2]uuid.UUID { return [2]uuid.UUID{key.Institution, key.ID} }

// Recalled is Principal from this process's memory, on the premise that the key is as it was;
// nil if it is not remembered.
func (s *Store) Recalled(key access.Key) (*access.Principal, *Premises) {
	known, remembered := s.keys.Of(keyOf(key))
	digest := key.Digest()
	if !remembered || subtle.ConstantTimeCompare(known.digest[:], digest[:]) != 1 {
		return nil, nil
	}
	p := known.principal
	on := &Premises{institution: p.Institution}
	on.rely(p.Institution, holding(`exists (
		select from access_key where institution_id = $1 and id = $2 and secret_sha256 = $3 and person_id = $4
		   and scopes = $5 and expires_at is not distinct from $6 and `+valid+`)`,
		p.Institution, p.Key, digest[:], p.Person, known.scopes, p.Ends))
	return &p, on
}

// CreateAccessKey keeps a key's digest. A request key that was used before is
// refused, because the secret cannot be shown a second time.
func (s Tenant) CreateAccessKey(ctx context.Context, w Write, key access.Key, k AccessKey) (AccessKey, error) {
	b := newBatch(s.institution)
	if w.Key != nil {
		b.Queue(`insert into request_key (institution_id, key_sha256, fingerprint, request_id) values ($1, $2, $3, $4)`,
			s.institution, w.Key.Digest[:], w.Key.Fingerprint[:], w.RequestID)
	}
	digest := key.Digest()
	var made []AccessKey
	queue(b, &made, `
		insert into access_key (institution_id, id, name, secret_sha256, scopes, person_id, request_id, expires_at)
		values ($1, $2, $3, $4, $5, $6, $7, $8) returning `+keyColumns,
		s.institution, key.ID, k.Name, digest[:], k.Scopes, k.Person, w.RequestID, k.ExpiresAt)
	err := s.run(ctx, b)
	if constraint, ok := violated(err, uniqueViolation); ok && constraint == "request_key_pkey" {
		if _, err := s.requestOf(ctx, *w.Key); err != nil {
			return AccessKey{}, err
		}
		return AccessKey{}, fault.Of(fault.Conflict, "secret-shown-once",
			"This request made a key before, and its secret was shown then; revoke that key and make another if the "+
				"answer was lost.")
	}
	if err != nil {
		return AccessKey{}, err
	}
	return made[0], nil
}

// AccessKeys lists the institution's keys.
func (s Tenant) AccessKeys(ctx context.Context) ([]AccessKey, error) {
	return collect[AccessKey](ctx, s,
		`select `+keyColumns+` from access_key where institution_id = $1 order by id limit 10000`, s.institution)
}

// RevokeAccessKey ends a key for good; ending it again changes nothing.
func (s Tenant) RevokeAccessKey(ctx context.Context, id uuid.UUID) (AccessKey, error) {
	var rows []AccessKey
	b := newBatch(s.institution)
	b.Queue(`select revoke_access_key($1, $2)`, s.institution, id)
	queue(b, &rows, `select `+keyColumns+` from access_key where institution_id = $1 and id = $2`, s.institution, id)
	if err := s.run(ctx, b); err != nil {
		return AccessKey{}, err
	}
	if len(rows) == 0 {
		return AccessKey{}, fault.Of(fault.NotFound, "access-key-not-here",
			"There is no such access key in this institution.")
	}
	return rows[0], nil
}

// EndedKeys gives those of the keys that are revoked or have expired.
func (s Tenant) EndedKeys(ctx context.Context, keys []uuid.UUID) ([]uuid.UUID, error) {
	type ended struct{ ID uuid.UUID }
	rows, err := collect[ended](ctx, s, `
		select id from access_key where institution_id = $1 and id = any($2)
		   and (revoked_at is not null or expires_at <= now())`, s.institution, keys)
	var ids []uuid.UUID
	for _, row := range rows {
		ids = append(ids, row.ID)
	}
	return ids, err
}

// Institution is the institution that a key belongs to.
type Institution struct {
	ID       uuid.UUID `db:"id"`
	Name     string    `db:"name"`
	ROR      *string   `db:"ror"`
	TimeZone string    `db:"time_zone"`
	Seasons  *string   `db:"seasons"` // northern or southern; nil where it does not state whose it means
}

// Institution gives the institution itself.
func (s Tenant) Institution(ctx context.Context) (Institution, error) {
	rows, err := collect[Institution](ctx, s, `select id, name, ror, time_zone, seasons from institution where id = $1`,
		s.institution)
	if err != nil {
		return Institution{}, err
	}
	if len(rows) == 0 {
		return Institution{}, errNoRecord
	}
	return rows[0], nil
}

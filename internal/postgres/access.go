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
	Replaces  *uuid.UUID `db:"replaces"`
	UsedAt    *time.Time `db:"used_at"` // roughly: access.UseStep
}

// keyColumns are the columns of an AccessKey, of access_key as k.
const keyColumns = `k.id, k.name, k.person_id, k.scopes, k.created_at, k.expires_at, k.revoked_at, k.replaces,
	(select u.used_at from key_use u where u.institution_id = k.institution_id and u.key_id = k.id) as used_at`

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
// unknown, revoked or expired. Callers answer all three alike, which therefore does not help to
// guess a key; of a key that is right, and opens no more, refused says why.
func (s *Store) Principal(ctx context.Context, key access.Key) (p *access.Principal, refused *access.Access, err error) {
	type known struct {
		SecretSha256 []byte
		PersonID     uuid.UUID
		Scopes       []string
		ExpiresAt    *time.Time
		Revoked      bool
		Expired      bool
	}
	rows, err := collect[known](ctx, s.For(key.Institution), `
		select secret_sha256, person_id, scopes, expires_at, revoked_at is not null as revoked,
		       coalesce(expires_at <= now(), false) as expired
		  from access_key where institution_id = $1 and id = $2`, key.Institution, key.ID)
	if err != nil {
		return nil, nil, err
	}
	digest := key.Digest()
	if len(rows) == 0 || subtle.ConstantTimeCompare(rows[0].SecretSha256, digest[:]) != 1 {
		s.keys.Forget(keyOf(key))
		return nil, nil, nil
	}
	row := rows[0]
	if row.Revoked || row.Expired {
		s.keys.Forget(keyOf(key))
		refused = &access.Access{What: access.RefusedExpired, Times: 1, Key: key.ID, Person: row.PersonID}
		if row.Revoked {
			refused.What = access.RefusedRevoked
		}
		return nil, refused, nil
	}
	p = &access.Principal{Institution: key.Institution, Key: key.ID, Person: row.PersonID, Ends: row.ExpiresAt}
	for _, scope := range row.Scopes {
		p.Scopes = append(p.Scopes, access.Scope(scope))
	}
	s.keys.Put(keyOf(key), knownKey{digest, row.Scopes, *p})
	return p, nil, nil
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

// CreateAccessKey keeps a key's digest, and that the holder of another key made it. A request key
// that was used before is refused, because the secret cannot be shown a second time. Where the
// key replaces another, that one ends at a moment, or before it.
func (s Tenant) CreateAccessKey(
	ctx context.Context, w Write, by access.Principal, key access.Key, k AccessKey, ends time.Time,
) (AccessKey, error) {
	b := newBatch(s.institution)
	if w.Key != nil {
		b.Queue(`insert into request_key (institution_id, key_sha256, fingerprint, request_id) values ($1, $2, $3, $4)`,
			s.institution, w.Key.Digest[:], w.Key.Fingerprint[:], w.RequestID)
	}
	digest := key.Digest()
	var made []AccessKey
	queue(b, &made, `
		insert into access_key as k (institution_id, id, name, secret_sha256, scopes, person_id, request_id, expires_at, replaces)
		select $1, $2, $3, $4, $5, $6, $7, $8, $9
		 where $9::uuid is null or exists (select from access_key where institution_id = $1 and id = $9 and `+valid+`)
		returning `+keyColumns,
		s.institution, key.ID, k.Name, digest[:], k.Scopes, k.Person, w.RequestID, k.ExpiresAt, k.Replaces)
	done := access.Access{What: access.KeyMade, Times: 1, Key: by.Key, Person: by.Person, Record: key.ID}
	if k.Replaces != nil {
		b.Queue(`select case when exists (select from access_key where institution_id = $1 and id = $2)
			then end_access_key($1, $3, $4) end`, s.institution, key.ID, *k.Replaces, ends)
		done.What, done.Record = access.KeyReplaced, *k.Replaces
	}
	b.logIf(`exists (select from access_key where institution_id = $1 and id = $8)`, done, key.ID)
	err := s.run(ctx, b)
	constraint, repeated := violated(err, uniqueViolation)
	switch {
	case repeated && constraint == "access_key_replaces":
		return AccessKey{}, fault.Of(fault.Conflict, "access-key-replaced",
			"This key was replaced before; revoke its successor, or replace that one.")
	case repeated && constraint == "request_key_pkey":
		if _, err := s.requestOf(ctx, *w.Key); err != nil {
			return AccessKey{}, err
		}
		return AccessKey{}, fault.Of(fault.Conflict, "secret-shown-once",
			"This request made a key before, and its secret was shown then; revoke that key and make another if the "+
				"answer was lost.")
	case err != nil:
		return AccessKey{}, err
	case len(made) == 0:
		return AccessKey{}, ErrKeyEnded
	}
	return made[0], nil
}

// ErrKeyEnded refuses to replace a key that opens nothing.
var ErrKeyEnded = fault.Of(fault.Conflict, "access-key-ended",
	"This key was revoked or has expired, so that there is nothing to change over from; make another one.")

// AccessKeys lists the institution's keys.
func (s Tenant) AccessKeys(ctx context.Context) ([]AccessKey, error) {
	return collect[AccessKey](ctx, s,
		`select `+keyColumns+` from access_key k where k.institution_id = $1 order by k.id limit 10000`, s.institution)
}

// AccessKey gives one of the institution's keys.
func (s Tenant) AccessKey(ctx context.Context, id uuid.UUID) (AccessKey, error) {
	return oneKey(collect[AccessKey](ctx, s, oneAccessKey, s.institution, id))
}

const oneAccessKey = `select ` + keyColumns + ` from access_key k where k.institution_id = $1 and k.id = $2`

func oneKey(rows []AccessKey, err error) (AccessKey, error) {
	if err != nil {
		return AccessKey{}, err
	}
	if len(rows) == 0 {
		return AccessKey{}, fault.Of(fault.NotFound, "access-key-not-here",
			"There is no such access key in this institution.")
	}
	return rows[0], nil
}

// RevokeAccessKey ends a key for good; ending it again changes nothing.
func (s Tenant) RevokeAccessKey(ctx context.Context, by access.Principal, id uuid.UUID) (AccessKey, error) {
	var rows []AccessKey
	b := newBatch(s.institution)
	b.logIf(`exists (select from access_key where institution_id = $1 and id = $8 and revoked_at is null)`,
		access.Access{What: access.KeyRevoked, Times: 1, Key: by.Key, Person: by.Person, Record: id}, id)
	b.Queue(`select revoke_access_key($1, $2)`, s.institution, id)
	queue(b, &rows, oneAccessKey, s.institution, id)
	err := s.run(ctx, b)
	return oneKey(rows, err)
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

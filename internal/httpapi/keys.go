package httpapi

import (
	"crypto/rand"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
)

func readInstitution(s *Server, c *requestContext) (*answer, error) {
	in, err := c.tenant().Institution(c.ctx())
	if err != nil {
		return nil, err
	}
	return ok(api.Institution{Id: in.ID, Name: in.Name, Ror: in.ROR, TimeZone: in.TimeZone,
		Seasons: (*api.InstitutionSeasons)(in.Seasons)})
}

func listAccessKeys(s *Server, c *requestContext) (*answer, error) {
	keys, err := c.tenant().AccessKeys(c.ctx())
	if err != nil {
		return nil, err
	}
	list := api.AccessKeyList{Items: make([]api.AccessKey, 0, len(keys))}
	for _, k := range keys {
		list.Items = append(list.Items, keyOf(c.principal.Institution, k))
	}
	return ok(list)
}

// createAccessKey makes a key with scopes that the maker's own key has.
func createAccessKey(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.AccessKeyRequest](c)
	if err != nil {
		return nil, err
	}
	requestKey, err := c.neededRequestKey()
	if err != nil {
		return nil, err
	}
	scopes, err := scopesAsked(request)
	if err != nil {
		return nil, err
	}
	return c.makeKey(requestKey, newKey{role: request.Role != nil, AccessKey: postgres.AccessKey{
		Name: request.Name, Person: request.Person.Id, Scopes: scopes, ExpiresAt: request.ExpiresAt,
	}})
}

// newKey is a key that is asked for.
type newKey struct {
	postgres.AccessKey
	role bool      // its scopes were asked for by a role
	ends time.Time // until when the key that it replaces opens
}

// in is the pointer to a member of the request; a request to replace a key has none of them.
func (k newKey) in(pointer string) string {
	switch {
	case k.Replaces != nil:
		return ""
	case k.role && strings.HasPrefix(pointer, "/scopes"):
		return "/role"
	}
	return pointer
}

// mostOverlap is how long a key that is replaced may go on opening.
const mostOverlap = 90 * 24 * time.Hour

// rotateAccessKey makes a key's successor.
func rotateAccessKey(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.AccessKeyRotation](c)
	if err != nil {
		return nil, err
	}
	requestKey, err := c.neededRequestKey()
	if err != nil {
		return nil, err
	}
	if request.EndsAt.After(s.now().Add(mostOverlap)) {
		return nil, fault.New("overlap-too-long", "/endsAt",
			"A key that is replaced ends within 90 days; say an earlier moment, or one that has passed to end it now.")
	}
	old, err := c.tenant().AccessKey(c.ctx(), c.id("keyId"))
	if err != nil {
		return nil, err
	}
	if old.RevokedAt != nil || old.ExpiresAt != nil && !old.ExpiresAt.After(s.now()) {
		return nil, postgres.ErrKeyEnded
	}
	successor := postgres.AccessKey{Name: old.Name, Person: old.Person, Scopes: old.Scopes, ExpiresAt: old.ExpiresAt,
		Replaces: &old.ID}
	if request.ExpiresAt != nil {
		successor.ExpiresAt = request.ExpiresAt
	}
	return c.makeKey(requestKey, newKey{AccessKey: successor, ends: request.EndsAt})
}

// neededRequestKey is the request's Idempotency-Key, without which no secret is made.
func (c *requestContext) neededRequestKey() (*postgres.RequestKey, error) {
	requestKey, err := c.requestKey()
	if err == nil && requestKey == nil {
		err = fault.Of(fault.Malformed, "idempotency-key-missing",
			"Send an Idempotency-Key, so that sending it twice makes one key.")
	}
	return requestKey, err
}

// scopesAsked are the scopes that a request names, or those of its role.
func scopesAsked(request api.AccessKeyRequest) ([]string, error) {
	if (request.Role == nil) == (request.Scopes == nil) {
		return nil, fault.New("role-or-scopes", "", "Say either the scopes of the key, or a role that has them.")
	}
	var scopes []string
	if request.Role != nil {
		for _, scope := range access.Role(*request.Role).Scopes() {
			scopes = append(scopes, string(scope))
		}
		return scopes, nil
	}
	for _, scope := range *request.Scopes {
		scopes = append(scopes, string(scope))
	}
	return scopes, nil
}

// makeKey makes a key, and shows it once.
func (c *requestContext) makeKey(requestKey *postgres.RequestKey, kept newKey) (*answer, error) {
	if err := c.mayGive(kept); err != nil {
		return nil, err
	}
	kept.Scopes = distinctTexts(kept.Scopes)
	person := statement.Reading{Records: []statement.NamedRecord{
		{Pointer: kept.in("/person/id"), Kind: record.KindPerson, ID: kept.Person},
	}}
	resolved, err := recording.Resolve(c.ctx(), c.tenant(), &person)
	if err == nil {
		err = resolved.Faults[0].Err()
	}
	if err != nil {
		return nil, err
	}
	who, err := c.tenant().InForce(c.ctx(), kept.Person)
	if err != nil {
		return nil, err
	}
	if statement.WordsIn(who.Body) == nil {
		return nil, fault.New("person-not-in-force", kept.in("/person"),
			"The person's record was retracted or its words were erased; no one records in that name any more.")
	}
	key := access.Key{Institution: c.principal.Institution, ID: newRequestID()}
	_, _ = rand.Read(key.Secret[:]) // never fails
	made, err := c.tenant().CreateAccessKey(c.ctx(), c.author().Write(requestKey), *c.principal, key, kept.AccessKey, kept.ends)
	if err != nil {
		return nil, err
	}
	shown := keyOf(c.principal.Institution, made)
	secret := key.Text()
	shown.Secret = &secret
	a, err := with(http.StatusCreated, shown)
	if err != nil {
		return nil, err
	}
	a.noStore = true
	a.setHeader("Location", "/v1/access-keys/"+made.ID.String())
	return a, nil
}

// mayGive refuses a key that would open more than the key that makes it, or for
// longer, or that would open nothing because its end has passed.
func (c *requestContext) mayGive(k newKey) error {
	var faults fault.List
	for i, scope := range k.Scopes {
		if access.Scope(scope) == access.Calendar {
			if slices.ContainsFunc(k.Scopes, func(other string) bool { return other != scope }) {
				faults.Add("calendar-alone", "/scopes", "A key with the scope \"calendar\" is part of an address, and has no other.")
			}
			scope = string(access.Read) // it shows no more than that
		}
		if !c.principal.May(access.Scope(scope)) {
			faults = append(faults, &fault.Fault{Kind: fault.Forbidden, Code: "scope-not-yours",
				Pointer: k.in("/scopes/" + strconv.Itoa(i)),
				Detail: "A key gives only scopes that it has itself, and this one lacks the scope \"" + scope +
					"\"; ask a person whose key has it."})
		}
	}
	if ends := c.principal.Ends; ends != nil && (k.ExpiresAt == nil || k.ExpiresAt.After(*ends)) {
		faults = append(faults, &fault.Fault{Kind: fault.Forbidden, Code: "outlives-its-maker", Pointer: "/expiresAt",
			Detail: "The key that makes it ends at " + ends.UTC().Format(time.RFC3339Nano) +
				", and gives nothing beyond that; say an end that is no later."})
	}
	if len(faults) == 0 && k.ExpiresAt != nil && !k.ExpiresAt.After(c.server.now()) {
		faults.Add("expired-already", "/expiresAt",
			"This time has passed, so that the key would never open anything; give a later one, or none.")
	}
	return faults.Err()
}

func distinctTexts(texts []string) []string {
	var kept []string
	for _, text := range texts {
		if !slices.Contains(kept, text) {
			kept = append(kept, text)
		}
	}
	return kept
}

func revokeAccessKey(s *Server, c *requestContext) (*answer, error) {
	k, err := c.tenant().RevokeAccessKey(c.ctx(), *c.principal, c.id("keyId"))
	if err != nil {
		return nil, err
	}
	s.watch.end(c.principal.Institution, k.ID)
	return ok(keyOf(c.principal.Institution, k))
}

func keyOf(institution uuid.UUID, k postgres.AccessKey) api.AccessKey {
	out := api.AccessKey{
		Id: k.ID, Prefix: access.Key{Institution: institution, ID: k.ID}.Prefix(), Name: k.Name, Person: api.Ref(k.Person),
		CreatedAt: k.CreatedAt, ExpiresAt: k.ExpiresAt, RevokedAt: k.RevokedAt, Replaces: api.RefIf(k.Replaces), LastUsedAt: k.UsedAt,
	}
	for _, scope := range k.Scopes {
		out.Scopes = append(out.Scopes, api.Scope(scope))
	}
	return out
}

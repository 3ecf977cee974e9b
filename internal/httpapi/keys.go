package httpapi

import (
	"crypto/rand"
	"net/http"
	"slices"
	"strconv"
	"time"

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
		list.Items = append(list.Items, keyOf(k))
	}
	return ok(list)
}

// createAccessKey makes a key with scopes that the maker's own key has.
func createAccessKey(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.AccessKeyRequest](c)
	if err != nil {
		return nil, err
	}
	requestKey, err := c.requestKey()
	if err != nil {
		return nil, err
	}
	if requestKey == nil {
		return nil, fault.Of(fault.Malformed, "idempotency-key-missing",
			"Send an Idempotency-Key, so that sending it twice makes one key.")
	}
	if err := c.mayGive(request); err != nil {
		return nil, err
	}
	person := statement.Reading{Records: []statement.NamedRecord{
		{Pointer: "/person/id", Kind: record.KindPerson, ID: request.Person.Id},
	}}
	resolved, err := recording.Resolve(c.ctx(), c.tenant(), &person)
	if err == nil {
		err = resolved.Faults[0].Err()
	}
	if err != nil {
		return nil, err
	}
	who, err := c.tenant().InForce(c.ctx(), request.Person.Id)
	if err != nil {
		return nil, err
	}
	if statement.WordsIn(who.Body) == nil {
		return nil, fault.New("person-not-in-force", "/person",
			"The person's record was retracted or its words were erased; no one records in that name any more.")
	}
	key := access.Key{Institution: c.principal.Institution, ID: newRequestID()}
	_, _ = rand.Read(key.Secret[:]) // never fails
	kept := postgres.AccessKey{
		Name: request.Name, Person: request.Person.Id, Scopes: scopesOf(request.Scopes), ExpiresAt: request.ExpiresAt,
	}
	made, err := c.tenant().CreateAccessKey(c.ctx(), c.author().Write(requestKey), key, kept)
	if err != nil {
		return nil, err
	}
	shown := keyOf(made)
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
func (c *requestContext) mayGive(request api.AccessKeyRequest) error {
	var faults fault.List
	for i, scope := range request.Scopes {
		if access.Scope(scope) == access.Calendar {
			if len(scopesOf(request.Scopes)) > 1 {
				faults.Add("calendar-alone", "/scopes", "A key with the scope \"calendar\" is part of an address, and has no other.")
			}
			scope = api.Scope(access.Read) // it shows no more than that
		}
		if !c.principal.May(access.Scope(scope)) {
			faults = append(faults, &fault.Fault{Kind: fault.Forbidden, Code: "scope-not-yours",
				Pointer: "/scopes/" + strconv.Itoa(i),
				Detail: "A key gives only scopes that it has itself, and this one lacks the scope \"" + string(scope) +
					"\"; ask a person whose key has it."})
		}
	}
	if ends := c.principal.Ends; ends != nil && (request.ExpiresAt == nil || request.ExpiresAt.After(*ends)) {
		faults = append(faults, &fault.Fault{Kind: fault.Forbidden, Code: "outlives-its-maker", Pointer: "/expiresAt",
			Detail: "The key that makes it ends at " + ends.UTC().Format(time.RFC3339Nano) +
				", and gives nothing beyond that; say an end that is no later."})
	}
	if len(faults) == 0 && request.ExpiresAt != nil && !request.ExpiresAt.After(c.server.now()) {
		faults.Add("expired-already", "/expiresAt",
			"This time has passed, so that the key would never open anything; give a later one, or none.")
	}
	return faults.Err()
}

func scopesOf(scopes []api.Scope) []string {
	texts := make([]string, 0, len(scopes))
	for _, scope := range scopes {
		if !slices.Contains(texts, string(scope)) {
			texts = append(texts, string(scope))
		}
	}
	return texts
}

func revokeAccessKey(s *Server, c *requestContext) (*answer, error) {
	k, err := c.tenant().RevokeAccessKey(c.ctx(), c.id("keyId"))
	if err != nil {
		return nil, err
	}
	s.watch.end(c.principal.Institution, k.ID)
	return ok(keyOf(k))
}

func keyOf(k postgres.AccessKey) api.AccessKey {
	out := api.AccessKey{
		Id: k.ID, Name: k.Name, Person: api.Ref(k.Person),
		CreatedAt: k.CreatedAt, ExpiresAt: k.ExpiresAt, RevokedAt: k.RevokedAt,
	}
	for _, scope := range k.Scopes {
		out.Scopes = append(out.Scopes, api.Scope(scope))
	}
	return out
}

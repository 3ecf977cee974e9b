package httpapi_test

import (
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/google/uuid"
	"github.com/oauth2-proxy/mockoidc"

	"meniscus/internal/access"
	"meniscus/internal/deliver"
	"meniscus/internal/httpapi"
	"meniscus/internal/identity"
	"meniscus/internal/webhook"
)

// signIn is a running OpenID provider, and a service that takes its tokens.
type signIn struct {
	*service
	provider *mockoidc.MockOIDC
	open     []uuid.UUID // institutions that are published
}

func newSignIn(t *testing.T) *signIn {
	t.Helper()
	provider, err := mockoidc.Run()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = provider.Shutdown() })
	s := &signIn{service: newService(t), provider: provider}
	s.url = s.instance().url
	return s
}

// instance is another instance of the service.
func (s *signIn) instance() *service {
	s.t.Helper()
	allowed, err := webhook.ParseTargets("127.0.0.0/8")
	if err != nil {
		s.t.Fatal(err)
	}
	cfg := ordinary(s.t, s.store)
	cfg.Published = s.open
	cfg.Tokens = identity.NewTokens([]identity.Provider{{Institution: s.inst, Issuer: s.provider.Issuer(), Audience: "meniscus",
		Algorithms: []string{"RS256"}, RolesClaim: "groups", Roles: map[string]access.Role{"bench": access.Recorder,
			"head": access.Administrator, "desk": access.Reader, "store": access.StockKeeper},
		PersonClaim: "sub", NameClaim: "name", ClientID: s.provider.ClientID, ClientSecret: s.provider.ClientSecret,
		Scope: "openid profile groups", Name: "the museum's own accounts"}}, deliver.Fetcher(allowed), time.Now)
	cfg.SignIns = identity.NewSignIns(cfg.Tokens, deliver.Poster(allowed), cfg.PublicURL+httpapi.SignInBack)
	other := *s.service
	other.api = mustServe(s.t, cfg)
	other.url = listen(s.t, other.api).URL
	return &other
}

// token is one that the provider signed for a person with groups.
func (s *signIn) token(subject string, groups ...string) string {
	s.t.Helper()
	token, err := s.provider.Keypair.SignJWT(jwt.MapClaims{"iss": s.provider.Issuer(), "aud": []string{"meniscus"}, "sub": subject,
		"groups": groups, "name": "Ada " + subject, "exp": time.Now().Add(time.Minute).Unix()})
	if err != nil {
		s.t.Fatal(err)
	}
	return token
}

func (s *signIn) as(token, method, path string, body any) reply {
	s.t.Helper()
	return send(s.t, s.url, token, method, path, body, header{"Idempotency-Key", uuid.NewString()})
}

// The holder of a token does what their roles allow, and what they record is theirs: the same person each time, on
// every instance, found by what the provider calls them and never by a name.
func TestATokenRecordsInItsPersonsName(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	namesake := s.create("/v1/people", object{"name": "Ada u-17"}).id()
	person := func(at *service, token string) string {
		got := send(t, at.url, token, http.MethodPost, "/v1/people", object{"statement": object{"name": "Tomas Brandl"}},
			header{"Idempotency-Key", uuid.NewString()}).want(201)
		return idOf(got.at("recordedBy"))
	}
	other := s.instance()
	first := person(s.service, s.token("u-17", "bench"))
	if first == namesake || person(s.service, s.token("u-17", "bench")) != first || person(other, s.token("u-17", "bench")) != first {
		t.Errorf("got the person %s, of the name %s, or another each time", first, namesake)
	}
	if person(s.service, s.token("u-18", "bench")) == first {
		t.Error("two people are one")
	}
	if got := s.do(http.MethodGet, "/v1/people/"+first, nil).want(200); got.at("statement", "name") != "Ada u-17" ||
		idOf(got.at("recordedBy")) != first {
		t.Errorf("got %s", got.body)
	}
	s.as(s.token("u-17", "bench"), http.MethodGet, "/v1/access-keys", nil).wantProblem(403, "scope-missing")
	s.as(s.token("u-19", "visitors"), http.MethodGet, "/v1/institution", nil).wantProblem(403, "scope-missing")
	if got := s.do(http.MethodGet, "/v1/people?limit=500", nil).want(200); strings.Contains(string(got.body), "u-19") {
		t.Error("who may do nothing is recorded all the same")
	}
	head := s.token("u-20", "head", "bench")
	made := s.as(head, http.MethodPost, "/v1/access-keys", object{"name": "push", "person": object{"id": first},
		"role": "reader"}).want(201)
	on := s.do(http.MethodGet, "/v1/access-log?record="+made.id(), nil).want(200)
	if on.at("items", 0, "what") != "key-made" || on.at("items", 0, "key") != nil || on.at("items", 0, "person") == nil {
		t.Errorf("got %s, want it made by the person of the token", on.body)
	}
}

// Many first requests of a person at one moment make one person.
func TestAPersonComesForTheFirstTimeOnce(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	token := s.token("u-17", "bench")
	var all sync.WaitGroup
	for range 12 {
		all.Go(func() { s.as(token, http.MethodGet, "/v1/institution", nil).want(200) })
	}
	all.Wait()
	if got := s.do(http.MethodGet, "/v1/people?limit=500", nil).want(200); strings.Count(string(got.body), `"Ada u-17"`) != 1 {
		t.Errorf("got %s, want one person", got.body)
	}
}

// A person that a process remembers is asked for by the request's own batch: where it is another by now, the other
// one is taken.
func TestARememberedPersonIsAPremise(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	token, other := s.token("u-17", "bench"), s.create("/v1/people", object{"name": "Bela Orth"}).id()
	record := func() reply {
		return s.as(token, http.MethodPost, "/v1/people", object{"statement": object{"name": "Tomas Brandl"}}).want(201)
	}
	record()
	record()
	s.owner(`update token_person set person_id = $1`, other)
	if got := idOf(record().at("recordedBy")); got != other {
		t.Errorf("got it recorded by %s, want %s", got, other)
	}
}

// Two keys or tokens at once are refused, and so is a token beside the key of a calendar.
func TestOneCredentialAtATime(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	for _, second := range []string{"Bearer " + s.key, "Bearer " + s.token("u-17", "bench"), "Bearer x", "Basic eDp4"} {
		for _, path := range []string{"/v1/institution", "/v1/due.ics"} {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.url+path, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Header["Authorization"] = []string{"Bearer " + s.key, second}
			response, err := http.DefaultClient.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			_ = response.Body.Close()
			if response.StatusCode != http.StatusBadRequest {
				t.Errorf("%s with %q beside a key: got %d, want 400", path, second[:8], response.StatusCode)
			}
		}
	}
	s.as(s.token("u-17", "bench"), http.MethodGet, "/v1/due.ics?key="+s.key, nil).wantProblem(400, "credentials-several")
	for _, joined := range []string{s.key + " " + s.key, s.key + "," + s.key, s.key + ", Bearer " + s.token("u-17", "bench")} {
		s.as(joined, http.MethodGet, "/v1/institution", nil).want(401)
	}
}

// While the provider is away nobody comes in by a token, keys open as always, and the answer says when to come again.
func TestAProviderThatIsAway(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	token := s.token("u-17", "bench")
	if err := s.provider.Shutdown(); err != nil {
		t.Fatal(err)
	}
	got := s.as(token, http.MethodGet, "/v1/institution", nil).wantProblem(503, "identity-provider-unavailable")
	if got.header.Get("Retry-After") == "" {
		t.Error("no Retry-After")
	}
	s.do(http.MethodGet, "/v1/institution", nil).want(200)
}

// What a service without providers is told of tokens: nothing that a key is not told.
func TestTokensWithoutAProvider(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for _, text := range []string{"a.b.c", "eyJhbGciOiJub25lIn0.e30.", fmt.Sprint(strings.Repeat("x", 40_000), ".y.z")} {
		send(t, s.url, text, http.MethodGet, "/v1/institution", nil).wantProblem(401, "access-key-unknown")
	}
}

package identity_test

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"maps"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/identity"
)

const back = "https://meniscus.museum.example/sign-in/back"

// door is sign-ins at a provider of the test's own, which answers a code with an ID token.
type door struct {
	*trial
	signIns *identity.SignIns
	asked   url.Values     // with which the browser came to the provider
	form    url.Values     // that was posted for the code
	basic   string         // the credentials that went along
	says    map[string]any // of the discovery document
	claims  map[string]any // of the ID token, beside the usual
	header  map[string]any
	status  int
}

func newDoor(t *testing.T, secret string) *door {
	t.Helper()
	d := &door{trial: newTrial(t), status: 200, header: map[string]any{"kid": "one"}, says: map[string]any{"issuer": issuer,
		"jwks_uri": issuer + "/keys", "authorization_endpoint": issuer + "/authorise?flavour=plain", "token_endpoint": issuer + "/token"}}
	fetch := func(ctx context.Context, address string) ([]byte, error) {
		if strings.HasSuffix(address, "/keys") {
			return d.p.fetch(ctx, address)
		}
		return json.Marshal(d.says)
	}
	tokens := identity.NewTokens([]identity.Provider{
		{Institution: uuid.UUID{2}, Issuer: "https://elsewhere.example", Audience: "m", PersonClaim: "sub"}, // for programs alone
		{Institution: uuid.UUID{1}, Issuer: issuer, Audience: audience, Algorithms: []string{"RS256"}, RolesClaim: "roles",
			Roles: map[string]access.Role{"bench": access.Recorder}, PersonClaim: "sub", NameClaim: "name",
			ClientID: "bench app", ClientSecret: secret, Scope: "openid roles"}}, fetch, d.now)
	d.signIns = identity.NewSignIns(tokens, d.post, back)
	return d
}

func (d *door) post(_ context.Context, address string, form url.Values, name, secret string) (int, []byte, error) {
	d.form, d.basic = form, name+":"+secret
	if address != issuer+"/token" || d.status == 0 {
		return 0, nil, errors.New("no route to host")
	}
	claims := map[string]any{"aud": "bench app", "nonce": d.asked.Get("nonce")}
	maps.Copy(claims, d.claims)
	body, err := json.Marshal(map[string]any{"id_token": signed(d.t, rsaKey(), d.header, d.trial.claims(claims))})
	return d.status, body, err
}

// tried signs in, and gives who that is.
func (d *door) tried() (identity.Caller, error) {
	d.t.Helper()
	choices := d.signIns.Choices()
	if len(choices) != 1 || choices[0].Name != "login.museum.example" {
		d.t.Fatalf("got the choices %v", choices)
	}
	attempt := identity.Attempt{Secret: [32]byte{7}, Choice: choices[0].ID, Begun: d.now().Unix(), Return: "/v1/batches/x"}
	address, err := d.signIns.Begin(d.t.Context(), attempt)
	if err != nil {
		return identity.Caller{}, err
	}
	u, err := url.Parse(address)
	if err != nil {
		d.t.Fatal(err)
	}
	d.asked = u.Query()
	kept, ok := identity.ParseAttempt(attempt.Text())
	if !ok || kept != attempt {
		d.t.Fatalf("got %v of %q", kept, attempt.Text())
	}
	return d.signIns.Complete(d.t.Context(), kept, url.Values{"code": {"c-1"}, "state": {d.asked.Get("state")}})
}

// What goes to the provider (OpenID Connect Core 1.0, 3.1.2.1; RFC 7636, 4.3 and 4.5).
func TestWhatAProviderIsAsked(t *testing.T) {
	t.Parallel()
	d := newDoor(t, "open: sesame")
	got, err := d.tried()
	if err != nil || got.Institution != (uuid.UUID{1}) || len(got.Scopes) != 2 {
		t.Fatalf("got %+v, %v", got, err)
	}
	for name, want := range map[string]string{"response_type": "code", "client_id": "bench app", "redirect_uri": back,
		"scope": "openid roles", "code_challenge_method": "S256", "flavour": "plain"} {
		if d.asked.Get(name) != want {
			t.Errorf("asked with %s=%q, want %q", name, d.asked.Get(name), want)
		}
	}
	challenge := sha256.Sum256([]byte(d.form.Get("code_verifier")))
	if n := len(d.form.Get("code_verifier")); n < 43 ||
		d.asked.Get("code_challenge") != base64.RawURLEncoding.EncodeToString(challenge[:]) {
		t.Errorf("the verifier %q is not that of the challenge", d.form.Get("code_verifier"))
	}
	secrets := map[string]bool{}
	for _, value := range []string{d.asked.Get("state"), d.asked.Get("nonce"), d.form.Get("code_verifier")} {
		if secrets[value] = true; len(value) != 43 {
			t.Errorf("got %q", value)
		}
	}
	if len(secrets) != 3 || d.basic != "bench+app:open%3A+sesame" || d.form.Has("client_secret") || d.form.Get("redirect_uri") != back {
		t.Errorf("got the form %v with %q", d.form, d.basic)
	}
	posted := newDoor(t, "sesame")
	posted.says["token_endpoint_auth_methods_supported"] = []string{"client_secret_basic", "client_secret_post"}
	if _, err := posted.tried(); err != nil || posted.basic != ":" || posted.form.Get("client_secret") != "sesame" {
		t.Errorf("got the form %v with %q, %v", posted.form, posted.basic, err)
	}
	public := newDoor(t, "")
	if _, err := public.tried(); err != nil || public.basic != ":" || public.form.Get("client_id") != "bench app" ||
		public.form.Has("client_secret") {
		t.Errorf("got the form %v with %q, %v", public.form, public.basic, err)
	}
}

// What a provider may say of a person, and what lets nobody in.
func TestForgedIDTokens(t *testing.T) {
	t.Parallel()
	in := map[string]any{"azp": "bench app", "aud": []string{"bench app", "another"}}
	d := newDoor(t, "")
	if d.claims = in; true {
		if _, err := d.tried(); err != nil {
			t.Errorf("with azp and two audiences: %v", err)
		}
	}
	for name, claims := range map[string]map[string]any{
		"another nonce": {"nonce": "x"}, "no nonce": {"nonce": nil}, "another audience": {"aud": audience}, "no audience": {"aud": nil},
		"for another party": {"azp": "another", "aud": []string{"bench app", "another"}}, "another issuer": {"iss": "https://x.example"},
		"expired": {"exp": 1}, "not yet": {"nbf": 99_999_999_999}, "nobody": {"sub": ""}, "too long": {"x": strings.Repeat("x", 17<<10)},
	} {
		d := newDoor(t, "")
		d.claims = claims
		if got, err := d.tried(); !fault.Is(err, fault.Unauthenticated) || got.Institution != uuid.Nil {
			t.Errorf("%s: got %+v, %v", name, got, err)
		}
	}
	d = newDoor(t, "")
	d.claims = map[string]any{"roles": []string{"visitors"}}
	if _, err := d.tried(); !fault.Is(err, fault.Forbidden) {
		t.Errorf("without a role: got %v", err)
	}
	d = newDoor(t, "")
	d.header = map[string]any{"kid": "one", "crit": []string{"x"}, "x": 1}
	if _, err := d.tried(); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("with something critical: got %v", err)
	}
}

// A provider that is not there, or answers nonsense, lets nobody in; where it says that it names itself, it has to.
func TestProvidersThatFail(t *testing.T) {
	t.Parallel()
	for status, want := range map[int]fault.Kind{0: fault.Unavailable, 500: fault.Unavailable, 429: fault.Unavailable,
		400: fault.Unauthenticated, 401: fault.Unauthenticated, 302: fault.Unauthenticated} {
		d := newDoor(t, "")
		d.status = status
		if _, err := d.tried(); !fault.Is(err, want) {
			t.Errorf("the code is answered %d: got %v", status, err)
		}
	}
	for _, address := range []string{"", "javascript:alert(1)", "http://login.museum.example/", "/authorise"} {
		d := newDoor(t, "")
		d.says["authorization_endpoint"] = address
		if _, err := d.tried(); !fault.Is(err, fault.Unavailable) {
			t.Errorf("sent to %q: %v", address, err)
		}
	}
	d := newDoor(t, "")
	d.says["authorization_response_iss_parameter_supported"] = true
	if _, err := d.tried(); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("an answer that does not name its issuer: got %v", err)
	}
	d = newDoor(t, "")
	attempt := identity.Attempt{Choice: d.signIns.Choices()[0].ID, Begun: d.now().Unix()}
	address, _ := d.signIns.Begin(t.Context(), attempt)
	u, _ := url.Parse(address)
	d.later(identity.AttemptFor + time.Second)
	answer := url.Values{"code": {"c"}, "state": u.Query()["state"]}
	if _, err := d.signIns.Complete(t.Context(), attempt, answer); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("an old attempt: got %v", err)
	}
	if identity.NewSignIns(d.tokens, nil, back) != nil {
		t.Error("one may sign in at a provider without a client id")
	}
}

func TestAttemptsThatCannotBeRead(t *testing.T) {
	t.Parallel()
	good := identity.Attempt{Choice: "x", Begun: 1, Return: "/v1"}.Text()
	for _, text := range []string{"", "...", good + ".x", strings.Replace(good, ".1.", ".one.", 1), good[1:], good + "!", "A" + good} {
		if a, ok := identity.ParseAttempt(text); ok {
			t.Errorf("%q is read as %v", text, a)
		}
	}
}

package identity_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hmac"
	"crypto/rand"
	"crypto/rsa"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"errors"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"
	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/identity"
)

const (
	issuer   = "https://login.museum.example"
	audience = "https://meniscus.museum.example"
)

var rsaKey = sync.OnceValue(func() *rsa.PrivateKey {
	key, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		panic(err)
	}
	return key
})

// provider answers as one does, and counts how often it is asked for its keys.
type provider struct {
	mu    sync.Mutex
	down  bool
	keys  []jose.JSONWebKey
	asked []string
}

func (p *provider) fetch(_ context.Context, address string) ([]byte, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.asked = append(p.asked, address)
	switch {
	case p.down:
		return nil, errors.New("no route to host")
	case address == issuer+"/.well-known/openid-configuration":
		return []byte(`{"issuer":"` + issuer + `","jwks_uri":"` + issuer + `/keys"}`), nil
	case address == issuer+"/keys":
		return json.Marshal(jose.JSONWebKeySet{Keys: p.keys})
	}
	return nil, errors.New("not found")
}

func (p *provider) times() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.asked)
}

// trial is a reader of tokens at a moment that the test sets.
type trial struct {
	t      *testing.T
	p      *provider
	tokens *identity.Tokens
	mu     sync.Mutex
	at     time.Time
}

func newTrial(t *testing.T, algorithms ...string) *trial {
	t.Helper()
	if len(algorithms) == 0 {
		algorithms = []string{"RS256"}
	}
	x := &trial{t: t, at: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC), p: &provider{
		keys: []jose.JSONWebKey{{Key: rsaKey().Public(), KeyID: "one", Use: "sig", Algorithm: "RS256"}}}}
	x.tokens = identity.NewTokens([]identity.Provider{{Institution: uuid.UUID{1}, Issuer: issuer, Audience: audience,
		Algorithms: algorithms, RolesClaim: "roles", Roles: map[string]access.Role{"bench": access.Recorder},
		PersonClaim: "sub", NameClaim: "name"}}, x.p.fetch, x.now)
	return x
}

func (x *trial) now() time.Time {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.at
}

func (x *trial) later(d time.Duration) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.at = x.at.Add(d)
}

func (x *trial) claims(other map[string]any) map[string]any {
	claims := map[string]any{"iss": issuer, "aud": audience, "sub": "u-17", "roles": []string{"bench"},
		"iat": x.now().Unix(), "exp": x.now().Add(time.Hour).Unix()}
	maps.Copy(claims, other)
	return claims
}

func part(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return base64.RawURLEncoding.EncodeToString(b)
}

// signed signs with a key under a header of the test's own.
func signed(t *testing.T, key *rsa.PrivateKey, header, claims map[string]any) string {
	t.Helper()
	options := (&jose.SignerOptions{}).WithType("JWT")
	for name, value := range header {
		options = options.WithHeader(jose.HeaderKey(name), value)
	}
	signer, err := jose.NewSigner(jose.SigningKey{Algorithm: jose.RS256, Key: key}, options)
	if err != nil {
		t.Fatal(err)
	}
	payload, err := json.Marshal(claims)
	if err != nil {
		t.Fatal(err)
	}
	token, err := signer.Sign(payload)
	if err != nil {
		t.Fatal(err)
	}
	text, err := token.CompactSerialize()
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func (x *trial) read(token string) (identity.Caller, error) {
	return x.tokens.Read(x.t.Context(), token)
}

func TestATokenIsRead(t *testing.T) {
	t.Parallel()
	x := newTrial(t)
	for range 3 {
		got, err := x.read(signed(t, rsaKey(), map[string]any{"kid": "one"}, x.claims(map[string]any{"name": "Ada Lenz"})))
		if err != nil || got.Institution != (uuid.UUID{1}) || got.Name != "Ada Lenz" ||
			!slices.Equal(got.Scopes, access.Recorder.Scopes()) {
			t.Fatalf("got %+v, %v", got, err)
		}
	}
	if x.p.times() != 2 {
		t.Errorf("asked the provider %d times, want its document and its keys once", x.p.times())
	}
	nobody, err := x.read(signed(t, rsaKey(), map[string]any{"kid": "one"}, x.claims(map[string]any{"roles": "visitor", "name": "x\ny"})))
	if err != nil || len(nobody.Scopes) != 0 || !strings.HasPrefix(nobody.Name, "Signed in at login.museum.example as ") {
		t.Errorf("got %+v, %v; want no scopes, and a name of ours", nobody, err)
	}
}

// Tokens that attackers send open nothing (RFC 8725, and the attacks that it lists).
func TestForgedTokensAreRefused(t *testing.T) {
	t.Parallel()
	x := newTrial(t)
	other, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	kid := map[string]any{"kid": "one"}
	sign := func(claims map[string]any) string { return signed(t, rsaKey(), kid, x.claims(claims)) }
	good := sign(nil)
	parts := strings.Split(good, ".")
	public, err := x509.MarshalPKIXPublicKey(rsaKey().Public())
	if err != nil {
		t.Fatal(err)
	}
	hs256 := func(secret []byte) string {
		head := part(map[string]any{"alg": "HS256", "typ": "JWT", "kid": "one"}) + "." + part(x.claims(nil))
		mac := hmac.New(sha256.New, secret)
		mac.Write([]byte(head))
		return head + "." + base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
	}
	none := func(alg string) string {
		return part(map[string]any{"alg": alg, "typ": "JWT"}) + "." + part(x.claims(nil)) + "."
	}
	tokens := map[string]string{
		"none": none("none"), "None": none("None"), "nOnE": none("nOnE"), "no algorithm": none(""),
		"none, with the signature":    part(map[string]any{"alg": "none"}) + "." + parts[1] + "." + parts[2],
		"HS256 by the key as PEM":     hs256(pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: public})),
		"HS256 by the key as DER":     hs256(public),
		"HS256 by nothing":            hs256(nil),
		"another's key":               signed(t, other, kid, x.claims(nil)),
		"a key in the header":         signed(t, other, map[string]any{"jwk": jose.JSONWebKey{Key: other.Public()}}, x.claims(nil)),
		"jku":                         signed(t, other, map[string]any{"jku": "https://thief.example/keys"}, x.claims(nil)),
		"x5u":                         signed(t, other, map[string]any{"x5u": "https://thief.example/chain"}, x.claims(nil)),
		"kid is a path":               signed(t, other, map[string]any{"kid": "../../../../dev/null"}, x.claims(nil)),
		"kid is an address":           signed(t, other, map[string]any{"kid": "https://thief.example/keys"}, x.claims(nil)),
		"kid is SQL":                  signed(t, other, map[string]any{"kid": "one' or '1'='1"}, x.claims(nil)),
		"kid is no text":              part(map[string]any{"alg": "RS256", "kid": 7}) + "." + parts[1] + "." + parts[2],
		"changed claims":              parts[0] + "." + part(x.claims(map[string]any{"sub": "u-1"})) + "." + parts[2],
		"no signature":                parts[0] + "." + parts[1] + ".",
		"another audience":            sign(map[string]any{"aud": "https://mail.example"}),
		"no audience":                 sign(map[string]any{"aud": nil}),
		"another issuer":              sign(map[string]any{"iss": "https://login.thief.example"}),
		"an issuer that begins alike": sign(map[string]any{"iss": issuer + ".thief.example"}),
		"expired":                     sign(map[string]any{"exp": x.now().Add(-time.Second).Unix()}),
		"never expires":               sign(map[string]any{"exp": nil}),
		"not valid yet":               sign(map[string]any{"nbf": x.now().Add(2 * time.Minute).Unix()}),
		"valid from no time":          sign(map[string]any{"nbf": "tomorrow"}),
		"nobody":                      sign(map[string]any{"sub": ""}),
		"an ID token by its type":     signed(t, rsaKey(), map[string]any{"kid": "one", "typ": "logout+jwt"}, x.claims(nil)),
		"an ID token by its nonce":    sign(map[string]any{"nonce": "n-0S6_WzA2Mj"}),
		"an ID token by a digest":     sign(map[string]any{"at_hash": "MTIzNDU2Nzg5MDEyMzQ1Ng"}),
		"an unknown critical header": signed(t, rsaKey(), map[string]any{"kid": "one", "crit": []string{"x-mine"},
			"x-mine": true}, x.claims(nil)),
		"critical, and known": part(map[string]any{"alg": "RS256", "kid": "one", "crit": []string{"b64"},
			"b64": false}) + "." + parts[1] + "." + parts[2],
		"too long": sign(map[string]any{"padding": strings.Repeat("x", 17<<10)}),
		"as JSON": `{"protected":"` + parts[0] + `","payload":"` + parts[1] + `","signature":"` +
			parts[2] + `","a.b.":1}`,
		"two":     good + "." + good,
		"no JSON": "YWJj.YWJj.YWJj",
		"empty":   "..",
	}
	if _, err := x.read(good); err != nil {
		t.Fatalf("the good one: %v", err)
	}
	for name, token := range tokens {
		caller, err := x.read(token)
		if caller.Institution != uuid.Nil || !fault.Is(err, fault.Unauthenticated) {
			t.Errorf("%s: got %+v, %v; want it refused", name, caller, err)
		}
	}
	for _, address := range x.p.asked {
		if !strings.HasPrefix(address, issuer+"/") {
			t.Errorf("a token had %s fetched", address)
		}
	}
	if x.p.times() > 2 {
		t.Errorf("tokens had the keys fetched: asked %d times", x.p.times())
	}
}

// Strangers who name keys that there are not have the keys fetched once a minute, and no more.
func TestUnknownKeysAreAskedForNowAndThen(t *testing.T) {
	t.Parallel()
	x := newTrial(t)
	stranger, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	for range 600 { // ten minutes
		token := signed(t, stranger, map[string]any{"kid": uuid.NewString()}, x.claims(nil))
		if _, err := x.read(token); !fault.Is(err, fault.Unauthenticated) {
			t.Fatalf("got %v", err)
		}
		x.later(time.Second)
	}
	if fetches := x.p.times() / 2; fetches > 11 {
		t.Errorf("the keys were fetched %d times in ten minutes", fetches)
	}
	x.p.mu.Lock() // the provider changes its key: within the minute the new one is taken
	x.p.keys = append(x.p.keys, jose.JSONWebKey{Key: stranger.Public(), KeyID: "two", Use: "sig"})
	x.p.mu.Unlock()
	x.later(time.Minute)
	if _, err := x.read(signed(t, stranger, map[string]any{"kid": "two"}, x.claims(nil))); err != nil {
		t.Errorf("the new key: %v", err)
	}
}

// A provider that is down lets nobody in, and is told with a time to come again; keys that are known are
// used meanwhile, for hours and not for ever.
func TestAProviderThatIsDown(t *testing.T) {
	t.Parallel()
	x := newTrial(t)
	x.p.down = true
	token := func() string { return signed(t, rsaKey(), map[string]any{"kid": "one"}, x.claims(nil)) }
	unavailable := func() {
		t.Helper()
		_, err := x.read(token())
		list := fault.From(err)
		if !fault.Is(err, fault.Unavailable) || list[0].Wait < time.Second {
			t.Errorf("got %v, want it unavailable, with a time to wait", err)
		}
	}
	set := func(down bool) {
		x.p.mu.Lock()
		defer x.p.mu.Unlock()
		x.p.down = down
	}
	for range 50 {
		unavailable()
	}
	if x.p.times() != 1 {
		t.Errorf("asked %d times at once", x.p.times())
	}
	set(false)
	x.later(11 * time.Second)
	if _, err := x.read(token()); err != nil {
		t.Fatalf("up again: %v", err)
	}
	set(true)
	x.later(5 * time.Hour)
	if _, err := x.read(token()); err != nil {
		t.Errorf("with keys of five hours ago: %v", err)
	}
	x.later(2 * time.Hour)
	unavailable()
}

// The examples of RFC 7515, appendix A: of what they sign with asymmetric keys the signatures are right (A.2, A.3),
// and they are refused for having expired; the others are refused for how they are signed (A.1, A.5).
func TestExamplesOfRFC7515(t *testing.T) {
	t.Parallel()
	const payload = "eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ"
	const a2 = `{"kty":"RSA","n":"ofgWCuLjybRlzo0tZWJjNiuSfb4p4fAkd_wWJcyQoTbji9k0l8W26mPddxHmfHQp-Vaw-4qPCJrcS2mJPMEzP1Pt0Bm4d4QlL-yRT-` +
		`SFd2lZS-pCgNMsD1W_YpRPEwOWvG6b32690r2jZ47soMZo9wGzjb_7OMg0LOL-bSf63kpaSHSXndS5z5rexMdbBYUsLA9e-KXBdQOS-UTo7WTBEMa2R2CapHg6` +
		`65xsmtdVMTBQY4uDZlxvb3qCo5ZwKh9kG4LT6_I5IhlJH7aGhyxXFvUK-DWNmoudF8NAco9_h9iaGNj8q2ethFkMLs91kzk2PAcDTW9gb54h4FRWyuXpoQ","e":"AQAB"}`
	const a3 = `{"kty":"EC","crv":"P-256","x":"f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU","y":"x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0"}`
	fetch := func(_ context.Context, address string) ([]byte, error) {
		if strings.HasSuffix(address, "/keys") {
			return []byte(`{"keys":[` + a2 + `,` + a3 + `]}`), nil
		}
		return []byte(`{"issuer":"joe","jwks_uri":"https://login.museum.example/keys"}`), nil
	}
	examples := map[string]struct{ token, want string }{
		"A.1": {"eyJ0eXAiOiJKV1QiLA0KICJhbGciOiJIUzI1NiJ9." + payload + ".dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk", "signed, in a way"},
		"A.2": {"eyJhbGciOiJSUzI1NiJ9." + payload +
			".cC4hiUPoj9Eetdgtv3hF80EGrhuB__dzERat0XF9g2VtQgr9PJbu3XOiZj5RZmh7AAuHIm4Bh-0Qc_lF5YKt_O8W2Fp5" +
			"jujGbds9uJdbF9CUAr7t1dnZcAcQjbKBYNX4BAynRFdiuB--f_nZLgrnbyTyWzO75vRK5h6xBArLIARNPvkSjtQBMHlb1L07Qe7K0GarZRmB_eSN9383LcOLn6_dO--xi12" +
			"jzDwusC-eOkHWEsqtFZESc6BfI7noOPqvhJ1phCnvWh6IeYI2w9QOYEUipUTI8np6LbgGY9Fs98rqVt5AXLIhWkWywlVmtVrBp0igcN_IoypGlUPQGe77Rw", "expired"},
		"A.3": {"eyJhbGciOiJFUzI1NiJ9." + payload +
			".DtEhU3ljbEg8L38VWAfUAqOyKAM6-Xx-F4GawxaepmXFCgfTjDxw5djxLa8ISlSApmWQxfKTUJqPP3-Kg6NU1Q", "expired"},
		"A.5": {"eyJhbGciOiJub25lIn0." + payload + ".", "signed, in a way"},
	}
	for name, example := range examples {
		keys := identity.KeysOf("joe", fetch, time.Now)
		got := keys(t.Context(), example.token, "RS256", "ES256")
		if want := example.want == "expired"; (got == nil) != want {
			t.Errorf("%s: got %v, want the signature taken: %v", name, got, want)
		}
		broken := example.token[:len(example.token)-4] + "AAAA"
		if keys(t.Context(), broken, "RS256", "ES256") == nil {
			t.Errorf("%s with another signature is taken", name)
		}
	}
}

// Keys that are too weak, secret or not for signing are not used.
func TestKeysThatAreNotUsed(t *testing.T) {
	t.Parallel()
	weak, err := rsa.GenerateKey(rand.Reader, 1024)
	if err != nil {
		t.Skip(err) // the toolchain refuses to make one
	}
	elliptical, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	x := newTrial(t)
	x.p.keys = []jose.JSONWebKey{{Key: weak.Public(), KeyID: "one"}, {Key: elliptical, KeyID: "one"},
		{Key: rsaKey().Public(), KeyID: "one", Use: "enc"}, {Key: []byte(strings.Repeat("k", 32)), KeyID: "one"}}
	if _, err := x.read(signed(t, rsaKey(), map[string]any{"kid": "one"}, x.claims(nil))); !fault.Is(err, fault.Unavailable) {
		t.Errorf("got %v, want no key that can be used", err)
	}
}

func TestProvidersAreChecked(t *testing.T) {
	t.Parallel()
	const good = `{"institution":"0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a11","issuer":"https://login.museum.example","audience":"m",` +
		`"algorithms":["RS256"],"rolesClaim":"/realm/roles","roles":{"x":"reader"}}`
	if list, err := identity.ParseProviders(`[` + good + `]`); err != nil || list[0].PersonClaim != "sub" {
		t.Errorf("got %v, %v", list, err)
	}
	for _, wrong := range []string{good, `[` + good + `,` + good + `]`, strings.Replace(`[`+good+`]`, "RS256", "HS256", 1),
		strings.Replace(`[`+good+`]`, "RS256", "none", 1), strings.Replace(`[`+good+`]`, `"reader"`, `"owner"`, 1),
		strings.Replace(`[`+good+`]`, "https://login", "ftp://login", 1), strings.Replace(`[`+good+`]`, `"audience":"m",`, "", 1),
		strings.Replace(`[`+good+`]`, `"audience"`, `"audiences"`, 1), strings.Replace(`[`+good+`]`,
			"https://login.museum.example", "https://a@login", 1),
		strings.Replace(`[`+good+`]`, `"audience"`, `"clientSecret":"x","audience"`, 1),
		strings.Replace(`[`+good+`]`, `"audience"`, `"clientId":"x","scope":"profile","audience"`, 1)} {
		if _, err := identity.ParseProviders(wrong); err == nil {
			t.Errorf("%s is taken", wrong)
		}
	}
}

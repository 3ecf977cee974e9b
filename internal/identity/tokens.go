package identity

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/coreos/go-oidc/v3/oidc"
	"github.com/go-jose/go-jose/v4"
	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
)

const (
	// mostToken is the longest token that is looked at, in bytes.
	mostToken = 16 << 10
	// clockSkew is how far the provider's clock may be ahead of ours.
	clockSkew = time.Minute
	// mostName is the longest name that a person is recorded by.
	mostName = 200
)

// Caller is whom an access token is about.
type Caller struct {
	Institution uuid.UUID
	Subject     [32]byte // the digest of the issuer and its name for the person
	Name        string   // to record the person by, when they first come
	Scopes      []access.Scope
	Ends        time.Time
}

// Tokens reads access tokens; nil reads none.
type Tokens struct {
	now    func() time.Time
	issued []issued
}

// issued are the tokens of a provider for an institution.
type issued struct {
	Provider
	keys *keys
}

// NewTokens makes a reader of tokens of these providers. Nothing is fetched yet.
func NewTokens(providers []Provider, fetch Fetch, now func() time.Time) *Tokens {
	t := &Tokens{now: now}
	byIssuer := map[string]*keys{}
	for _, p := range providers {
		if byIssuer[p.Issuer] == nil {
			byIssuer[p.Issuer] = &keys{issuer: p.Issuer, fetch: fetch, now: now}
		}
		t.issued = append(t.issued, issued{p, byIssuer[p.Issuer]})
	}
	return t
}

// Looks tells whether a text has the form of a token.
func (t *Tokens) Looks(text string) bool { return t != nil && strings.Count(text, ".") == 2 }

func refuse(detail string) error {
	return fault.Of(fault.Unauthenticated, "access-token-refused", "%s", detail)
}

// Read gives whom a token is about. A token that is not right is a fault that says why, and so is a
// provider that cannot be asked for its keys.
func (t *Tokens) Read(ctx context.Context, text string) (Caller, error) {
	if len(text) > mostToken {
		return Caller{}, refuse("This access token is too long to be looked at.")
	}
	if why := wrongHeader(text); why != "" {
		return Caller{}, refuse(why)
	}
	of, found := t.provider(text)
	if !found {
		return Caller{}, refuse("This access token is of no provider that is set up here, or not for this service.")
	}
	token, err := t.verify(ctx, of, of.Audience, text)
	var expired *oidc.TokenExpiredError
	switch {
	case errors.As(err, &expired):
		return Caller{}, refuse("This access token has expired; ask its provider for another.")
	case fault.Is(err, fault.Unavailable):
		return Caller{}, err
	case err != nil:
		return Caller{}, refuse("This access token is not one that its provider signed, in a way that is taken here.")
	}
	if ofSignIn(token) {
		return Caller{}, refuse("This is an ID token, which tells a program who signed in, and opens nothing; send the access token.")
	}
	return t.caller(of, token)
}

// ofSignIn tells an ID token, which may be for the same audience, by claims that no access token has (OpenID
// Connect Core 1.0, sections 2 and 3.3.2.11).
func ofSignIn(token *oidc.IDToken) bool {
	var claims map[string]any
	if token.Claims(&claims) != nil {
		return false
	}
	return claims["nonce"] != nil || claims["at_hash"] != nil || claims["c_hash"] != nil
}

// verify checks who signed a token, in which way, for whom and when. A provider that cannot be asked is a fault.
func (t *Tokens) verify(ctx context.Context, of issued, audience, text string) (*oidc.IDToken, error) {
	set := &keySet{of: of}
	verifier := oidc.NewVerifier(of.Issuer, set, &oidc.Config{
		ClientID: audience, SupportedSigningAlgs: of.Algorithms, Now: t.now})
	token, err := verifier.Verify(ctx, text)
	if set.unavailable != nil {
		return nil, set.unavailable
	}
	return token, err
}

// caller reads the claims of a token that is right.
func (t *Tokens) caller(of issued, token *oidc.IDToken) (Caller, error) {
	var claims map[string]any
	if err := token.Claims(&claims); err != nil {
		return Caller{}, refuse("The claims of this access token cannot be read.")
	}
	if from, stated := claims["nbf"]; stated {
		seconds, ok := from.(float64)
		if !ok || t.now().Add(clockSkew).Before(time.Unix(int64(seconds), 0)) {
			return Caller{}, refuse("This access token is not valid yet.")
		}
	}
	person, _ := claim(claims, of.PersonClaim).(string)
	if person == "" {
		return Caller{}, refuse("This access token does not say whose it is.")
	}
	c := Caller{Institution: of.Institution, Scopes: of.scopes(claims), Ends: token.Expiry,
		Subject: sha256.Sum256([]byte(of.Issuer + "\x00" + person))}
	if c.Name = nameIn(claim(claims, of.NameClaim)); of.NameClaim == "" || c.Name == "" {
		u, _ := url.Parse(of.Issuer)
		c.Name = "Signed in at " + u.Host + " as " + hex.EncodeToString(c.Subject[:6])
	}
	return c, nil
}

// nameIn is a claim as a name; empty if it cannot be one.
func nameIn(value any) string {
	name, _ := value.(string)
	name = strings.TrimSpace(name)
	if len(name) > mostName || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return ""
	}
	return name
}

// wrongHeader says why a token cannot be one that is taken, by its header alone. What the header
// says of keys beyond their id (jku, jwk, x5u, x5c) is never looked at.
func wrongHeader(text string) string {
	var header struct {
		Type     string          `json:"typ"`
		KeyID    string          `json:"kid"`
		Critical json.RawMessage `json:"crit"`
	}
	first, _, _ := strings.Cut(text, ".")
	raw, err := base64.RawURLEncoding.Strict().DecodeString(first)
	if err != nil || json.Unmarshal(raw, &header) != nil {
		return "This access token cannot be read."
	}
	if header.Critical != nil {
		return "This access token asks for something that is not known here."
	}
	kind := strings.TrimPrefix(strings.ToLower(header.Type), "application/")
	if !slices.Contains([]string{"", "jwt", "at+jwt"}, kind) {
		return "This is a token, and no access token."
	}
	return ""
}

// provider finds the provider whose token a text says that it is, before anything of it is
// believed.
func (t *Tokens) provider(text string) (issued, bool) {
	var said struct {
		Issuer   string          `json:"iss"`
		Audience json.RawMessage `json:"aud"`
	}
	payload, err := base64.RawURLEncoding.DecodeString(strings.Split(text, ".")[1])
	if err != nil || json.Unmarshal(payload, &said) != nil {
		return issued{}, false
	}
	var audience []string
	if one := ""; json.Unmarshal(said.Audience, &one) == nil {
		audience = []string{one}
	} else if json.Unmarshal(said.Audience, &audience) != nil {
		return issued{}, false
	}
	var found []issued
	for _, p := range t.issued {
		if p.Issuer == said.Issuer && slices.Contains(audience, p.Audience) {
			found = append(found, p)
		}
	}
	if len(found) != 1 { // a token for two institutions is for neither
		return issued{}, false
	}
	return found[0], true
}

// keySet checks signatures for the library.
type keySet struct {
	of          issued
	unavailable error // why the keys could not be asked for; the library would make a text of it
}

func (s *keySet) VerifySignature(ctx context.Context, text string) ([]byte, error) {
	var algorithms []jose.SignatureAlgorithm
	for _, name := range s.of.Algorithms {
		algorithms = append(algorithms, jose.SignatureAlgorithm(name))
	}
	token, err := jose.ParseSignedCompact(text, algorithms)
	if err != nil {
		return nil, err
	}
	payload, err := s.of.keys.payload(ctx, token)
	if err != nil && !errors.Is(err, errSignature) {
		s.unavailable = err
	}
	return payload, err
}

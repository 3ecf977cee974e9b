package identity

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"meniscus/internal/fault"
)

// Post sends a form to an address and reads the answer, of a bounded size and in a bounded time. With a
// name, it and a secret go along as credentials (HTTP Basic).
type Post func(ctx context.Context, address string, form url.Values, name, secret string) (status int, body []byte, err error)

// AttemptFor is how long a person may take to sign in.
const AttemptFor = 10 * time.Minute

// SignIns has people sign in with a browser: by an authorization code (OpenID Connect Core 1.0, section 3.1)
// with PKCE (RFC 7636). nil has nobody.
type SignIns struct {
	tokens *Tokens
	post   Post
	back   string // the address to which a provider sends a browser back
}

// NewSignIns makes sign-ins at those providers of tokens that have a client id; nil if there are none.
func NewSignIns(tokens *Tokens, post Post, back string) *SignIns {
	s := &SignIns{tokens: tokens, post: post, back: back}
	if len(s.Choices()) == 0 {
		return nil
	}
	return s
}

// Choice is a provider at which one may sign in.
type Choice struct{ ID, Name string }

// Choices are the providers at which one may sign in, as they are set up.
func (s *SignIns) Choices() (list []Choice) {
	if s == nil || s.tokens == nil {
		return nil
	}
	for _, p := range s.tokens.issued {
		if p.ClientID != "" {
			list = append(list, Choice{p.choice(), p.shown()})
		}
	}
	return list
}

// choice names a provider among those that are set up, on every instance alike.
func (p *Provider) choice() string {
	sum := sha256.Sum256([]byte(p.Institution.String() + "\x00" + p.Issuer + "\x00" + p.ClientID))
	return hex.EncodeToString(sum[:8])
}

func (p *Provider) shown() string {
	if p.Name != "" {
		return p.Name
	}
	u, _ := url.Parse(p.Issuer)
	return u.Host
}

func (s *SignIns) chosen(choice string) (issued, bool) {
	if s == nil {
		return issued{}, false
	}
	for _, p := range s.tokens.issued {
		if p.ClientID != "" && p.choice() == choice {
			return p, true
		}
	}
	return issued{}, false
}

// Attempt is a sign-in that has begun, which only the browser that began it keeps. What goes to the provider is
// derived from its secret and from all of its parts, so that an attempt with another part fits no answer.
type Attempt struct {
	Secret [32]byte
	Choice string
	Begun  int64  // in seconds since 1970
	Return string // the path to go back to
}

// Text is the attempt as the browser keeps it.
func (a Attempt) Text() string {
	return strings.Join([]string{base64.RawURLEncoding.EncodeToString(a.Secret[:]), a.Choice, strconv.FormatInt(a.Begun, 10),
		base64.RawURLEncoding.EncodeToString([]byte(a.Return))}, ".")
}

// ParseAttempt reads an attempt's text.
func ParseAttempt(text string) (a Attempt, ok bool) {
	parts := strings.Split(text, ".")
	if len(parts) != 4 {
		return a, false
	}
	secret, err1 := base64.RawURLEncoding.DecodeString(parts[0])
	begun, err2 := strconv.ParseInt(parts[2], 10, 64)
	back, err3 := base64.RawURLEncoding.DecodeString(parts[3])
	if err1 != nil || err2 != nil || err3 != nil || len(secret) != len(a.Secret) {
		return a, false
	}
	a = Attempt{Choice: parts[1], Begun: begun, Return: string(back)}
	copy(a.Secret[:], secret)
	return a, true
}

// derived is what a purpose has of the attempt: 43 characters that tell nothing of the secret.
func (a Attempt) derived(purpose string) string {
	mac := hmac.New(sha256.New, a.Secret[:])
	for _, part := range []string{purpose, a.Choice, strconv.FormatInt(a.Begun, 10), a.Return} {
		mac.Write([]byte(part + "\x00"))
	}
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// refused is a sign-in that does not let anyone in.
func refused(detail string) error {
	return fault.Of(fault.Unauthenticated, "sign-in-refused", "%s", detail)
}

// Begin gives the address of the provider to which the browser goes with an attempt.
func (s *SignIns) Begin(ctx context.Context, a Attempt) (string, error) {
	of, known := s.chosen(a.Choice)
	if !known {
		return "", refused("Nobody can sign in there; choose a place that this page names.")
	}
	at, err := of.keys.endpoints(ctx)
	if err != nil {
		return "", err
	}
	u, err := url.Parse(at.Authorise)
	if err != nil || u.Host == "" || u.Scheme != "https" && !strings.HasPrefix(of.Issuer, u.Scheme+"://") {
		return "", unavailable(pauseAfterFailure)
	}
	challenge := sha256.Sum256([]byte(a.derived("verifier")))
	query := u.Query()
	for name, value := range map[string]string{"response_type": "code", "client_id": of.ClientID, "redirect_uri": s.back,
		"scope": of.Scope, "state": a.derived("state"), "nonce": a.derived("nonce"),
		"code_challenge": base64.RawURLEncoding.EncodeToString(challenge[:]), "code_challenge_method": "S256"} {
		query.Set(name, value)
	}
	u.RawQuery = query.Encode()
	return u.String(), nil
}

// Complete gives whom a provider's answer to an attempt is about: the query with which it sent the browser back.
func (s *SignIns) Complete(ctx context.Context, a Attempt, answer url.Values) (Caller, error) {
	wrong := refused("This sign-in was not begun in this browser, or more than ten minutes ago. Begin again.")
	of, known := s.chosen(a.Choice)
	if !known {
		return Caller{}, wrong
	}
	same := subtle.ConstantTimeCompare([]byte(answer.Get("state")), []byte(a.derived("state"))) == 1
	if age := s.tokens.now().Unix() - a.Begun; !same || age < 0 || age > int64(AttemptFor/time.Second) {
		return Caller{}, wrong
	}
	at, err := of.keys.endpoints(ctx)
	if err != nil {
		return Caller{}, err
	}
	if said := answer.Get("iss"); said != of.Issuer && (said != "" || at.SaysIssuer) {
		return Caller{}, refused("The answer is of another provider than the one that was asked. Begin again.")
	}
	code := answer.Get("code")
	if answer.Has("error") || code == "" {
		return Caller{}, refused("The provider did not let you in. Begin again, or ask those who run it.")
	}
	text, err := s.exchange(ctx, of, at, code, a.derived("verifier"))
	if err != nil {
		return Caller{}, err
	}
	return s.caller(ctx, of, text, a.derived("nonce"))
}

// exchange gives the ID token for a code, which its provider takes once.
func (s *SignIns) exchange(ctx context.Context, of issued, at discovered, code, verifier string) (string, error) {
	form := url.Values{"grant_type": {"authorization_code"}, "code": {code}, "redirect_uri": {s.back},
		"code_verifier": {verifier}, "client_id": {of.ClientID}}
	name, secret := "", ""
	switch {
	case of.ClientSecret == "":
	case slices.Contains(at.Ways, "client_secret_post"):
		form.Set("client_secret", of.ClientSecret)
	default: // RFC 6749, section 2.3.1: both are encoded as in a form
		name, secret = url.QueryEscape(of.ClientID), url.QueryEscape(of.ClientSecret)
		form.Del("client_id")
	}
	asking, cancel := context.WithTimeout(ctx, fetchWithin)
	defer cancel()
	status, body, err := s.post(asking, at.Token, form, name, secret)
	var said struct {
		IDToken string `json:"id_token"`
	}
	switch {
	case err != nil || status >= 500 || status == 429:
		return "", unavailable(pauseAfterFailure)
	case status != 200 || json.Unmarshal(body, &said) != nil || said.IDToken == "":
		return "", refused("The provider did not take the code, which can be used once. Begin again.")
	}
	return said.IDToken, nil
}

// caller reads an ID token that was made for an attempt.
func (s *SignIns) caller(ctx context.Context, of issued, text, nonce string) (Caller, error) {
	wrong := refused("What the provider said of you is not signed as it is agreed, or not for this sign-in. Begin again.")
	if len(text) > mostToken || wrongHeader(text) != "" {
		return Caller{}, wrong
	}
	token, err := s.tokens.verify(ctx, of, of.ClientID, text)
	if fault.Is(err, fault.Unavailable) {
		return Caller{}, err
	}
	if err != nil || subtle.ConstantTimeCompare([]byte(token.Nonce), []byte(nonce)) != 1 {
		return Caller{}, wrong
	}
	var more struct {
		For string `json:"azp"`
	}
	if err := token.Claims(&more); err != nil || more.For != "" && more.For != of.ClientID {
		return Caller{}, wrong
	}
	c, err := s.tokens.caller(of, token)
	if err != nil {
		return c, wrong
	}
	if len(c.Scopes) == 0 {
		return c, fault.Of(fault.Forbidden, "scope-missing", "You have no role there that opens anything here.")
	}
	return c, nil
}

// Package identity reads tokens of OpenID Connect providers that an operator has set up: whose they
// are, and which roles they carry; and it has people sign in there with a browser. Providers are
// asked by functions that are handed in.
package identity

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"github.com/coreos/go-oidc/v3/oidc"
	"github.com/google/uuid"

	"meniscus/internal/access"
)

// Provider is an OpenID Connect provider as the operator has set it up for an institution.
type Provider struct {
	Institution uuid.UUID `json:"institution"`
	// Issuer is the provider's name of itself, and the address where it is discovered.
	Issuer string `json:"issuer"`
	// Audience is what its tokens call this service.
	Audience string `json:"audience"`
	// Algorithms are the ways to sign that are taken.
	Algorithms []string `json:"algorithms"`
	// RolesClaim is the claim that names roles, or a JSON Pointer to one.
	RolesClaim string `json:"rolesClaim"`
	// Roles are our roles by the names that the claim has for them.
	Roles map[string]access.Role `json:"roles"`
	// PersonClaim tells one person from another for good; "sub" if empty.
	PersonClaim string `json:"personClaim"`
	// NameClaim is by which name a person is recorded when they first come; if empty, by none of theirs.
	NameClaim string `json:"nameClaim"`
	// ClientID is what the provider calls this service when people sign in with a browser; nobody can if empty.
	ClientID string `json:"clientId"`
	// ClientSecret proves to the provider that it is this service; empty for a public client.
	ClientSecret string `json:"clientSecret"`
	// Scope is what is asked for when people sign in; "openid profile" if empty.
	Scope string `json:"scope"`
	// Name is what people are shown when they choose where to sign in; the issuer's host if empty.
	Name string `json:"name"`
}

// algorithms are those that may be set up: the caller and the service share no secret, so that
// none with one is among them.
var algorithms = []string{oidc.RS256, oidc.RS384, oidc.RS512, oidc.PS256, oidc.PS384, oidc.PS512,
	oidc.ES256, oidc.ES384, oidc.ES512, oidc.EdDSA}

// mostProviders is how many providers may be set up.
const mostProviders = 100

// ParseProviders reads a JSON array of providers.
func ParseProviders(text string) ([]Provider, error) {
	decoder := json.NewDecoder(bytes.NewReader([]byte(text)))
	decoder.DisallowUnknownFields()
	var list []Provider
	if err := decoder.Decode(&list); err != nil || decoder.More() {
		return nil, errors.New("write a JSON array of providers, each with institution, issuer, audience, algorithms, rolesClaim " +
			"and roles, and perhaps personClaim, nameClaim, clientId, clientSecret, scope and name")
	}
	if len(list) > mostProviders {
		return nil, fmt.Errorf("at most %d providers can be set up", mostProviders)
	}
	seen := map[[2]string]bool{}
	for i := range list {
		p := &list[i]
		if p.PersonClaim == "" {
			p.PersonClaim = "sub"
		}
		if p.Scope == "" {
			p.Scope = "openid profile"
		}
		if wrong := p.wrong(); wrong != "" {
			return nil, fmt.Errorf("provider %d: %s", i+1, wrong)
		}
		if of := [2]string{p.Issuer, p.Audience}; seen[of] {
			return nil, fmt.Errorf("provider %d: this issuer is there with the same audience; give each institution its own", i+1)
		} else {
			seen[of] = true
		}
	}
	return list, nil
}

func (p *Provider) wrong() string {
	u, err := url.Parse(p.Issuer)
	switch {
	case p.Institution == uuid.Nil:
		return "institution: write the institution's id"
	case err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" || u.RawQuery != "" || u.Fragment != "" || u.User != nil:
		return "issuer: write its address, such as https://login.museum.example"
	case p.Audience == "":
		return "audience: write what its tokens call this service"
	case len(p.Algorithms) == 0:
		return "algorithms: write which it signs with, such as RS256"
	case p.RolesClaim == "" || len(p.Roles) == 0:
		return "rolesClaim, roles: write the claim that names roles, and which of ours each is"
	case p.ClientID == "" && p.ClientSecret != "":
		return "clientId: write whose the clientSecret is"
	case !slices.Contains(strings.Fields(p.Scope), oidc.ScopeOpenID):
		return "scope: openid has to be in it"
	}
	for _, algorithm := range p.Algorithms {
		if !slices.Contains(algorithms, algorithm) {
			return "algorithms: take some of " + strings.Join(algorithms, ", ")
		}
	}
	for _, role := range p.Roles {
		if len(role.Scopes()) == 0 {
			return fmt.Sprintf("roles: there is no role %q; the roles are %v", role, access.Roles())
		}
	}
	return ""
}

// scopes are what the roles of a token's claims allow.
func (p *Provider) scopes(claims map[string]any) []access.Scope {
	var scopes []access.Scope
	for _, name := range namesIn(claim(claims, p.RolesClaim)) {
		for _, scope := range p.Roles[name].Scopes() {
			if !slices.Contains(scopes, scope) {
				scopes = append(scopes, scope)
			}
		}
	}
	return scopes
}

// claim finds a claim by its name, or by a JSON Pointer (RFC 6901).
func claim(claims map[string]any, name string) any {
	if !strings.HasPrefix(name, "/") {
		return claims[name]
	}
	var found any = claims
	for step := range strings.SplitSeq(name[1:], "/") {
		members, _ := found.(map[string]any)
		found = members[strings.NewReplacer("~1", "/", "~0", "~").Replace(step)]
	}
	return found
}

// namesIn are the names in a claim: an array of texts, or a text with spaces between them.
func namesIn(value any) []string {
	switch v := value.(type) {
	case string:
		return strings.Fields(v)
	case []any:
		var names []string
		for _, item := range v {
			if name, ok := item.(string); ok {
				names = append(names, name)
			}
		}
		return names
	}
	return nil
}

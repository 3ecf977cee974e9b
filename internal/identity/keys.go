package identity

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"sync"
	"time"

	"crypto/rsa"

	"github.com/go-jose/go-jose/v4"

	"meniscus/internal/fault"
)

// Fetch reads a document at an address, of a bounded size and in a bounded time.
type Fetch func(ctx context.Context, address string) ([]byte, error)

const (
	// freshFor is how long keys are used before they are fetched again, beside the requests.
	freshFor = 10 * time.Minute
	// usableFor is how long keys are used while they cannot be fetched again.
	usableFor = 6 * time.Hour
	// pause is between two fetches, pauseAfterFailure after one that failed: a token can name any key
	// that it likes, and does not make the service ask the provider each time.
	pause             = time.Minute
	pauseAfterFailure = 10 * time.Second
	// fetchWithin is how long a fetch may take, mostWaiting how many requests wait for it at most.
	fetchWithin = 5 * time.Second
	mostWaiting = 100
	// mostKeys is how many keys of a provider are taken, leastRSA how many bits those of RSA have.
	mostKeys = 100
	leastRSA = 2048
)

// discovered is what a provider's discovery document says, as far as it is used.
type discovered struct {
	Issuer    string   `json:"issuer"`
	Keys      string   `json:"jwks_uri"`
	Authorise string   `json:"authorization_endpoint"`
	Token     string   `json:"token_endpoint"`
	Ways      []string `json:"token_endpoint_auth_methods_supported"`
	// SaysIssuer: its answers to a browser name it (RFC 9207).
	SaysIssuer bool `json:"authorization_response_iss_parameter_supported"`
}

// keys are the public keys of an issuer, and where else it is asked.
type keys struct {
	issuer string
	fetch  Fetch
	now    func() time.Time

	mu      sync.Mutex
	found   discovered
	set     []jose.JSONWebKey
	fetched time.Time // when found and set were
	tried   time.Time
	failed  bool
	working chan struct{} // closed when the fetch at work has ended; nil if there is none
	waiting int
}

var errSignature = errors.New("the signature is not that of a key of the provider")

func unavailable(wait time.Duration) error {
	return &fault.Fault{Kind: fault.Unavailable, Code: "identity-provider-unavailable", Wait: max(wait, time.Second),
		Detail: "The provider cannot be asked at the moment; send the request again."}
}

// payload gives the payload of a token that one of the issuer's keys signed.
func (k *keys) payload(ctx context.Context, token *jose.JSONWebSignature) ([]byte, error) {
	header := token.Signatures[0].Header
	for again := range 2 {
		set, known := k.usable()
		for _, key := range set {
			if (header.KeyID == "" || key.KeyID == header.KeyID) && (key.Algorithm == "" || key.Algorithm == header.Algorithm) {
				if payload, err := token.Verify(key.Key); err == nil {
					return payload, nil
				}
			}
			known = known || key.KeyID != "" && key.KeyID == header.KeyID
		}
		switch {
		case known:
			return nil, errSignature
		case again == 1:
			return nil, k.whyNot()
		}
		if err := k.refresh(ctx); err != nil {
			return nil, err
		}
	}
	return nil, errSignature
}

// usable are the keys that may be used; those that are old are fetched again beside the request.
func (k *keys) usable() (set []jose.JSONWebKey, _ bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	age := k.now().Sub(k.fetched)
	if age > freshFor && !k.fetched.IsZero() {
		go func() { _ = k.refresh(context.Background()) }()
	}
	if age > usableFor {
		return nil, false
	}
	return k.set, false
}

// whyNot says why no key fits after all.
func (k *keys) whyNot() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.failed || k.fetched.IsZero() {
		return unavailable(k.tried.Add(pauseAfterFailure).Sub(k.now()))
	}
	return errSignature
}

// refresh fetches the keys, unless that was done a moment ago; who comes meanwhile waits for it.
func (k *keys) refresh(ctx context.Context) error {
	k.mu.Lock()
	if working := k.working; working != nil {
		defer k.mu.Unlock()
		if k.waiting >= mostWaiting {
			return unavailable(time.Second)
		}
		k.waiting++
		k.mu.Unlock()
		select {
		case <-working:
		case <-ctx.Done():
		}
		k.mu.Lock()
		k.waiting--
		return ctx.Err()
	}
	least := pause
	if k.failed {
		least = pauseAfterFailure
	}
	if k.now().Sub(k.tried) < least {
		k.mu.Unlock()
		return nil
	}
	working := make(chan struct{})
	k.working, k.tried = working, k.now()
	k.mu.Unlock()

	fetching, cancel := context.WithTimeout(context.WithoutCancel(ctx), fetchWithin)
	defer cancel()
	found, set, err := k.read(fetching)
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.failed = err != nil; err == nil {
		k.found, k.set, k.fetched = found, set, k.now()
	}
	k.working = nil
	close(working)
	return nil
}

// endpoints are where the issuer is asked, as it said within the last hours.
func (k *keys) endpoints(ctx context.Context) (discovered, error) {
	for again := range 2 {
		_, _ = k.usable() // fetches again beside the request
		k.mu.Lock()
		found, known := k.found, k.now().Sub(k.fetched) <= usableFor
		k.mu.Unlock()
		switch {
		case known:
			return found, nil
		case again == 1:
			return discovered{}, unavailable(pauseAfterFailure)
		}
		if err := k.refresh(ctx); err != nil {
			return discovered{}, err
		}
	}
	return discovered{}, nil
}

// read discovers where the issuer is asked and where its keys are, and reads those that can be used.
func (k *keys) read(ctx context.Context) (found discovered, set []jose.JSONWebKey, err error) {
	document, err := k.fetch(ctx, strings.TrimSuffix(k.issuer, "/")+"/.well-known/openid-configuration")
	if err != nil {
		return found, nil, err
	}
	if err := json.Unmarshal(document, &found); err != nil {
		return found, nil, err
	}
	if found.Issuer != k.issuer {
		return found, nil, errors.New("the provider calls itself by another name")
	}
	if document, err = k.fetch(ctx, found.Keys); err != nil {
		return found, nil, err
	}
	var all struct {
		Keys []json.RawMessage `json:"keys"`
	}
	if err := json.Unmarshal(document, &all); err != nil {
		return found, nil, err
	}
	for _, raw := range all.Keys {
		var key jose.JSONWebKey
		if key.UnmarshalJSON(raw) == nil && usableKey(key) && len(set) < mostKeys { // others are of kinds that are not ours to know
			set = append(set, key)
		}
	}
	if len(set) == 0 {
		return found, nil, errors.New("the provider has no key that can be used")
	}
	return found, set, nil
}

// usableKey tells a public key to check signatures with.
func usableKey(key jose.JSONWebKey) bool {
	if !key.Valid() || !key.IsPublic() || key.Use != "" && key.Use != "sig" {
		return false
	}
	weak, isRSA := key.Key.(*rsa.PublicKey)
	return !isRSA || weak.N.BitLen() >= leastRSA
}

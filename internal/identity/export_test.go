package identity

import (
	"context"
	"time"
)

// KeysOf checks signatures alone, of tokens that an issuer signed.
func KeysOf(issuer string, fetch Fetch, now func() time.Time) func(ctx context.Context, token string, algorithms ...string) error {
	k := &keys{issuer: issuer, fetch: fetch, now: now}
	return func(ctx context.Context, token string, algorithms ...string) error {
		set := &keySet{of: issued{Provider{Algorithms: algorithms}, k}}
		_, err := set.VerifySignature(ctx, token)
		return err
	}
}

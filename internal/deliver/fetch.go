package deliver

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"

	"meniscus/internal/webhook"
)

// fetchMost is how long a document that is fetched may be, in bytes.
const fetchMost = 512 << 10

// Fetcher reads documents at addresses by the rules of deliveries: no redirect, no proxy, and no
// address inside a network but those that are allowed, to which alone plain http leads.
func Fetcher(allowed webhook.Targets) func(ctx context.Context, address string) ([]byte, error) {
	s := newSender(Config{Targets: allowed})
	return func(ctx context.Context, address string) ([]byte, error) {
		u, err := url.Parse(address)
		if err != nil || s.clients[u.Scheme] == nil {
			return nil, errors.New("the address cannot be used")
		}
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
		if err != nil {
			return nil, fmt.Errorf("fetching: %w", err)
		}
		r.Header.Set("Accept", "application/json")
		r.Header.Set("User-Agent", "meniscus")
		response, err := s.clients[u.Scheme].Do(r)
		if err != nil {
			return nil, fmt.Errorf("fetching: %w", err)
		}
		defer response.Body.Close()
		if response.StatusCode != http.StatusOK {
			return nil, fmt.Errorf("fetching: answered %d", response.StatusCode)
		}
		body, err := io.ReadAll(io.LimitReader(response.Body, fetchMost+1))
		if err == nil && len(body) > fetchMost {
			err = errors.New("fetching: the document is too long")
		}
		return body, err
	}
}

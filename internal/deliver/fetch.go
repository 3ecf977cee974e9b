package deliver

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"meniscus/internal/webhook"
)

// fetchMost is how long a document that is fetched may be, in bytes.
const fetchMost = 512 << 10

// Fetcher reads documents at addresses by the rules of deliveries: no redirect, no proxy, and no
// address inside a network but those that are allowed, to which alone plain http leads.
func Fetcher(allowed webhook.Targets) func(ctx context.Context, address string) ([]byte, error) {
	s := newSender(Config{Targets: allowed})
	return func(ctx context.Context, address string) ([]byte, error) {
		status, body, err := s.ask(ctx, http.MethodGet, address, nil, func(*http.Request) {})
		if err == nil && status != http.StatusOK {
			err = fmt.Errorf("fetching: answered %d", status)
		}
		return body, err
	}
}

// Poster sends forms to addresses by the rules of Fetcher, and reads what is answered. With a name, it and a
// secret go along (HTTP Basic).
func Poster(allowed webhook.Targets) func(
	ctx context.Context, address string, form url.Values, name, secret string) (status int, body []byte, err error) {
	s := newSender(Config{Targets: allowed})
	return func(ctx context.Context, address string, form url.Values, name, secret string) (int, []byte, error) {
		return s.ask(ctx, http.MethodPost, address, strings.NewReader(form.Encode()), func(r *http.Request) {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if name != "" {
				r.SetBasicAuth(name, secret)
			}
		})
	}
}

// ask sends a request and reads the answer, up to fetchMost.
func (s *sender) ask(
	ctx context.Context, method, address string, send io.Reader, with func(*http.Request),
) (status int, body []byte, err error) {
	u, err := url.Parse(address)
	if err != nil || s.clients[u.Scheme] == nil {
		return 0, nil, errors.New("the address cannot be used")
	}
	r, err := http.NewRequestWithContext(ctx, method, address, send)
	if err != nil {
		return 0, nil, fmt.Errorf("fetching: %w", err)
	}
	r.Header.Set("Accept", "application/json")
	r.Header.Set("User-Agent", "meniscus")
	with(r)
	response, err := s.clients[u.Scheme].Do(r)
	if err != nil {
		return 0, nil, fmt.Errorf("fetching: %w", err)
	}
	defer response.Body.Close()
	body, err = io.ReadAll(io.LimitReader(response.Body, fetchMost+1))
	if err == nil && len(body) > fetchMost {
		err = errors.New("fetching: the document is too long")
	}
	return response.StatusCode, body, err
}

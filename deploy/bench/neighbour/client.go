package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"

	"github.com/google/uuid"
)

type (
	object = map[string]any
	array  = []any
)

// client is a caller with a key, and connections of its own.
type client struct {
	http *http.Client
	base string
	key  string
}

func newClient(base, key string) client {
	return client{base: base, key: key,
		http: &http.Client{Timeout: 2 * time.Minute, Transport: &http.Transport{MaxIdleConnsPerHost: 256}}}
}

// send sends a request, reads the answer to its end and gives its status.
func (c client) send(ctx context.Context, method, path string, body any, headers map[string]string) (int, error) {
	return c.exchange(ctx, method, path, body, headers, nil)
}

// exchange is send that also decodes the answer.
func (c client) exchange(ctx context.Context, method, path string, body any, headers map[string]string,
	into any) (int, error) {
	var reader io.Reader
	if body != nil {
		encoded, err := json.Marshal(body)
		if err != nil {
			return 0, fmt.Errorf("encoding a request: %w", err)
		}
		reader = bytes.NewReader(encoded)
	}
	r, err := c.request(ctx, method, path, "application/json", reader)
	if err != nil {
		return 0, err
	}
	for name, value := range headers {
		r.Header.Set(name, value)
	}
	return c.do(r, into)
}

// stream sends a body without buffering it.
func (c client) stream(ctx context.Context, method, path, mediaType string, body io.Reader) (int, error) {
	r, err := c.request(ctx, method, path, mediaType, body)
	if err != nil {
		return 0, err
	}
	return c.do(r, nil)
}

func (c client) request(ctx context.Context, method, path, mediaType string, body io.Reader) (*http.Request, error) {
	r, err := http.NewRequestWithContext(ctx, method, c.base+path, body)
	if err != nil {
		return nil, fmt.Errorf("making a request: %w", err)
	}
	r.Header.Set("Authorization", "Bearer "+c.key)
	if body != nil {
		r.Header.Set("Content-Type", mediaType)
	}
	return r, nil
}

func (c client) do(r *http.Request, into any) (int, error) {
	response, err := c.http.Do(r)
	if err != nil {
		return 0, err
	}
	defer response.Body.Close()
	if into != nil {
		err = json.NewDecoder(response.Body).Decode(into)
	}
	if _, drained := io.Copy(io.Discard, response.Body); err == nil {
		err = drained
	}
	return response.StatusCode, err
}

// create records a statement and gives the record's id.
func (c client) create(ctx context.Context, path string, statement object) (string, error) {
	var made struct{ ID, Detail string }
	status, err := c.exchange(ctx, http.MethodPost, path, object{"statement": statement},
		map[string]string{"Idempotency-Key": uuid.NewString()}, &made)
	if err == nil && status != http.StatusCreated {
		err = fmt.Errorf("recording at %s was answered %d: %s", path, status, made.Detail)
	}
	return made.ID, err
}

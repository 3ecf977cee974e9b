// Package caller asks a service over HTTP, for measurements.
package caller

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
	// Object is a JSON object.
	Object = map[string]any
	// Array is a JSON array.
	Array = []any
)

// Client is a caller with a key, and connections of its own.
type Client struct {
	http *http.Client
	base string
	key  string
}

// New makes a caller of the service at a base address, with connections of its own.
func New(base, key string) Client {
	return Client{base: base, key: key,
		http: &http.Client{Timeout: 2 * time.Minute, Transport: &http.Transport{MaxIdleConnsPerHost: 256}}}
}

// Send sends a request, reads the answer to its end and gives its status.
func (c Client) Send(ctx context.Context, method, path string, body any, headers map[string]string) (int, error) {
	return c.Exchange(ctx, method, path, body, headers, nil)
}

// Exchange is Send that also decodes the answer.
func (c Client) Exchange(ctx context.Context, method, path string, body any, headers map[string]string,
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

// Answered is Send that also gives the answer.
func (c Client) Answered(ctx context.Context, method, path string, body any) (status int, answer json.RawMessage, err error) {
	status, err = c.Exchange(ctx, method, path, body, map[string]string{"Idempotency-Key": uuid.NewString()}, &answer)
	return status, answer, err
}

// Stream sends a body without buffering it, and gives the answer's status.
func (c Client) Stream(ctx context.Context, method, path, mediaType string, body io.Reader) (int, error) {
	r, err := c.request(ctx, method, path, mediaType, body)
	if err != nil {
		return 0, err
	}
	return c.do(r, nil)
}

func (c Client) request(ctx context.Context, method, path, mediaType string, body io.Reader) (*http.Request, error) {
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

func (c Client) do(r *http.Request, into any) (int, error) {
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

// Create records a statement and gives the record's id.
func (c Client) Create(ctx context.Context, path string, statement Object) (string, error) {
	return c.record(ctx, path, Object{"statement": statement}, map[string]string{"Idempotency-Key": uuid.NewString()})
}

// CreateAs records a statement under an id.
func (c Client) CreateAs(ctx context.Context, path, id string, statement Object) (string, error) {
	return c.record(ctx, path, Object{"id": id, "statement": statement}, nil)
}

func (c Client) record(ctx context.Context, path string, body Object, headers map[string]string) (string, error) {
	var made struct {
		ID     string
		Detail string
		Faults any
	}
	status, err := c.Exchange(ctx, http.MethodPost, path, body, headers, &made)
	if err == nil && status != http.StatusCreated {
		err = fmt.Errorf("recording at %s was answered %d: %s %v", path, status, made.Detail, made.Faults)
	}
	return made.ID, err
}

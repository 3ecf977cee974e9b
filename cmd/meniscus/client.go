package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	museum "meniscus/testdata/demo"
)

// client calls the service over HTTP, as a catalogue would.
type client struct {
	base string
	key  string
}

// send makes one request and gives the whole answer; an answer that is not a success is
// an error with the problem in it.
func (c client) send(ctx context.Context, method, path string, body any,
	headers map[string]string) (int, []byte, error) {
	var reader io.Reader
	if body != nil {
		encoded, err := json.Marshal(body)
		if err != nil {
			return 0, nil, fmt.Errorf("encoding a request: %w", err)
		}
		reader = bytes.NewReader(encoded)
	}
	r, err := http.NewRequestWithContext(ctx, method, c.base+path, reader)
	if err != nil {
		return 0, nil, fmt.Errorf("making a request: %w", err)
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	r.Header.Set("Authorization", "Bearer "+c.key)
	for name, value := range headers {
		r.Header.Set(name, value)
	}
	response, err := (&http.Client{Timeout: time.Minute}).Do(r)
	if err != nil {
		return 0, nil, fmt.Errorf("sending a request: %w", err)
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		return 0, nil, fmt.Errorf("reading an answer: %w", err)
	}
	if response.StatusCode >= http.StatusBadRequest {
		return response.StatusCode, answer, fmt.Errorf("%s %s was answered %d: %s", method, path, response.StatusCode, answer)
	}
	return response.StatusCode, answer, nil
}

// load sends the invented museum's records. Each has an identity of its own, so that
// sending them again changes nothing.
func (c client) load(ctx context.Context) (int, error) {
	lines := bufio.NewScanner(bytes.NewReader(museum.Museum))
	lines.Buffer(nil, 1<<20)
	n := 0
	for ; lines.Scan(); n++ {
		var line struct {
			Path string
			Body json.RawMessage
		}
		if err := json.Unmarshal(lines.Bytes(), &line); err != nil {
			return n, fmt.Errorf("reading the museum's line %d: %w", n+1, err)
		}
		if _, _, err := c.send(ctx, http.MethodPost, line.Path, line.Body, nil); err != nil {
			return n, fmt.Errorf("loading the museum's line %d: %w", n+1, err)
		}
	}
	return n, errors.Join(lines.Err(), ctx.Err())
}

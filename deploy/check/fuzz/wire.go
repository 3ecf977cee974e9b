package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
)

// reply is an answer that was read whole.
type reply struct {
	status int
	header http.Header
	body   []byte
}

func (a *reply) String() string {
	if a == nil {
		return "no answer"
	}
	return fmt.Sprintf("%d %s", a.status, clip(a.body, 1500))
}

// mostRead bounds what is read of one answer.
const mostRead = 256 << 20

// send writes a request byte for byte to a new connection and reads the answer. It does
// not use the standard library's client, which refuses to send most of these requests.
func send(ctx context.Context, address string, r *request) (*reply, error) {
	conn, err := (&net.Dialer{}).DialContext(ctx, "tcp", address)
	if err != nil {
		return nil, fmt.Errorf("connecting: %w", err)
	}
	defer conn.Close()
	stop := context.AfterFunc(ctx, func() { _ = conn.Close() })
	defer stop()
	// The service may answer, and close, before it has read all of the body.
	go func() { _, _ = conn.Write(r.bytes(address)) }()
	response, err := http.ReadResponse(bufio.NewReader(conn), &http.Request{Method: r.method})
	if err != nil {
		return nil, fmt.Errorf("reading the head of the answer: %w", err)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(io.LimitReader(response.Body, mostRead))
	if err != nil {
		return nil, fmt.Errorf("reading the answer %d: %w", response.StatusCode, err)
	}
	return &reply{response.StatusCode, response.Header, body}, nil
}

func (r *request) bytes(host string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n", r.method, r.target, host)
	for _, h := range r.header {
		fmt.Fprintf(&b, "%s: %s\r\n", h[0], h[1])
	}
	if r.body != "" || r.method == http.MethodPost || r.method == http.MethodPut {
		fmt.Fprintf(&b, "Content-Length: %d\r\n", len(r.body))
	}
	b.WriteString("\r\n")
	b.WriteString(r.body)
	return b.Bytes()
}

// headSize is the size of the request's line and headers in bytes.
func (r *request) headSize() int { return len(r.bytes("127.0.0.1:65535")) - len(r.body) }

// parsed is the request as a server reads it; nil when it is no HTTP, which
// the server's HTTP library refuses by itself.
func (r *request) parsed() *http.Request {
	u, err := url.ParseRequestURI(r.target)
	if err != nil {
		return nil
	}
	for _, h := range r.header {
		if strings.ContainsFunc(h[1], func(c rune) bool { return c < ' ' && c != '\t' || c == 0x7f }) {
			return nil
		}
	}
	return &http.Request{Method: r.method, URL: u, Header: http.Header{}}
}

// plain is the body without its coding.
func (a *reply) plain() ([]byte, error) {
	if a.header.Get("Content-Encoding") != "gzip" || len(a.body) == 0 {
		return a.body, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(a.body))
	if err != nil {
		return nil, fmt.Errorf("the body is no gzip: %w", err)
	}
	return io.ReadAll(z)
}

package deliver

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"syscall"
	"time"

	"meniscus/internal/webhook"
)

const (
	// answerWithin is how long a receiver may take, from the first packet to the
	// end of its answer.
	answerWithin = 20 * time.Second
	dialWithin   = 10 * time.Second
	// readMost is how much of an answer is read, so that the connection can be reused;
	// the content is discarded.
	readMost = 64 << 10
)

// sender makes the outbound calls. It follows no redirect, uses no proxy, and checks
// the address that it connects to, not the name.
type sender struct {
	clients map[string]*http.Client // by scheme
	within  time.Duration
}

func newSender(cfg Config) *sender {
	if cfg.Within == 0 {
		cfg.Within = answerWithin
	}
	s := &sender{clients: map[string]*http.Client{}, within: cfg.Within}
	for scheme, check := range map[string]func(netip.Addr) error{
		"https": cfg.Targets.Check,
		"http": func(a netip.Addr) error {
			if !cfg.Targets.Allows(a) {
				return webhook.ErrTarget
			}
			return nil
		},
	} {
		s.clients[scheme] = &http.Client{
			Transport:     transport(cfg, check),
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		}
	}
	return s
}

func transport(cfg Config, check func(netip.Addr) error) *http.Transport {
	dialer := &net.Dialer{
		Timeout:  dialWithin,
		Resolver: cfg.Resolver,
		// Control runs after the name was resolved and before anything is sent,
		// for each address that is tried.
		Control: func(_, address string, _ syscall.RawConn) error {
			dialled, err := netip.ParseAddrPort(address)
			if err != nil {
				return webhook.ErrTarget
			}
			return check(dialled.Addr())
		},
	}
	return &http.Transport{
		DialContext:            dialer.DialContext,
		TLSClientConfig:        &tls.Config{MinVersion: tls.VersionTLS12, RootCAs: cfg.RootCAs},
		TLSHandshakeTimeout:    dialWithin,
		ForceAttemptHTTP2:      true,
		DisableCompression:     true,
		MaxIdleConnsPerHost:    2,
		IdleConnTimeout:        30 * time.Second,
		MaxResponseHeaderBytes: 64 << 10,
	}
}

// reply is the result of one call.
type reply struct {
	status     int    // 0 when there was no answer
	retryAfter string // as the receiver wrote it
	sentence   string // for the owner of the endpoint
}

func (r reply) accepted() bool { return r.status >= 200 && r.status < 300 }

// send posts one signed event. A failure is a reply without a status, and not an error
// of the service.
func (s *sender) send(ctx context.Context, address string, headers map[string]string, body []byte) reply {
	ctx, cancel := context.WithTimeout(ctx, s.within)
	defer cancel()
	u, err := url.Parse(address)
	if err != nil || s.clients[u.Scheme] == nil {
		return reply{sentence: "The URL cannot be used."}
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(body))
	if err != nil {
		return reply{sentence: "The URL cannot be used."}
	}
	r.Header.Set("Content-Type", contentType)
	r.Header.Set("User-Agent", "meniscus")
	for name, value := range headers {
		r.Header.Set(name, value)
	}
	response, err := s.clients[u.Scheme].Do(r)
	if err != nil {
		return reply{sentence: sentenceOf(err, s.within)}
	}
	defer response.Body.Close()
	_, _ = io.CopyN(io.Discard, response.Body, readMost) // only the status matters
	return reply{
		status:     response.StatusCode,
		retryAfter: response.Header.Get("Retry-After"),
		sentence:   fmt.Sprintf("The receiver answered %d%s.", response.StatusCode, remark(response.StatusCode)),
	}
}

func remark(status int) string {
	if status >= 300 && status < 400 {
		return "; redirects are not followed, so give the address that it leads to"
	}
	return ""
}

// sentenceOf says why there was no answer, without the texts of errors, which may
// contain private data.
func sentenceOf(err error, within time.Duration) string {
	var dns *net.DNSError
	var certificate *tls.CertificateVerificationError
	var authority x509.UnknownAuthorityError
	var wire net.Error
	switch {
	case errors.Is(err, webhook.ErrTarget):
		return "Not sent: " + webhook.ErrTarget.Error() + "."
	case errors.As(err, &dns):
		return "The name could not be resolved."
	case errors.As(err, &certificate), errors.As(err, &authority):
		return "The receiver's TLS certificate was not accepted."
	case errors.Is(err, context.DeadlineExceeded), errors.As(err, &wire) && wire.Timeout():
		return fmt.Sprintf("No answer within %v.", within)
	case errors.Is(err, syscall.ECONNREFUSED):
		return "The connection was refused."
	}
	return "The connection failed."
}

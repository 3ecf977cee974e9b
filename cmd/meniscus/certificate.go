package main

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"
)

// certificate is a certificate with its key in files, which are read again when they change.
type certificate struct {
	chain, key string
	log        *slog.Logger
	now        func() time.Time

	mu     sync.Mutex
	loaded *tls.Certificate
	as     [2]fileState // when it was loaded
	looked time.Time
}

// fileState tells one content of a file from the next.
type fileState struct {
	changed time.Time
	size    int64
}

// lookAtFiles is how often the files are looked at.
const lookAtFiles = 10 * time.Second

// openCertificate reads the files, which have to be right when the service starts.
func openCertificate(chain, key string, log *slog.Logger) (*certificate, error) {
	c := &certificate{chain: chain, key: key, log: log, now: time.Now}
	if err := c.load(); err != nil {
		return nil, fmt.Errorf("MENISCUS_TLS_CERTIFICATE: %w", err)
	}
	return c, nil
}

// config is how connections are encrypted: TLS 1.2 or later, by Go's choice of ciphers.
func (c *certificate) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return c.current(), nil }}
}

// current is the certificate of the files as they are. While they cannot be used, which may be in the
// midst of a change, it is the one before.
func (c *certificate) current() *tls.Certificate {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.now().Sub(c.looked) < lookAtFiles {
		return c.loaded
	}
	c.looked = c.now()
	if as, err := c.state(); err == nil && as == c.as {
		return c.loaded
	}
	if err := c.load(); err != nil {
		c.log.Error("the certificate was not read again; the one before is used", slog.Any("error", err))
	}
	return c.loaded
}

func (c *certificate) load() error {
	as, err := c.state()
	if err != nil {
		return err
	}
	pair, err := tls.LoadX509KeyPair(c.chain, c.key)
	if err != nil {
		return fmt.Errorf("reading the certificate and its key: %w", err)
	}
	c.loaded, c.as, c.looked = &pair, as, c.now()
	return nil
}

func (c *certificate) state() (as [2]fileState, err error) {
	for i, name := range []string{c.chain, c.key} {
		info, err := os.Stat(name)
		if err != nil {
			return as, fmt.Errorf("looking at a file of the certificate: %w", err)
		}
		as[i] = fileState{info.ModTime(), info.Size()}
	}
	return as, nil
}

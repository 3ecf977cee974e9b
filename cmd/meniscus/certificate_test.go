package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"meniscus/internal/pgtest"
)

// writeCertificate makes a certificate of 127.0.0.1 with a serial number, in two files.
func writeCertificate(t *testing.T, chain, key string, serial int64) *x509.CertPool {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	made, err := x509.CreateCertificate(rand.Reader, certificateOf(serial), certificateOf(serial), private.Public(), private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	for name, block := range map[string]*pem.Block{chain: {Type: "CERTIFICATE", Bytes: made}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(name, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	read, err := x509.ParseCertificate(made)
	if err != nil {
		t.Fatal(err)
	}
	pool.AddCert(read)
	return pool
}

func certificateOf(serial int64) *x509.Certificate {
	return &x509.Certificate{SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: "meniscus"},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore:   time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true}
}

// A certificate that is exchanged is used from then on; files that cannot be read meanwhile change nothing.
func TestACertificateIsReadAgain(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	chain, key := filepath.Join(dir, "chain.pem"), filepath.Join(dir, "key.pem")
	if _, err := openCertificate(chain, key, slog.New(slog.DiscardHandler)); err == nil {
		t.Error("it starts without files")
	}
	writeCertificate(t, chain, key, 1)
	c, err := openCertificate(chain, key, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	c.now = func() time.Time { return now }
	serial := func() int64 {
		now = now.Add(time.Minute)
		return c.current().Leaf.SerialNumber.Int64()
	}
	if err := os.WriteFile(chain, []byte("half a certif"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := serial(); got != 1 {
		t.Errorf("while the file is broken: got %d", got)
	}
	writeCertificate(t, chain, key, 2)
	if got := serial(); got != 2 {
		t.Errorf("got %d, want the new certificate", got)
	}
	if err := os.Remove(key); err != nil {
		t.Fatal(err)
	}
	if got := serial(); got != 2 {
		t.Errorf("without a key: got %d", got)
	}
}

// With a certificate the service speaks TLS of 1.2 or later, and nothing else.
func TestTheServiceSpeaksTLS(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cfg := configOn(pgtest.New(t))
	cfg.Certificate, cfg.CertificateOf = filepath.Join(dir, "chain.pem"), filepath.Join(dir, "key.pem")
	pool := writeCertificate(t, cfg.Certificate, cfg.CertificateOf, 1)
	s, _ := started(t, cfg)
	ask := func(most uint16) (*http.Response, error) {
		client := http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true,
			TLSClientConfig: &tls.Config{RootCAs: pool, MaxVersion: most, MinVersion: tls.VersionTLS10}}}
		response, err := client.Get("https://" + s.listener.Addr().String() + "/livez")
		if err == nil {
			_ = response.Body.Close()
		}
		return response, err
	}
	if response, err := ask(0); err != nil || response.StatusCode != http.StatusOK || response.ProtoMajor != 2 {
		t.Errorf("got %v, %v; want HTTP/2", response, err)
	}
	if _, err := ask(tls.VersionTLS11); err == nil {
		t.Error("TLS 1.1 is spoken")
	}
	if got := get(t, "http://"+s.listener.Addr().String()+"/livez"); got != http.StatusBadRequest {
		t.Errorf("without TLS: got %d", got)
	}
}

func TestVersion(t *testing.T) {
	t.Parallel()
	var out strings.Builder
	if err := run(t.Context(), []string{"version"}, &out, &out); err != nil || !strings.HasPrefix(out.String(), "meniscus ") ||
		!strings.Contains(out.String(), "go1.") {
		t.Errorf("got %q, %v", out.String(), err)
	}
}

package deliver_test

import (
	"context"
	"crypto/x509"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"

	"meniscus/internal/deliver"
	"meniscus/internal/webhook"
)

// A bad receiver's failure is stored with the attempt, does not delay other receivers,
// and ends in time.
func TestBadReceivers(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	closed := httptest.NewServer(http.NotFoundHandler())
	closed.Close()
	var poured atomic.Int64
	flood := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		for chunk := make([]byte, 1<<20); poured.Load() < 1<<30; poured.Add(1 << 20) {
			if _, err := w.Write(chunk); err != nil {
				return
			}
		}
	}))
	t.Cleanup(flood.Close)
	silent := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		<-r.Context().Done()
	}))
	t.Cleanup(silent.Close)
	drip := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusOK)
		_ = http.NewResponseController(w).Flush()
		_, _ = io.Copy(io.Discard, r.Body)
		<-r.Context().Done() // the answer's body never ends
	}))
	t.Cleanup(drip.Close)
	foreign := httptest.NewUnstartedServer(http.NotFoundHandler())
	foreign.Config.ErrorLog = log.New(io.Discard, "", 0)
	foreign.StartTLS()
	t.Cleanup(foreign.Close)

	hooks := map[string]string{}
	for name, address := range map[string]string{"closed": closed.URL, "flood": flood.URL, "silent": silent.URL,
		"drip": drip.URL, "foreign": foreign.URL} {
		hooks[name], _ = m.hook(address, nil)
	}
	m.specimen("LV.1")
	m.seal()
	m.deliverAll(m.worker(func(cfg *deliver.Config) { cfg.Within = 3 * time.Second }))
	for name, want := range map[string]string{
		"closed":  "The connection was refused.",
		"flood":   "The receiver answered 200.",
		"silent":  "No answer within 3s.",
		"drip":    "The receiver answered 200.",
		"foreign": "The receiver's TLS certificate was not accepted.",
	} {
		if got := m.lastSentence(hooks[name]); got != want {
			t.Errorf("%s: got %q, want %q", name, got, want)
		}
	}
	if got := poured.Load(); got > 64<<20 {
		t.Errorf("read so much that %d bytes could be poured", got)
	}
}

// A certificate of a trusted authority is accepted.
func TestTLS(t *testing.T) {
	t.Parallel()
	m := newMuseum(t)
	c := &catalogue{}
	server := httptest.NewTLSServer(c)
	t.Cleanup(server.Close)
	m.hook(server.URL, nil)
	m.specimen("LV.1")
	m.seal()
	pool := x509.NewCertPool()
	pool.AddCert(server.Certificate())
	m.deliverAll(m.worker(func(cfg *deliver.Config) { cfg.RootCAs = pool }))
	if len(c.got()) != 1 {
		t.Errorf("got %d deliveries over TLS, want 1", len(c.got()))
	}
}

// The address that is dialled is checked, not the one that the name had when the
// webhook was made.
func TestNameThatMovesInside(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	u, err := url.Parse(c.URL)
	m.must(err)
	names := newNames(t, "127.0.0.1")
	path, _ := m.hook("http://catalogue.museum.example:"+u.Port()+"/", nil)
	onlyHere, err := webhook.ParseTargets("127.0.0.1/32")
	m.must(err)
	w := m.worker(func(cfg *deliver.Config) { cfg.Resolver, cfg.Targets = names.resolver(), onlyHere })
	m.specimen("LV.1")
	m.seal()
	m.deliverAll(w)
	if len(c.got()) != 1 {
		t.Fatalf("got %d deliveries to the allowed address, want 1: %s", len(c.got()), m.lastSentence(path))
	}
	for i, inside := range []string{"169.254.169.254", "127.0.0.2", "::1", "::ffff:10.0.0.1"} {
		names.move(inside)
		c.CloseClientConnections() // the next delivery must dial again
		m.specimen(fmt.Sprintf("LV.%d", 2+i))
		m.seal()
		m.clock.move(25 * time.Hour)
		m.deliverAll(w)
		if got := m.lastSentence(path); len(c.got()) != 1 || !strings.HasPrefix(got, "Not sent: ") {
			t.Errorf("%s: got %d deliveries and %q, want none more and the refusal", inside, len(c.got()), got)
		}
	}
	names.move("")
	m.clock.move(25 * time.Hour)
	m.deliverAll(w)
	if got := m.lastSentence(path); got != "The name could not be resolved." {
		t.Errorf("got %q for a name that is gone", got)
	}
}

// names is a name server that gives one address for every name.
type names struct {
	conn net.PacketConn
	addr atomic.Value // string; empty means no such name
}

func newNames(t *testing.T, addr string) *names {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	n := &names{conn: conn}
	n.move(addr)
	t.Cleanup(func() { conn.Close() })
	go n.serve()
	return n
}

func (n *names) move(addr string) { n.addr.Store(addr) }

func (n *names) resolver() *net.Resolver {
	return &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "udp", n.conn.LocalAddr().String())
	}}
}

func (n *names) serve() {
	for packet := make([]byte, 1500); ; {
		size, from, err := n.conn.ReadFrom(packet)
		if err != nil {
			return
		}
		var m dnsmessage.Message
		if m.Unpack(packet[:size]) != nil || len(m.Questions) != 1 {
			continue
		}
		m.Response, m.Authoritative, m.Additionals = true, true, nil
		n.answer(&m)
		if answer, err := m.Pack(); err == nil {
			_, _ = n.conn.WriteTo(answer, from)
		}
	}
}

func (n *names) answer(m *dnsmessage.Message) {
	q := m.Questions[0]
	text := n.addr.Load().(string)
	if text == "" {
		m.RCode = dnsmessage.RCodeNameError
		return
	}
	addr := netip.MustParseAddr(text)
	head := dnsmessage.ResourceHeader{Name: q.Name, Type: q.Type, Class: q.Class}
	switch {
	case q.Type == dnsmessage.TypeA && addr.Is4():
		m.Answers = []dnsmessage.Resource{{Header: head, Body: &dnsmessage.AResource{A: addr.As4()}}}
	case q.Type == dnsmessage.TypeAAAA && addr.Is6():
		m.Answers = []dnsmessage.Resource{{Header: head, Body: &dnsmessage.AAAAResource{AAAA: addr.As16()}}}
	}
}

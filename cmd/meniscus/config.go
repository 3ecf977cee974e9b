package main

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/httpapi"
	"meniscus/internal/identity"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

// Config is the configuration from the environment. Every variable begins with
// MENISCUS_; a secret may be in a file that the same variable with the suffix _FILE
// names.
type Config struct {
	DatabaseURL string // DATABASE_URL: the application's role
	// WORKER_DATABASE_URL: the worker's role; if empty, the application's URL with its name
	WorkerDatabaseURL string
	ReplicaURL        string        // REPLICA_URL: the application's role on standbys, for what may be read there
	OwnerDatabaseURL  string        // OWNER_DATABASE_URL: the owner, directly; for migrate, roles and found
	Address           string        // ADDRESS: where to listen
	PublicURL         string        // PUBLIC_URL: where callers reach the service; for links
	Published         []uuid.UUID   // PUBLISHED: institutions whose specimens and treatments are public
	Worker            bool          // WORKER: give entries their sequence numbers and deliver webhooks here
	MaxBody           int64         // MAX_BODY: the largest JSON body in bytes
	DrainDelay        time.Duration // DRAIN_DELAY: how long /readyz answers 503 before the listener closes
	LogLevel          slog.Level    // LOG_LEVEL: debug, info, warn or error
	DebugAddress      string        // DEBUG_ADDRESS: a loopback address for the runtime's profiles; none if empty
	MetricsAddress    string        // METRICS_ADDRESS: where Prometheus reads metrics; none if empty

	Keeper  *webhook.Keeper // SECRET_KEY: encrypts the secrets of webhooks; nil if empty, and then no webhook can be made
	LogKeys ledger.Signers  // LOG_KEY: signs the heads of logs; none is signed if empty
	Proxies []netip.Prefix  // TRUSTED_PROXIES: whose word is taken for the address of a caller
	// ACCESS_LOG_DAYS: how long it is kept who read and changed what
	AccessLogDays int
	Certificate   string // TLS_CERTIFICATE: the file with the chain of certificates; plain HTTP if empty
	CertificateOf string // TLS_KEY: the file with its key
	// OIDC: providers of access tokens; none is taken if empty
	Identity []identity.Provider
	// OIDC_ALLOW_PRIVATE: private addresses at which providers may be
	IdentityTargets webhook.Targets
	Targets         webhook.Targets // WEBHOOK_ALLOW_PRIVATE: private addresses to which webhooks may be delivered
	Origins         []string        // CORS_ORIGINS: whose pages may call the service from a browser
	Limit           httpapi.Limit   // RATE_LIMIT: requests of one key in a window, such as 600/1m, or off

	Connections postgres.Connections // DATABASE_CONNECTIONS: to the database, for requests
	Memory      int64                // not from the environment: how much memory the process may use; no limit if zero
}

// lookup reads a variable of the environment; tests pass their own.
type lookup func(name string) (string, bool)

// readConfig reads the environment and reports all faults together.
func readConfig(env lookup) (Config, error) {
	r := configReader{env: env}
	cfg := Config{
		DatabaseURL:       r.secret("DATABASE_URL"),
		WorkerDatabaseURL: r.secret("WORKER_DATABASE_URL"),
		ReplicaURL:        r.secret("REPLICA_URL"),
		OwnerDatabaseURL:  r.secret("OWNER_DATABASE_URL"),
		Address:           r.address("ADDRESS", "127.0.0.1:8080"),
		PublicURL:         r.publicURL("PUBLIC_URL"),
		Published:         r.ids("PUBLISHED"),
		Worker:            r.boolean("WORKER", true),
		MaxBody:           r.number("MAX_BODY", 1<<20, 1<<10, 1<<30),
		DrainDelay:        r.duration("DRAIN_DELAY", 0, time.Minute),
		LogLevel:          r.level("LOG_LEVEL"),
		DebugAddress:      r.loopback("DEBUG_ADDRESS"),
		MetricsAddress:    r.address("METRICS_ADDRESS", ""),
		Keeper:            r.keeper("SECRET_KEY"),
		LogKeys:           r.signers("LOG_KEY"),
		Targets:           r.targets("WEBHOOK_ALLOW_PRIVATE"),
		Proxies:           r.prefixes("TRUSTED_PROXIES"),
		AccessLogDays:     int(r.number("ACCESS_LOG_DAYS", 90, 1, 3650)),
		Certificate:       r.text("TLS_CERTIFICATE"),
		CertificateOf:     r.text("TLS_KEY"),
		Identity:          r.providers("OIDC"),
		IdentityTargets:   r.targets("OIDC_ALLOW_PRIVATE"),
		Origins:           r.origins("CORS_ORIGINS"),
		Limit:             r.limit("RATE_LIMIT"),
		Connections:       postgres.Connections{Requests: int(r.number("DATABASE_CONNECTIONS", 0, 4, 500))},
	}
	if cfg.PublicURL == "" {
		cfg.PublicURL = "http://" + cfg.Address
		if cfg.Certificate != "" {
			cfg.PublicURL = "https://" + cfg.Address
		}
	}
	if (cfg.Certificate == "") != (cfg.CertificateOf == "") {
		r.fault("TLS_CERTIFICATE", "give it together with MENISCUS_TLS_KEY")
	}
	return cfg, errors.Join(r.faults...)
}

type configReader struct {
	env    lookup
	faults []error
}

func (r *configReader) fault(name, format string, args ...any) {
	r.faults = append(r.faults, fmt.Errorf("MENISCUS_%s: %s", name, fmt.Sprintf(format, args...)))
}

func (r *configReader) text(name string) string {
	value, _ := r.env("MENISCUS_" + name)
	return strings.TrimSpace(value)
}

// secret reads a variable, or the file that its _FILE twin names.
func (r *configReader) secret(name string) string {
	value, file := r.text(name), r.text(name+"_FILE")
	switch {
	case value != "" && file != "":
		r.fault(name, "is given both as itself and as a file; keep one")
	case file != "":
		content, err := os.ReadFile(file)
		if err != nil {
			r.fault(name+"_FILE", "cannot be read")
		}
		return strings.TrimSpace(string(content))
	}
	return value
}

func (r *configReader) address(name, otherwise string) string {
	value := r.text(name)
	if value == "" {
		return otherwise
	}
	if _, port, err := net.SplitHostPort(value); err != nil || port == "" {
		r.fault(name, "write host:port, such as 127.0.0.1:8080")
	}
	return value
}

// loopback reads a loopback address; empty means none.
func (r *configReader) loopback(name string) string {
	value := r.text(name)
	if value == "" {
		return ""
	}
	host, _, err := net.SplitHostPort(value)
	if ip := net.ParseIP(host); err != nil || ip == nil || !ip.IsLoopback() {
		r.fault(name, "write a loopback address with a port, such as 127.0.0.1:6060")
	}
	return value
}

func (r *configReader) publicURL(name string) string {
	value := r.text(name)
	if value == "" {
		return ""
	}
	u, err := url.Parse(value)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" || u.RawQuery != "" || u.Fragment != "" {
		r.fault(name, "write the address at which callers reach the service, such as https://treatments.museum.example")
	}
	return strings.TrimSuffix(value, "/")
}

// ids reads UUIDs with commas between them.
func (r *configReader) ids(name string) []uuid.UUID {
	var ids []uuid.UUID
	for _, text := range strings.FieldsFunc(r.text(name), func(c rune) bool { return c == ',' || c == ' ' }) {
		id, err := uuid.Parse(text)
		if err != nil {
			r.fault(name, "write the ids of institutions, with commas between them")
			return nil
		}
		ids = append(ids, id)
	}
	return ids
}

func (r *configReader) boolean(name string, otherwise bool) bool {
	value := r.text(name)
	if value == "" {
		return otherwise
	}
	b, err := strconv.ParseBool(value)
	if err != nil {
		r.fault(name, "write true or false")
	}
	return b
}

func (r *configReader) number(name string, otherwise, low, high int64) int64 {
	value := r.text(name)
	if value == "" {
		return otherwise
	}
	n, err := strconv.ParseInt(value, 10, 64)
	if err != nil || n < low || n > high {
		r.fault(name, "write a whole number from %d to %d", low, high)
	}
	return n
}

func (r *configReader) duration(name string, otherwise, high time.Duration) time.Duration {
	value := r.text(name)
	if value == "" {
		return otherwise
	}
	d, err := time.ParseDuration(value)
	if err != nil || d < 0 || d > high {
		r.fault(name, "write a duration up to %v, such as 5s", high)
	}
	return d
}

func (r *configReader) level(name string) slog.Level {
	var level slog.Level
	if value := r.text(name); value != "" {
		if err := level.UnmarshalText([]byte(value)); err != nil {
			r.fault(name, "write debug, info, warn or error")
		}
	}
	return level
}

func (r *configReader) keeper(name string) *webhook.Keeper {
	keys := r.secret(name)
	if keys == "" {
		return nil
	}
	k, err := webhook.NewKeeper(keys)
	if err != nil {
		r.fault(name, "%v", err)
	}
	return k
}

func (r *configReader) signers(name string) ledger.Signers {
	keys := r.secret(name)
	if keys == "" {
		return nil
	}
	s, err := ledger.ParseSigners(keys)
	if err != nil {
		r.fault(name, "%v", err)
	}
	return s
}

func (r *configReader) prefixes(name string) []netip.Prefix {
	var list []netip.Prefix
	for _, text := range strings.FieldsFunc(r.text(name), func(c rune) bool { return c == ',' || c == ' ' }) {
		p, err := netip.ParsePrefix(text)
		if err != nil {
			r.fault(name, "write the address ranges of your proxies with commas between, such as 10.20.0.5/32")
			return nil
		}
		list = append(list, p.Masked())
	}
	return list
}

func (r *configReader) providers(name string) []identity.Provider {
	text := r.secret(name)
	if text == "" {
		return nil
	}
	list, err := identity.ParseProviders(text)
	if err != nil {
		r.fault(name, "%v", err)
	}
	return list
}

func (r *configReader) targets(name string) webhook.Targets {
	t, err := webhook.ParseTargets(r.text(name))
	if err != nil {
		r.fault(name, "%v", err)
	}
	return t
}

func (r *configReader) origins(name string) []string {
	var origins []string
	for text := range strings.SplitSeq(r.text(name), ",") {
		text = strings.TrimSpace(text)
		if text == "" {
			continue
		}
		u, err := url.Parse(text)
		if text != "*" && (err != nil || u.Host == "" || u.Scheme+"://"+u.Host != text) {
			r.fault(name, "write origins with commas between, such as https://catalogue.museum.example, or *")
		}
		origins = append(origins, text)
	}
	return origins
}

// defaultLimit is more than catalogues need, even for nightly comparisons, which look
// up a thousand numbers in a request. It stops runaway loops.
var defaultLimit = httpapi.Limit{Requests: 6000, Window: time.Minute}

func (r *configReader) limit(name string) httpapi.Limit {
	value := r.text(name)
	switch value {
	case "":
		return defaultLimit
	case "off":
		return httpapi.Limit{}
	}
	requests, window, _ := strings.Cut(value, "/")
	n, err1 := strconv.Atoi(requests)
	w, err2 := time.ParseDuration(window)
	if err1 != nil || err2 != nil || n < 1 || w < time.Second || w > 24*time.Hour {
		r.fault(name, "write requests and a window from 1s to 24h, such as 600/1m, or off")
	}
	return httpapi.Limit{Requests: n, Window: w}
}

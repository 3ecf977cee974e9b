package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"meniscus/internal/httpapi"
)

func env(vars map[string]string) lookup {
	return func(name string) (string, bool) {
		v, ok := vars[name]
		return v, ok
	}
}

func TestConfigReportsEveryFault(t *testing.T) {
	t.Parallel()
	_, err := readConfig(env(map[string]string{
		"MENISCUS_ADDRESS": "nowhere", "MENISCUS_PUBLIC_URL": "museum", "MENISCUS_WORKER": "perhaps",
		"MENISCUS_PUBLISHED": "everything", "MENISCUS_MAX_BODY": "-1", "MENISCUS_DRAIN_DELAY": "soon",
		"MENISCUS_LOG_LEVEL": "loud", "MENISCUS_DATABASE_CONNECTIONS": "1",
		"MENISCUS_SECRET_KEY": "short", "MENISCUS_WEBHOOK_ALLOW_PRIVATE": "10.0.0.1",
		"MENISCUS_CORS_ORIGINS": "https://museum.example/page", "MENISCUS_RATE_LIMIT": "many",
		"MENISCUS_DATABASE_URL": "postgres://a", "MENISCUS_DATABASE_URL_FILE": "/nowhere",
	}))
	if err == nil {
		t.Fatal("got no fault")
	}
	for _, name := range []string{"ADDRESS", "PUBLIC_URL", "PUBLISHED", "WORKER", "MAX_BODY", "DRAIN_DELAY",
		"LOG_LEVEL", "DATABASE_URL", "SECRET_KEY", "WEBHOOK_ALLOW_PRIVATE", "CORS_ORIGINS", "RATE_LIMIT",
		"DATABASE_CONNECTIONS"} {
		if !strings.Contains(err.Error(), "MENISCUS_"+name+": ") {
			t.Errorf("got %v, want a fault of MENISCUS_%s in it", err, name)
		}
	}
}

func TestConfigWithoutAnything(t *testing.T) {
	t.Parallel()
	cfg, err := readConfig(env(nil))
	if err != nil || cfg.Address != "127.0.0.1:8080" || cfg.PublicURL != "http://127.0.0.1:8080" || !cfg.Worker {
		t.Errorf("got %+v, %v; want the defaults", cfg, err)
	}
}

func TestRateLimitIsOnUntilItIsTurnedOff(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]httpapi.Limit{
		"": {Requests: 6000, Window: time.Minute}, "off": {}, "600/30s": {Requests: 600, Window: 30 * time.Second},
	} {
		if cfg, err := readConfig(env(map[string]string{"MENISCUS_RATE_LIMIT": text})); err != nil || cfg.Limit != want {
			t.Errorf("%q: got %+v and %v, want %+v", text, cfg.Limit, err, want)
		}
	}
}

func TestConfigReadsIDs(t *testing.T) {
	t.Parallel()
	const one, two = "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10", "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a11"
	cfg, err := readConfig(env(map[string]string{"MENISCUS_PUBLISHED": one + ", " + two}))
	if err != nil || len(cfg.Published) != 2 || cfg.Published[0].String() != one || cfg.Published[1].String() != two {
		t.Errorf("got %v, %v; want both ids", cfg.Published, err)
	}
}

func TestConfigReadsSecretsFromFiles(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "url")
	if err := os.WriteFile(file, []byte("postgres://app@db/meniscus\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cfg, err := readConfig(env(map[string]string{"MENISCUS_DATABASE_URL_FILE": file}))
	if err != nil || cfg.DatabaseURL != "postgres://app@db/meniscus" {
		t.Errorf("got %q, %v; want the file's content without its line end", cfg.DatabaseURL, err)
	}
}

// Profiles contain data of requests, so only a loopback address is accepted.
func TestConfigWantsALoopbackForProfiles(t *testing.T) {
	t.Parallel()
	for _, address := range []string{"0.0.0.0:6060", ":6060", "192.0.2.1:6060", "museum.example:6060", "127.0.0.1"} {
		if _, err := readConfig(env(map[string]string{"MENISCUS_DEBUG_ADDRESS": address})); err == nil ||
			!strings.Contains(err.Error(), "MENISCUS_DEBUG_ADDRESS: ") {
			t.Errorf("%s: got %v, want a fault of MENISCUS_DEBUG_ADDRESS", address, err)
		}
	}
	for _, address := range []string{"127.0.0.1:0", "[::1]:6060"} {
		if cfg, err := readConfig(env(map[string]string{"MENISCUS_DEBUG_ADDRESS": address})); err != nil ||
			cfg.DebugAddress != address {
			t.Errorf("%s: got %q, %v; want it taken", address, cfg.DebugAddress, err)
		}
	}
}

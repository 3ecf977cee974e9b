package main

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/pgtest"
	"meniscus/internal/webhook"
)

// written is what a log wrote.
type written struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (w *written) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.Write(p)
}

// No secret stands in a log of any level after the whole museum of the demo was recorded, and keys, webhooks and
// credentials of all sorts were made, used, and used wrongly.
func TestNoSecretIsInTheLog(t *testing.T) {
	t.Parallel()
	db, log := pgtest.New(t), &written{}
	cfg := configOn(db)
	keeper, err := webhook.NewKeeper("AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
	if err != nil {
		t.Fatal(err)
	}
	cfg.Keeper = keeper
	if cfg.Targets, err = webhook.ParseTargets("127.0.0.0/8"); err != nil {
		t.Fatal(err)
	}
	c, stop := runningWith(t, db, cfg, slog.New(slog.NewJSONHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug})))
	if _, err := c.load(t.Context()); err != nil {
		t.Fatal(err)
	}
	secrets := []string{c.key}
	ask := func(credential, method, path, body string) []byte {
		r, err := http.NewRequestWithContext(t.Context(), method, c.base+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Idempotency-Key", uuid.NewString())
		if credential != "" {
			r.Header.Set("Authorization", "Bearer "+credential)
		}
		response, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer response.Body.Close()
		answer, err := io.ReadAll(response.Body)
		if err != nil {
			t.Fatal(err)
		}
		return answer
	}
	secretOf := func(answer []byte) string {
		var made struct{ ID, Secret string }
		if err := json.Unmarshal(answer, &made); err != nil || made.Secret == "" {
			t.Fatalf("no secret in %s", answer)
		}
		secrets = append(secrets, made.Secret)
		return made.ID
	}
	person := `"person": {"id": "01900000-0000-7000-8000-000000000001"}`
	id := secretOf(ask(c.key, "POST", "/v1/access-keys", `{"name": "push", `+person+`, "role": "recorder"}`))
	secretOf(ask(c.key, "POST", "/v1/access-keys/"+id+"/rotation", `{"endsAt": "2020-01-01T00:00:00Z"}`))
	secretOf(ask(c.key, "POST", "/v1/access-keys", `{"name": "office", `+person+`, "scopes": ["calendar"]}`))
	secretOf(ask(c.key, "POST", "/v1/webhooks", `{"name": "catalogue", "url": "http://127.0.0.1:1/treatments"}`))
	for _, credential := range append(secrets, "eyJhbGciOiJub25lIn0.e30.c2VjcmV0c2VjcmV0", "") {
		secrets = append(secrets, credential)
		for _, path := range []string{"/v1/people", "/v1/due.ics?key=" + credential, "/v1/specimens/" + credential,
			"/" + credential, "/v1/people?" + credential + "=1"} {
			ask(credential, "GET", path, "")
		}
		ask(credential, "POST", "/v1/people", `{"statement": {"name": "`+credential+`", "secret": `)
	}
	stop()
	secrets = append(secrets, "AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8")
	if password := regexp.MustCompile(`://[^:/@]+:([^@]+)@`).FindStringSubmatch(cfg.DatabaseURL); password != nil {
		secrets = append(secrets, password[1])
	}
	text := log.text.String()
	key, err := access.ParseKey(c.key)
	if err != nil {
		t.Fatal(err)
	}
	if lines := strings.Count(text, "\n"); lines < 80 || !strings.Contains(text, "createTreatment") ||
		!strings.Contains(text, key.Prefix()) || !strings.Contains(text, `"address":"127.0.0.1"`) {
		t.Errorf("got %d lines of log, want the whole museum, with prefixes and addresses", lines)
	}
	for _, secret := range secrets {
		for _, of := range []string{secret, base64.StdEncoding.EncodeToString([]byte(secret)), endOf(secret)} {
			if len(of) > 8 && strings.Contains(text, of) {
				t.Errorf("the log has the secret %q in it", of)
			}
		}
	}
}

// endOf is the part of a key that is secret.
func endOf(secret string) string {
	if rest, isKey := strings.CutPrefix(secret, "meniscus_"); isKey {
		return rest[len(rest)-43:]
	}
	return secret
}

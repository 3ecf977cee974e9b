package deliver_test

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"

	"meniscus/api"
	"meniscus/internal/webhook"
)

// Recorded entries arrive signed, in order, once, and as the contract describes them.
func TestChangesArrive(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, text := m.hook(c.URL+"/treatments?from=meniscus", nil)
	specimen := m.specimen("LV.1")
	m.ask(http.MethodPost, "/v1/treatments", map[string]any{"statement": map[string]any{
		"specimen": map[string]any{"id": specimen}, "action": "cleaning",
		"areas": map[string]any{"paths": []any{"whole"}}, "dates": map[string]any{"edtf": "1998"}}}, http.StatusCreated)
	m.seal()
	w := m.worker()
	m.deliverAll(w)
	m.deliverAll(w)
	if diff := cmp.Diff(from(2, 3), c.sequences()); diff != "" {
		t.Fatalf("sequence numbers (-want +got):\n%s", diff)
	}
	secret := secretOf(t, text)
	for _, r := range c.got() {
		judgeDelivery(t, r, secret)
	}
	last := c.got()[1].event
	if last["type"] != "example.meniscus.treatment.stated.v1" || last["subject"] != specimen {
		t.Errorf("got type %v about %v, want the treatment's about its specimen", last["type"], last["subject"])
	}
	if got := m.read(path)["nextSequence"]; got != 4.0 {
		t.Errorf("got next sequence number %v, want 4", got)
	}
	if got := m.lastSentence(path); got != "The receiver answered 204." {
		t.Errorf("got %q in the log", got)
	}
}

// judgeDelivery checks one delivery against the contract and the two standards.
func judgeDelivery(t *testing.T, r received, secret webhook.Secret) {
	t.Helper()
	if got := r.header.Get("Content-Type"); got != "application/cloudevents+json" {
		t.Errorf("got content type %q", got)
	}
	id := r.header.Get("webhook-id")
	if id == "" || id != r.event["id"] {
		t.Errorf("got webhook-id %q and the event's id %v, want the same", id, r.event["id"])
	}
	seconds, err := strconv.ParseInt(r.header.Get("webhook-timestamp"), 10, 64)
	if err != nil {
		t.Errorf("got timestamp %q", r.header.Get("webhook-timestamp"))
	}
	want, err := secret.Sign(id, time.Unix(seconds, 0), r.body)
	if err != nil || r.header.Get("webhook-signature") != want {
		t.Errorf("got signature %q, want %q (%v)", r.header.Get("webhook-signature"), want, err)
	}
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Components.Schemas["ChangeEvent"].Value.VisitJSON(r.event, openapi3.VisitAsRequest()); err != nil {
		t.Errorf("the event is outside the contract: %v\n%s", err, r.body)
	}
}

// A catalogue that was away for a week catches up: nothing is lost, nothing
// comes twice, and the order is the museum's.
func TestCatalogueThatWasAwayForAWeek(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, _ := m.hook(c.URL, nil)
	w := m.worker()
	m.specimen("LV.1")
	m.seal()
	m.deliverAll(w)
	c.answers(http.StatusServiceUnavailable)
	for day := range 7 {
		for hour := range 24 {
			if hour%6 == 0 {
				m.specimen(fmt.Sprintf("LV.%d.%d", day, hour))
				m.seal()
			}
			m.deliverAll(w)
			m.clock.move(time.Hour)
		}
	}
	if tried := c.attempts(); tried < 10 || tried > 30 {
		t.Errorf("got %d attempts in a week, want a few", tried)
	}
	stands := m.read(path)
	if stands["nextSequence"] != 3.0 || stands["failingSince"] == nil || stands["stopped"] != nil {
		t.Errorf("got %v, want it failing at the second specimen and not switched off", stands)
	}
	c.answers(0)
	m.clock.move(25 * time.Hour) // the longest wait before the next attempt
	m.deliverAll(w)
	if diff := cmp.Diff(from(2, 30), c.sequences()); diff != "" {
		t.Errorf("sequence numbers (-want +got):\n%s", diff)
	}
	if got := m.read(path); got["failingSince"] != nil || got["failedAttempts"] != 0.0 {
		t.Errorf("got %v, want it well again", got)
	}
}

// After two weeks without a success an endpoint is switched off and says so; after
// resuming it, nothing is lost.
func TestDeadEndpointIsSwitchedOff(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, _ := m.hook(c.URL, nil)
	w := m.worker()
	m.specimen("LV.1")
	m.seal()
	c.answers(http.StatusInternalServerError)
	for range 17 {
		m.deliverAll(w)
		m.clock.move(25 * time.Hour)
	}
	why := m.read(path)["stopped"].(map[string]any)["why"]
	tried := c.attempts()
	m.clock.move(30 * 24 * time.Hour)
	m.deliverAll(w)
	if why != "failing" || c.attempts() != tried {
		t.Errorf("got stopped as %v and %d attempts after it, want failing and none", why, c.attempts()-tried)
	}
	c.answers(0)
	m.ask(http.MethodPost, path+"/resumption", nil, http.StatusOK)
	m.deliverAll(w)
	if diff := cmp.Diff(from(2, 2), c.sequences()); diff != "" {
		t.Errorf("sequence numbers (-want +got):\n%s", diff)
	}
}

// An answer of 410 ends deliveries at once; a suspension ends them until they are
// resumed.
func TestStops(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, _ := m.hook(c.URL, nil)
	w := m.worker()
	m.specimen("LV.1")
	m.seal()
	c.answers(http.StatusGone)
	m.deliverAll(w)
	m.clock.move(48 * time.Hour)
	m.deliverAll(w)
	if got := m.read(path)["stopped"].(map[string]any)["why"]; got != "gone" || c.attempts() != 1 {
		t.Errorf("got %v after %d attempts, want gone after one", got, c.attempts())
	}
	c.answers(0)
	m.ask(http.MethodPost, path+"/resumption", nil, http.StatusOK)
	m.ask(http.MethodPost, path+"/suspension", nil, http.StatusOK)
	m.deliverAll(w)
	if got := m.read(path)["stopped"].(map[string]any)["why"]; got != "asked" || len(c.got()) != 0 {
		t.Errorf("got %v and %d deliveries while it is suspended", got, len(c.got()))
	}
	m.ask(http.MethodPost, path+"/resumption", nil, http.StatusOK)
	m.deliverAll(w)
	if len(c.got()) != 1 {
		t.Errorf("got %d deliveries after it was resumed, want 1", len(c.got()))
	}
}

// A receiver's Retry-After is respected; a redirect counts as a failure and is not
// followed.
func TestRefusals(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, _ := m.hook(c.URL, nil)
	w := m.worker()
	m.specimen("LV.1")
	m.seal()
	c.answers(http.StatusTooManyRequests, "Retry-After: 3600")
	m.deliverAll(w)
	m.clock.move(59 * time.Minute)
	m.deliverAll(w)
	if c.attempts() != 1 {
		t.Errorf("got %d attempts within the hour that was asked for, want 1", c.attempts())
	}
	m.clock.move(2 * time.Minute)
	c.answers(http.StatusTemporaryRedirect, "Location: "+c.URL+"/elsewhere")
	m.deliverAll(w)
	if got := m.lastSentence(path); c.attempts() != 2 || !strings.Contains(got, "307; redirects are not followed") {
		t.Errorf("got %d attempts and %q, want the redirect not followed", c.attempts(), got)
	}
}

// While a secret is being replaced, both secrets sign; afterwards only the new one.
func TestSecretIsReplaced(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, old := m.hook(c.URL, nil)
	made := m.ask(http.MethodPost, path+"/secrets", map[string]any{"overlapHours": 2},
		http.StatusCreated)["secret"].(string)
	w := m.worker()
	m.specimen("LV.1")
	m.seal()
	m.deliverAll(w)
	m.clock.move(3 * time.Hour)
	m.specimen("LV.2")
	m.seal()
	m.deliverAll(w)
	for i, want := range []map[string]bool{{old: true, made: true}, {old: false, made: true}} {
		r := c.got()[i]
		for text, fits := range want {
			secret := secretOf(t, text)
			seconds, _ := strconv.ParseInt(r.header.Get("webhook-timestamp"), 10, 64)
			signature, err := secret.Sign(r.header.Get("webhook-id"), time.Unix(seconds, 0), r.body)
			m.must(err)
			if got := strings.Contains(r.header.Get("webhook-signature"), signature); got != fits {
				t.Errorf("delivery %d: signed with the old secret (%v) or the new: got %v, want %v", i, text == old, got, fits)
			}
		}
	}
}

// One entry or a range is sent again with the same ids, beside the regular deliveries.
func TestRedelivery(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, _ := m.hook(c.URL, nil)
	w := m.worker()
	for n := range 5 {
		m.specimen(fmt.Sprint("LV.", n))
	}
	m.seal()
	m.deliverAll(w)
	entry := c.got()[1].header.Get("webhook-id")
	m.ask(http.MethodPost, path+"/redeliveries", map[string]any{"entry": entry}, http.StatusCreated)
	m.deliverAll(w)
	m.ask(http.MethodPost, path+"/redeliveries", map[string]any{"sequences": map[string]any{"from": 4, "to": 5}},
		http.StatusCreated)
	m.deliverAll(w)
	if diff := cmp.Diff(append(from(2, 6), "3", "4", "5"), c.sequences()); diff != "" {
		t.Errorf("sequence numbers (-want +got):\n%s", diff)
	}
	if got := c.got()[5].header.Get("webhook-id"); got != entry {
		t.Errorf("got id %s again, want %s", got, entry)
	}
	for _, r := range m.read(path + "/redeliveries")["items"].([]any) {
		if r.(map[string]any)["endedAt"] == nil {
			t.Errorf("got %v, want it ended", r)
		}
	}
	m.ask(http.MethodPost, path+"/redeliveries", map[string]any{"sequences": map[string]any{"from": 4, "to": 99}},
		http.StatusUnprocessableEntity)
	m.ask(http.MethodPost, path+"/redeliveries", map[string]any{"entry": "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7b01"},
		http.StatusNotFound)
}

// An endpoint gets the kinds that it asked for, from the sequence number that it asked
// for, whole or as references; an event that is too large is a reference.
func TestChoices(t *testing.T) {
	t.Parallel()
	m, whole, thin := newMuseum(t), newCatalogue(t), newCatalogue(t)
	m.hook(whole.URL, map[string]any{"kinds": []any{"specimen"}, "startAfter": 0})
	m.hook(thin.URL, map[string]any{"content": "reference"})
	m.ask(http.MethodPost, "/v1/people", map[string]any{"statement": map[string]any{"name": "Tomas Brandl"}},
		http.StatusCreated)
	m.specimen("LV.1")
	areas := []any{}
	for n := range 400 {
		areas = append(areas, map[string]any{"path": fmt.Sprintf("skull/%s-%d", strings.Repeat("x", 180), n)})
	}
	m.ask(http.MethodPost, "/v1/specimens", map[string]any{"statement": map[string]any{
		"identifiers": []any{map[string]any{"kind": "catalogue-number", "value": "LV.2"}},
		"areas":       areas}}, http.StatusCreated)
	m.seal()
	m.deliverAll(m.worker())
	if diff := cmp.Diff(from(3, 4), whole.sequences()); diff != "" {
		t.Errorf("specimens alone (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(from(2, 4), thin.sequences()); diff != "" {
		t.Errorf("references (-want +got):\n%s", diff)
	}
	for name, r := range map[string]received{"small": whole.got()[0], "large": whole.got()[1],
		"reference": thin.got()[1]} {
		stated := r.event["data"].(map[string]any)["record"].(map[string]any)["statement"] != nil
		if want := name == "small"; stated != want || len(r.body) > 64<<10 {
			t.Errorf("%s: got a statement: %v in %d bytes", name, stated, len(r.body))
		}
	}
}

// Of many workers only one at a time moves an endpoint's cursor; and a lease that was
// not released expires.
func TestManyWorkers(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	m.hook(c.URL, nil)
	for n := range 40 {
		m.specimen(fmt.Sprint("LV.", n))
	}
	m.seal()
	// a worker that dies while it holds a lease
	if _, err := m.store.Lease(t.Context(), m.clock.now(), m.clock.now().Add(time.Minute), 10); err != nil {
		t.Fatal(err)
	}
	m.deliverAll(m.worker())
	if got := len(c.got()); got != 0 {
		t.Errorf("got %d deliveries while another holds the lease, want none", got)
	}
	m.clock.move(2 * time.Minute)
	var working sync.WaitGroup
	for range 3 {
		w := m.worker()
		working.Go(func() { m.deliverAll(w) })
	}
	working.Wait()
	if diff := cmp.Diff(from(2, 41), c.sequences()); diff != "" {
		t.Errorf("sequence numbers (-want +got):\n%s", diff)
	}
}

// Without the key of the secrets nothing is sent, and the attempt says why.
func TestSecretThatCannotBeRead(t *testing.T) {
	t.Parallel()
	m, c := newMuseum(t), newCatalogue(t)
	path, _ := m.hook(c.URL, nil)
	m.specimen("LV.1")
	m.seal()
	other, err := webhook.NewKeeper("ISEhISEhISEhISEhISEhISEhISEhISEhISEhISEhISE=")
	m.must(err)
	m.keeper = other
	m.deliverAll(m.worker())
	if got := m.lastSentence(path); c.attempts() != 0 || !strings.Contains(got, "secret cannot be read") {
		t.Errorf("got %d attempts and %q", c.attempts(), got)
	}
}

// secretOf decodes a secret as a receiver does.
func secretOf(t *testing.T, text string) webhook.Secret {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(text, "whsec_"))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

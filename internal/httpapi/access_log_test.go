package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
)

// soon is a moment in an hour.
func soon() string { return time.Now().Add(time.Hour).UTC().Format(time.RFC3339) }

// accesses puts on record what the journal has, and gives the items that a list answers.
func (s *service) accesses(query string) array {
	s.t.Helper()
	s.api.WriteJournal(s.t.Context(), true)
	items, _ := s.do(http.MethodGet, "/v1/access-log?limit=500"+query, nil).want(200).at("items").(array)
	return items
}

// accessesTold are the accesses in words: what, and which record.
func accessesTold(items array) []string {
	var list []string
	for _, item := range items {
		record := idOf(item.(object)["record"])
		list = append(list, strings.TrimSpace(item.(object)["what"].(string)+" "+record))
	}
	return list
}

// A key is replaced by one with the same rights; both open until the end that was said.
func TestAKeyIsReplacedWithAnOverlap(t *testing.T) {
	t.Parallel()
	s := newService(t)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	old := s.makeKey(s.key, object{"name": "push", "person": object{"id": person}, "role": "recorder"}).want(201)
	rotate := func(as, id string, body object) reply {
		return send(t, s.url, as, http.MethodPost, "/v1/access-keys/"+id+"/rotation", body, header{"Idempotency-Key", uuid.NewString()})
	}
	opens := func(key string) bool {
		return send(t, s.url, key, http.MethodGet, "/v1/institution", nil).status == http.StatusOK
	}
	first := s.do(http.MethodGet, "/v1/access-keys", nil).at("items", 0, "id").(string)
	rotate(s.keyOf("read", "administer"), old.id(), object{"endsAt": soon()}).wantProblem(403, "scope-not-yours")
	if got := rotate(s.key, old.id(), object{"endsAt": time.Now().AddDate(0, 0, 91)}).want(422); got.at("errors", 0,
		"code") != "overlap-too-long" {
		t.Errorf("got %s, want the overlap refused", got.body)
	}
	rotate(s.key, uuid.NewString(), object{"endsAt": soon()}).wantProblem(404, "access-key-not-here")
	end := soon()
	successor := rotate(s.key, old.id(), object{"endsAt": end}).want(201)
	if successor.at("replaces", "id") != old.id() || successor.at("name") != "push" || successor.at("person", "id") != person ||
		!slices.Equal(successor.at("scopes").(array), array{"read", "record"}) || successor.at("expiresAt") != nil {
		t.Errorf("got %s, want the like of the old key", successor.body)
	}
	if !opens(old.at("secret").(string)) || !opens(successor.at("secret").(string)) {
		t.Error("a key does not open while they overlap")
	}
	listed := map[string]object{}
	for _, k := range s.do(http.MethodGet, "/v1/access-keys", nil).want(200).at("items").(array) {
		listed[k.(object)["id"].(string)] = k.(object)
	}
	if got := listed[old.id()]["expiresAt"]; got != end {
		t.Errorf("the old key ends at %v, want %v", got, end)
	}
	if !strings.HasPrefix(successor.at("secret").(string), listed[successor.id()]["prefix"].(string)) {
		t.Errorf("got the prefix %v of another key", listed[successor.id()]["prefix"])
	}
	rotate(s.key, old.id(), object{"endsAt": soon()}).wantProblem(409, "access-key-replaced")
	s.do(http.MethodDelete, "/v1/access-keys/"+successor.id(), nil).want(200)
	rotate(s.key, successor.id(), object{"endsAt": soon()}).wantProblem(409, "access-key-ended")

	own := rotate(s.key, first, object{"endsAt": "2020-01-01T00:00:00Z"}).want(201) // itself, at once
	s.do(http.MethodGet, "/v1/institution", nil).wantProblem(401, "access-key-unknown")
	s.key = own.at("secret").(string)
	s.do(http.MethodGet, "/v1/institution", nil).want(200)
}

// Two that replace a key at one moment make one successor.
func TestAKeyIsReplacedOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	id := s.do(http.MethodGet, "/v1/access-keys", nil).at("items", 0, "id").(string)
	statuses := make(chan int, 8)
	for range cap(statuses) {
		go func() {
			statuses <- s.do(http.MethodPost, "/v1/access-keys/"+id+"/rotation", object{"endsAt": soon()},
				header{"Idempotency-Key", uuid.NewString()}).status
		}()
	}
	made := 0
	for range cap(statuses) {
		switch got := <-statuses; got {
		case http.StatusCreated:
			made++
		case http.StatusConflict:
		default:
			t.Errorf("got %d, want it made or refused", got)
		}
	}
	if made != 1 {
		t.Errorf("got %d successors, want one", made)
	}
}

// A role stands for its scopes, and gives no more than its maker has; one says it or them.
func TestAKeyOfARole(t *testing.T) {
	t.Parallel()
	s := newService(t)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	asked := func(more object) object {
		more["name"], more["person"] = "push", object{"id": person}
		return more
	}
	got := s.makeKey(s.key, asked(object{"role": "integrator"})).want(201).at("scopes").(array)
	if !slices.Equal(got, array{"read", "record", "stock", "report", "integrate"}) {
		t.Errorf("got %v", got)
	}
	s.makeKey(s.keyOf("administer", "read"), asked(object{"role": "recorder"})).want(403)
	for _, wrong := range []object{{}, {"role": "reader", "scopes": array{"read"}}} {
		if got := s.makeKey(s.key, asked(wrong)).want(422); got.at("errors", 0, "code") != "role-or-scopes" {
			t.Errorf("got %s", got.body)
		}
	}
	s.makeKey(s.key, asked(object{"role": "owner"})).want(422)
}

// To export everything takes the scope for it.
func TestExportIsAScopeOfItsOwn(t *testing.T) {
	t.Parallel()
	s := newService(t)
	without := s.keyOf("read", "record", "stock", "authorise", "report", "integrate", "administer")
	send(t, s.url, without, http.MethodGet, "/v1/exports/records", nil).wantProblem(403, "scope-missing")
	send(t, s.url, s.keyOf("export"), http.MethodGet, "/v1/exports/records", nil).want(200)
	send(t, s.url, s.keyOf("export"), http.MethodGet, "/v1/changes", nil).wantProblem(403, "scope-missing")
}

// Which keys were made, replaced and revoked, and by whom, is on record; and which were refused, in
// one line for each reason, however often that was.
func TestWhatBecameOfKeysIsOnRecord(t *testing.T) {
	t.Parallel()
	s := newService(t)
	me := s.do(http.MethodGet, "/v1/access-keys", nil).at("items", 0)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	begun := time.Now().UTC()
	made := s.makeKey(s.key, object{"name": "push", "person": object{"id": person}, "role": "reader"}).want(201)
	replaced := s.makeKey(s.key, object{"name": "push", "person": object{"id": person}, "role": "reader"}).want(201)
	s.do(http.MethodPost, "/v1/access-keys/"+replaced.id()+"/rotation", object{"endsAt": "2020-01-01T00:00:00Z"},
		header{"Idempotency-Key", uuid.NewString()}).want(201)
	for range 20 {
		send(t, s.url, made.at("secret").(string), http.MethodGet, "/v1/changes", nil).want(403)
		send(t, s.url, replaced.at("secret").(string), http.MethodGet, "/v1/institution", nil).want(401)
	}
	for range 2 { // the second changes nothing
		s.do(http.MethodDelete, "/v1/access-keys/"+made.id(), nil).want(200)
	}
	for range 20 {
		send(t, s.url, made.at("secret").(string), http.MethodGet, "/v1/institution", nil).want(401)
	}
	forged := made.at("secret").(string)[:60] + strings.Repeat("A", 35)
	send(t, s.url, forged, http.MethodGet, "/v1/institution", nil).want(401)

	got := accessesTold(s.accesses("&since=" + begun.Format("2006-01-02T15:04:05.000Z")))
	want := []string{"refused-expired", "refused-revoked", "refused-scope", "key-revoked " + made.id(), "key-replaced " + replaced.id(),
		"key-made " + replaced.id(), "key-made " + made.id()}
	slices.Sort(got[:3]) // taken at one moment
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	for _, item := range s.accesses("&record=" + made.id()) {
		if idOf(item.(object)["key"]) != me.(object)["id"] || idOf(item.(object)["person"]) != idOf(me.(object)["person"]) {
			t.Errorf("got %v, want it done by %v", item, me)
		}
	}
	for _, item := range s.accesses("&person=" + person) {
		if what := item.(object)["what"].(string); !strings.HasPrefix(what, "refused-") || item.(object)["times"] != 20.0 {
			t.Errorf("got %v, want the refusals of that person's keys, 20 times each", item)
		}
	}
	if got := len(s.accesses("&person=" + person)); got != 3 {
		t.Errorf("got %d lines of the person, want 3", got)
	}
	for range 20 { // the same again within the hour waits for its end
		send(t, s.url, made.at("secret").(string), http.MethodGet, "/v1/institution", nil).want(401)
	}
	s.api.WriteJournal(t.Context(), false)
	if got := s.do(http.MethodGet, "/v1/access-log?person="+person, nil).at("items").(array); len(got) != 3 {
		t.Errorf("got %d lines of the person, want 3 within the hour", len(got))
	}
	_, stranger := addInstitution(t, s.db, s.store, "Museum on the Hill")
	if theirs := send(t, s.url, stranger, http.MethodGet, "/v1/access-log?record="+made.id(),
		nil).want(200); len(theirs.at("items").(array)) != 0 {
		t.Errorf("got %s, want nothing of another institution", theirs.body)
	}
	send(t, s.url, s.keyOf("read", "report", "integrate"), http.MethodGet, "/v1/access-log", nil).wantProblem(403, "scope-missing")
}

// The list pages, newest first, without a line twice or left out.
func TestAccessesArePaged(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for range 7 {
		s.keyOf("read")
	}
	all := accessesTold(s.accesses(""))
	var paged []string
	for path := "/v1/access-log?limit=3"; path != ""; {
		page := s.do(http.MethodGet, path, nil).want(200)
		paged = append(paged, accessesTold(page.at("items").(array))...)
		next, _ := page.at("next", "cursor").(string)
		if path = ""; next != "" {
			path = "/v1/access-log?limit=3&cursor=" + next
		}
	}
	if len(all) != 8 || !slices.Equal(paged, all) {
		t.Errorf("got %v by pages, %v at once", paged, all)
	}
	s.do(http.MethodGet, "/v1/access-log?cursor=zz", nil).want(400)
	s.do(http.MethodGet, "/v1/access-log?since=yesterday", nil).want(400)
	if got := s.do(http.MethodGet, "/v1/access-log?before=1960-01-01T00:00:00Z", nil).want(200).at("items").(array); len(got) != 0 {
		t.Errorf("got %v before all", got)
	}
}

// When a key was last used is told roughly, and not written by the requests.
func TestLastUseIsRough(t *testing.T) {
	t.Parallel()
	s := newService(t)
	lastUse := func() any { return s.do(http.MethodGet, "/v1/access-keys", nil).want(200).at("items", 0, "lastUsedAt") }
	if got := lastUse(); got != nil {
		t.Errorf("got %v before it was on record", got)
	}
	s.api.WriteJournal(t.Context(), false)
	at, err := time.Parse(time.RFC3339, lastUse().(string))
	if err != nil || time.Since(at) > 10*time.Minute || at.Truncate(10*time.Minute) != at {
		t.Errorf("got %v, %v; want the ten minutes in which it was", at, err)
	}
	s.owner(`create table written as select count(*) as n from key_use`)
	s.owner(`create function count_use() returns trigger language plpgsql security definer as $$
		begin update public.written set n = n + 1; return new; end $$`)
	s.owner(`create trigger count_use before insert or update on key_use for each row execute function count_use()`)
	for range 50 {
		s.do(http.MethodGet, "/v1/institution", nil).want(200)
		s.api.WriteJournal(t.Context(), false)
	}
	s.owner(`do $$ begin if (select n from written) > 2 then raise exception 'written % times', (select n from written); end if; end $$`)
}

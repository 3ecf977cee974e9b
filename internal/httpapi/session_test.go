package httpapi_test

import (
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/oauth2-proxy/mockoidc"

	"meniscus/internal/pgtest"
)

const ownAddress = "https://meniscus.example" // of the service, as ordinary has it

// browser is one that keeps cookies, and follows nothing by itself.
type browser struct {
	t       testing.TB
	at      *service
	cookies map[string]string
}

func (s *signIn) browser() *browser { return &browser{s.t, s.service, map[string]string{}} }

// ask sends a request as a browser does; the path may be a whole address of the service.
func (b *browser) ask(method, path string, form url.Values, headers ...header) reply {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), method, b.at.url+strings.TrimPrefix(path, ownAddress), nil)
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Accept", "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8")
	if form != nil {
		body := form.Encode()
		r.Body, r.ContentLength = io.NopCloser(strings.NewReader(body)), int64(len(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", ownAddress)
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	for name, value := range b.cookies {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	for _, h := range headers {
		r.Header.Set(h.name, h.value)
		if h.value == "" {
			r.Header.Del(h.name)
		}
	}
	response, err := (&http.Transport{}).RoundTrip(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer response.Body.Close()
	read, err := io.ReadAll(response.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, c := range response.Cookies() {
		if !c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" ||
			!strings.HasPrefix(c.Name, "__Host-") {
			b.t.Errorf("the cookie %s is not guarded", c)
		}
		if b.cookies[c.Name] = c.Value; c.MaxAge < 0 {
			delete(b.cookies, c.Name)
		}
	}
	return reply{t: b.t, status: response.StatusCode, header: response.Header, body: read}
}

var linkIn = regexp.MustCompile(`<a class="button" href="([^"]+)"`)

// begin asks for a page, and takes its link to the provider, up to the address to which that sends the browser back.
func (s *signIn) begin(b *browser, path, subject string, groups ...string) (back string) {
	s.t.Helper()
	found := linkIn.FindSubmatch(b.ask(http.MethodGet, path, nil).want(401).body)
	if found == nil {
		s.t.Fatalf("no link to sign in at %s", path)
	}
	away := b.ask(http.MethodGet, strings.ReplaceAll(string(found[1]), "&amp;", "&"), nil).want(303)
	s.provider.QueueUser(&mockoidc.MockUser{Subject: subject, Groups: groups})
	response, err := (&http.Transport{}).RoundTrip(mustRequest(s.t, away.header.Get("Location")))
	if err != nil {
		s.t.Fatal(err)
	}
	_ = response.Body.Close()
	if back = response.Header.Get("Location"); !strings.HasPrefix(back, ownAddress+"/sign-in/back?") {
		s.t.Fatalf("the provider sends the browser to %q (%d)", back, response.StatusCode)
	}
	return back
}

func mustRequest(t testing.TB, address string) *http.Request {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// signedIn is a browser in which a person with groups has signed in to see a page.
func (s *signIn) signedIn(path, subject string, groups ...string) *browser {
	s.t.Helper()
	b := s.browser()
	if got := b.ask(http.MethodGet, s.begin(b, path, subject, groups...), nil).want(303); got.header.Get("Location") != ownAddress+path {
		s.t.Fatalf("sent to %q, want %q", got.header.Get("Location"), path)
	}
	return b
}

// bottle is the path of a bottle that a key recorded.
func (s *signIn) bottle() string {
	s.t.Helper()
	return "/v1/batches/" + s.create("/v1/batches", object{"code": "B-17/a", "kind": "bottle"}).id()
}

var tokenIn = regexp.MustCompile(`name="token" value="([^"]+)"`)

// token is what the forms of a page bring back.
func (b *browser) token(path string) string {
	b.t.Helper()
	found := tokenIn.FindSubmatch(b.ask(http.MethodGet, path, nil).want(200).body)
	if found == nil {
		b.t.Fatalf("%s has no form", path)
	}
	return string(found[1])
}

// A person comes by the code on a bottle, signs in at the provider, and is back at the bottle: in every instance. They
// are the person that their token is too, and the log of accesses has them like any other.
func TestSigningInToSeeABottle(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	path := s.bottle()
	b := s.signedIn(path, "u-17", "bench")
	page := b.ask(http.MethodGet, path, nil).want(200)
	if !strings.Contains(string(page.body), "B-17/a") {
		t.Errorf("got %s", page.body)
	}
	for name, want := range map[string]string{"Cache-Control": "no-store", "Referrer-Policy": "same-origin"} {
		if got := page.header.Get(name); got != want {
			t.Errorf("%s: got %q, want %q", name, got, want)
		}
	}
	for _, rule := range []string{"default-src 'none'", "form-action 'self'", "frame-ancestors 'none'"} {
		if policy := page.header.Get("Content-Security-Policy"); !strings.Contains(policy, rule) || strings.Contains(policy, "unsafe") {
			t.Errorf("got the policy %q", policy)
		}
	}
	b.at = s.instance()
	b.ask(http.MethodGet, path, nil).want(200)
	mine := s.as(s.token("u-17", "bench"), http.MethodPost, "/v1/people", object{"statement": object{"name": "Tomas Brandl"}}).want(201)
	s.api.WriteJournal(t.Context(), true)
	b.at.api.WriteJournal(t.Context(), true)
	log := s.do(http.MethodGet, "/v1/access-log?record="+path[len("/v1/batches/"):], nil).want(200)
	if idOf(log.at("items", 0, "person")) != idOf(mine.at("recordedBy")) || log.at("items", 0, "operation") != "readBatch" {
		t.Errorf("got %s, want it read by the person of the token", log.body)
	}
}

// The code alone shows nothing of a bottle: not even whether there is one.
func TestTheCodeAloneShowsNothing(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	s.open = []uuid.UUID{s.inst}
	at := s.instance()
	path, b := s.bottle(), &browser{t, at, map[string]string{}}
	known, unknown := b.ask(http.MethodGet, path, nil).want(401), b.ask(http.MethodGet, "/v1/batches/"+uuid.NewString(), nil).want(401)
	ids := regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}`)
	if got, want := ids.ReplaceAll(known.body, nil), ids.ReplaceAll(unknown.body, nil); string(got) != string(want) {
		t.Errorf("got %s, want %s", got, want)
	}
	if strings.Contains(string(known.body), "B-17/a") || !strings.Contains(string(known.body), "own accounts") {
		t.Errorf("got %s", known.body)
	}
}

// Who has no role is let in nowhere, and recorded nowhere; another institution's bottle is not there.
func TestSigningInWithoutARole(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	path, b := s.bottle(), s.browser()
	b.ask(http.MethodGet, s.begin(b, path, "u-99", "visitors"), nil).want(403)
	b.ask(http.MethodGet, path, nil).want(401)
	if got := s.do(http.MethodGet, "/v1/people?limit=500", nil).want(200); strings.Contains(string(got.body), "Signed in") {
		t.Error("who may do nothing is recorded all the same")
	}
	_, theirs := addInstitution(t, s.db, s.store, "Museum on the Hill")
	foreign := send(t, s.url, theirs, http.MethodPost, "/v1/batches", object{"statement": object{"code": "H-1", "kind": "bottle"}},
		header{"Idempotency-Key", uuid.NewString()}).want(201).id()
	in := s.signedIn(path, "u-17", "desk")
	if got := in.ask(http.MethodGet, "/v1/batches/"+foreign, nil).want(404); strings.Contains(string(got.body), "H-1") ||
		!strings.HasPrefix(got.header.Get("Content-Type"), "text/html") {
		t.Errorf("got %s", got.body)
	}
}

// What a provider's answer has to be: to the attempt of this browser, once.
func TestForgedReturns(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	path := s.bottle()
	const attempt = "__Host-meniscus-sign-in"
	swap := func(address, name, value string) string {
		u, _ := url.Parse(address)
		q := u.Query()
		q.Set(name, value)
		u.RawQuery = q.Encode()
		return u.String()
	}
	for name, forge := range map[string]func(b *browser, back string) string{
		"another state":  func(_ *browser, back string) string { return swap(back, "state", strings.Repeat("A", 43)) },
		"no state":       func(_ *browser, back string) string { return swap(back, "state", "") },
		"another issuer": func(_ *browser, back string) string { return swap(back, "iss", "https://login.thief.example") },
		"another code":   func(_ *browser, back string) string { return swap(back, "code", "guessed") },
		"a refusal":      func(_ *browser, back string) string { return swap(back, "error", "access_denied") },
		"no attempt": func(b *browser, back string) string {
			delete(b.cookies, attempt)
			return back
		},
		"another return address": func(b *browser, back string) string {
			parts := strings.Split(b.cookies[attempt], ".")
			parts[3] = "L3YxL3Blb3BsZQ" // /v1/people
			b.cookies[attempt] = strings.Join(parts, ".")
			return back
		},
		"an attempt of tomorrow": func(b *browser, back string) string {
			parts := strings.Split(b.cookies[attempt], ".")
			parts[2] = "9999999999"
			b.cookies[attempt] = strings.Join(parts, ".")
			return back
		},
		"the attempt of another browser": func(b *browser, back string) string {
			other := s.browser()
			s.begin(other, path, "u-1", "bench")
			b.cookies = other.cookies
			return back
		},
		"the code of another browser": func(b *browser, back string) string { // PKCE
			stolen, _ := url.Parse(s.begin(s.browser(), path, "u-1", "bench"))
			return swap(back, "code", stolen.Query().Get("code"))
		},
	} {
		b := s.browser()
		got := b.ask(http.MethodGet, forge(b, s.begin(b, path, "u-17", "bench")), nil).want(401)
		if b.cookies["__Host-meniscus"] != "" {
			t.Errorf("%s: signed in: %s", name, got.body)
		}
	}
	b := s.browser()
	back := s.begin(b, path, "u-17", "bench")
	kept := b.cookies[attempt]
	b.ask(http.MethodGet, back, nil).want(303)
	if b.cookies[attempt] != "" {
		t.Error("the attempt is kept")
	}
	again := s.browser()
	again.cookies[attempt] = kept
	again.ask(http.MethodGet, back, nil).want(401) // the code was used
}

// One goes back to a page of this service and nowhere else.
func TestForeignReturnAddresses(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	for _, address := range []string{"https://thief.example/", "//thief.example", "/\\thief.example", "\\\\thief.example",
		"javascript:alert(1)",
		"/v1/batches/../..//thief.example", "/%2f%2fthief.example", "/v1/batches/x?next=https://thief.example", "/ /thief.example",
		"/\t/thief.example", "v1/batches", "/v1/batches/x#y", "@thief.example", "/@thief.example", "/v1/batches//x", "/v1/"} {
		for _, with := range []string{"", "&with=x"} {
			got := s.browser().ask(http.MethodGet, "/sign-in?return="+url.QueryEscape(address)+with, nil).want(400)
			if got.header.Get("Location") != "" || got.header.Get("Set-Cookie") != "" || strings.Contains(string(got.body), "thief") {
				t.Errorf("%q is taken: %s", address, got.body)
			}
		}
	}
	s.browser().ask(http.MethodGet, "/sign-in?with=ffffffffffffffff", nil).want(401)
}

// The cookie opens the pages of bottles and nothing else, and only as it was given.
func TestWhatTheCookieOpens(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	path := s.bottle()
	b := s.signedIn(path, "u-17", "head")
	for _, closed := range []string{"/v1/people", "/v1/access-keys", "/v1/institution", "/v1/specimens",
		path + "/contents", path + "/label",
		"/v1/specimens/" + uuid.NewString(), "/v1/exports/records"} {
		b.ask(http.MethodGet, closed, nil).want(401)
	}
	for _, accept := range []string{"application/json", "*/*", "", "application/json, text/html;q=0.9"} {
		b.ask(http.MethodGet, path, nil, header{"Accept", accept}).wantProblem(401, "access-key-missing")
	}
	good := b.cookies["__Host-meniscus"]
	b.ask(http.MethodGet, "/v1/institution", nil, header{"Authorization", "Bearer " + good}).want(401)
	for i := range good {
		altered := []byte(good)
		altered[i] ^= 3
		b.cookies["__Host-meniscus"] = string(altered)
		if got := b.ask(http.MethodGet, path, nil); got.status != 401 {
			t.Errorf("the cookie with another character %d: got %d", i, got.status)
		}
	}
	for _, other := range []string{s.key, "", good[:len(good)-1], good + "A", s.token("u-17", "head")} {
		b.cookies["__Host-meniscus"] = other
		b.ask(http.MethodGet, path, nil).want(401)
	}
	b.cookies["__Host-meniscus"] = good
	b.ask(http.MethodGet, path, nil, header{"Cookie", "__Host-meniscus=" + good + "; __Host-meniscus=" + good}).want(401)
	b.ask(http.MethodGet, path, nil).want(200)
}

// A form is taken from the session's own page alone.
func TestFormsOfOtherSites(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	path := s.bottle()
	b := s.signedIn(path, "u-17", "bench")
	other := s.signedIn(path, "u-18", "bench")
	token := b.token(path)
	form := url.Values{"token": {token}}
	out := func(form url.Values, headers ...header) func() reply {
		return func() reply { return b.ask(http.MethodPost, "/sign-out", form, headers...) }
	}
	from := func(site, origin string) func() reply {
		return out(form, header{"Sec-Fetch-Site", site}, header{"Origin", origin})
	}
	for name, try := range map[string]func() reply{
		"no token":           out(url.Values{"x": {"y"}}),
		"an empty token":     out(url.Values{"token": {""}}),
		"another's token":    out(url.Values{"token": {other.token(path)}}),
		"the token twice":    out(url.Values{"token": {"", token}}),
		"another site":       from("cross-site", "https://thief.example"),
		"a neighbour":        from("same-site", "https://www.example"),
		"an older browser":   from("", "https://thief.example"),
		"a page of no place": from("", "null"),
	} {
		if got := try(); got.status != 403 || !strings.HasPrefix(got.header.Get("Content-Type"), "text/html") {
			t.Errorf("%s: got %d %s, want it refused", name, got.status, got.body)
		}
	}
	b.ask(http.MethodPost, "/sign-out", form, header{"Content-Type", "text/plain"}).want(415)
	s.browser().ask(http.MethodPost, "/sign-out", form).want(401)
	b.ask(http.MethodGet, path, nil).want(200)
}

// A session is over when its person signs out, when its time is over, when an administrator says so, and on every
// instance at once. Signing in anew ends the one before.
func TestSessionsEnd(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	path, second := s.bottle(), s.instance()
	closed := func(what string, cookies map[string]string) {
		t.Helper()
		for _, at := range []*service{s.service, second} {
			b := &browser{t, at, cookies}
			if got := b.ask(http.MethodGet, path, nil); got.status != 401 {
				t.Errorf("%s: got %d", what, got.status)
			}
		}
	}
	kept := func(b *browser) map[string]string {
		return map[string]string{"__Host-meniscus": b.cookies["__Host-meniscus"]}
	}
	b := s.signedIn(path, "u-17", "bench")
	cookies, token := kept(b), b.token(path)
	b.ask(http.MethodPost, "/sign-out", url.Values{"token": {token}}).want(200)
	if len(b.cookies) != 0 {
		t.Errorf("got the cookies %v after signing out", b.cookies)
	}
	closed("signed out", cookies)
	(&browser{t, second, cookies}).ask(http.MethodPost, "/sign-out", url.Values{"token": {token}}).want(401)

	b = s.signedIn(path, "u-17", "bench")
	cookies = kept(b)
	b.ask(http.MethodGet, s.beginAgain(b, path, "u-17", "bench"), nil).want(303)
	closed("signed in anew", cookies)
	b.ask(http.MethodGet, path, nil).want(200)

	s.owner(`update browser_session set ends_at = now()`)
	closed("its time is over", kept(b))
	b, other := s.signedIn(path, "u-17", "bench"), s.signedIn(path, "u-18", "bench")
	var left int
	err := pgtest.Pool(t, s.db.Owner()).QueryRow(t.Context(), `select count(*) from browser_session`).Scan(&left)
	if err != nil || left != 2 {
		t.Errorf("got %d sessions kept, want the two that are not over", left)
	}
	mine := s.as(s.token("u-17", "bench"), http.MethodPost, "/v1/people", object{"statement": object{"name": "Tomas Brandl"}}).want(201)
	s.do(http.MethodDelete, "/v1/people/"+idOf(mine.at("recordedBy"))+"/sessions", nil).want(204)
	closed("ended by an administrator", kept(b))
	other.ask(http.MethodGet, path, nil).want(200)
	s.do(http.MethodDelete, "/v1/people/"+uuid.NewString()+"/sessions", nil).wantProblem(404, "person-unknown")
}

// beginAgain is begin for who is signed in.
func (s *signIn) beginAgain(b *browser, path, subject string, groups ...string) string {
	s.t.Helper()
	session := b.cookies["__Host-meniscus"]
	delete(b.cookies, "__Host-meniscus")
	back := s.begin(b, path, subject, groups...)
	b.cookies["__Host-meniscus"] = session
	return back
}

// Without a provider at which one can sign in, the page says so; with one that is away, when to come again.
func TestNowhereToSignIn(t *testing.T) {
	t.Parallel()
	s := newService(t)
	b := &browser{t, s, map[string]string{}}
	got := b.ask(http.MethodGet, "/v1/batches/"+uuid.NewString(), nil).want(401)
	if !strings.Contains(string(got.body), "not set up") || linkIn.Match(got.body) {
		t.Errorf("got %s", got.body)
	}
	b.ask(http.MethodGet, "/sign-in?with=x", nil).want(401)
	b.ask(http.MethodGet, "/sign-in/back?code=x&state=y", nil).want(401)
	away := newSignIn(t)
	page := away.browser().ask(http.MethodGet, "/sign-in", nil).want(200)
	if err := away.provider.Shutdown(); err != nil {
		t.Fatal(err)
	}
	link := strings.ReplaceAll(string(linkIn.FindSubmatch(page.body)[1]), "&amp;", "&")
	if got := away.browser().ask(http.MethodGet, link, nil).want(503); got.header.Get("Retry-After") == "" ||
		!slices.Contains(got.header.Values("Content-Type"), "text/html; charset=utf-8") {
		t.Errorf("got %v %s", got.header, got.body)
	}
}

// The page tells hazards first, then what is in the bottle, how old it is, what is left, and what it was used on.
func TestTheBottlesPage(t *testing.T) {
	t.Parallel()
	s := newSignIn(t)
	s.loadDemo()
	page := string(s.do(http.MethodGet, "/v1/batches/01900000-0000-7000-8000-000000000017", nil,
		header{"Accept", "text/html"}).want(200).body)
	at := 0
	for _, text := range []string{`aria-label="flame"`, "Danger", "Highly flammable liquid and vapour", "B-0311-1", "in acetone",
		"strength now not known", "As made: 20.1 g per 100 mL", "Filled", "14 March 2022", "Age", "years",
		"At most 50 mL is left", "Joining",
		"LV.2011/0222"} {
		found := strings.Index(page[at:], text)
		if found < 0 {
			t.Fatalf("%q is not there, or in another place: %s", text, page)
		}
		at += found
	}
	if strings.Contains(page, "<form") || strings.Contains(page, "/v1/treatments/") || strings.Contains(page, "<script") {
		t.Errorf("a caller with a key gets a form, a script, or a link that needs a key: %s", page)
	}
}

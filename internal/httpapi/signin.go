package httpapi

import (
	"crypto/rand"
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/identity"
	"meniscus/internal/publish"
)

// SignInBack is the path to which providers send a browser back.
const SignInBack = "/sign-in/back"

// mountSignIn mounts what a browser asks on its way in and out, which is no program's to call and not in the
// contract.
func (s *Server) mountSignIn() {
	pages := operation{gives: []string{htmlType}, people: true, anyQuery: true, work: classes["lookup"]}
	add := func(id, method, path string, h handler, with func(*operation)) {
		op := pages
		op.id, op.method, op.path = id, method, path
		with(&op)
		s.echo.Add(method, path, s.serve(&op, h))
	}
	keyless := func(op *operation) { op.keyless = true }
	add("signIn", http.MethodGet, "/sign-in", signIn, keyless)
	add("finishSignIn", http.MethodGet, SignInBack, finishSignIn, keyless)
	add("signOut", http.MethodPost, "/sign-out", signOut, func(op *operation) {
		op.session, op.takes = true, []string{formType}
	})
}

// ownPath is what a return address may be: a path of this service, and nothing that a browser could read otherwise.
var ownPath = regexp.MustCompile(`^(/[A-Za-z0-9_-]+)+$`)

// returnPath is the path to go back to after signing in; empty if none was said.
func (c *requestContext) returnPath() (string, error) {
	path := c.echo.QueryParam("return")
	if path != "" && !ownPath.MatchString(path) {
		return "", parameterFault("return", "After signing in you can go back to a page of this service only.")
	}
	return path, nil
}

// signIn shows where one may sign in, or sends the browser there.
func signIn(s *Server, c *requestContext) (*answer, error) {
	back, err := c.returnPath()
	if err != nil {
		return nil, err
	}
	choice := c.echo.QueryParam("with")
	if choice == "" {
		return personalPage(publish.SignInPage(s.signInPage("Sign in", "", back)))
	}
	attempt := identity.Attempt{Choice: choice, Begun: s.now().Unix(), Return: back}
	_, _ = rand.Read(attempt.Secret[:]) // never fails
	address, err := s.signIns.Begin(c.ctx(), attempt)
	if err != nil {
		return nil, err
	}
	a := elsewhere(address)
	a.keep(attemptCookie, attempt.Text(), identity.AttemptFor)
	return a, nil
}

// finishSignIn opens a session for whom a provider sent back.
func finishSignIn(s *Server, c *requestContext) (*answer, error) {
	attempt := identity.Attempt{}
	if kept := c.echo.Request().CookiesNamed(attemptCookie); len(kept) == 1 {
		attempt, _ = identity.ParseAttempt(kept[0].Value)
	}
	of, err := s.signIns.Complete(c.ctx(), attempt, c.echo.QueryParams())
	if err != nil {
		return nil, err
	}
	if s.store == nil {
		return nil, fault.Of(fault.Unavailable, "database-unavailable", "No database is attached, so that nobody can sign in.")
	}
	if err := s.endOther(c); err != nil {
		return nil, err
	}
	in := s.store.For(of.Institution)
	person, err := in.PersonOfToken(c.ctx(), of.Subject, of.Name)
	if err != nil {
		return nil, err
	}
	key := newSessionKey(of.Institution)
	c.principal = &access.Principal{Institution: of.Institution, Person: person, Scopes: of.Scopes}
	if err := in.OpenSession(c.ctx(), key, *c.principal, sessionLasts); err != nil {
		return nil, err
	}
	a := elsewhere(s.publicURL + attempt.Return)
	if attempt.Return == "" || !ownPath.MatchString(attempt.Return) {
		if a, err = personalPage(publish.SignInPage(publish.SignIn{Title: "You are signed in",
			Detail: "Point the camera at the code on a bottle's label."})); err != nil {
			return nil, err
		}
	}
	a.keep(attemptCookie, "", 0)
	a.keep(sessionCookie, key.Text(), sessionLasts)
	return a, nil
}

// endOther ends the session that the browser has from before.
func (s *Server) endOther(c *requestContext) error {
	key, has := c.sessionKey()
	if !has {
		return nil
	}
	p, err := s.store.SessionPrincipal(c.ctx(), key)
	if err != nil || p == nil {
		return err
	}
	return s.store.For(key.Institution).EndSession(c.ctx(), key.ID)
}

// signOut ends the session, on every instance at once.
func signOut(s *Server, c *requestContext) (*answer, error) {
	if err := c.tenant().EndSession(c.ctx(), c.session.ID); err != nil {
		return nil, err
	}
	a, err := personalPage(publish.SignInPage(s.signInPage("You are signed out here",
		"Where you signed in you may still be signed in: sign out there too before another person takes this device.", "")))
	if err == nil {
		a.keep(sessionCookie, "", 0)
	}
	return a, err
}

// elsewhere sends the browser to another address.
func elsewhere(address string) *answer {
	a := &answer{status: http.StatusSeeOther, noStore: true}
	a.setHeader("Location", address)
	a.setHeader("Referrer-Policy", "no-referrer")
	return a
}

// personalPage is a page that is no one else's to keep, with forms that go to this service.
func personalPage(body []byte, err error) (*answer, error) {
	a, err := htmlAnswer(body, err)
	if err != nil {
		return nil, err
	}
	a.noStore = true
	a.setHeader("Content-Security-Policy", publish.FormPolicy)
	a.setHeader("Referrer-Policy", "same-origin") // else a browser does not say where a form comes from
	return a, nil
}

// signInPage is the page that says where to sign in, to come back to a path.
func (s *Server) signInPage(title, detail, back string) publish.SignIn {
	page := publish.SignIn{Title: title, Detail: detail}
	for _, choice := range s.signIns.Choices() {
		query := url.Values{"with": {choice.ID}}
		if back != "" {
			query.Set("return", back)
		}
		page.At = append(page.At, publish.Link{IRI: s.publicURL + "/sign-in?" + query.Encode(), Label: choice.Name})
	}
	page.Nowhere = len(page.At) == 0
	return page
}

// refused is the answer to a request that is refused: a problem, or for people a page that says the same.
func (c *requestContext) refused(err error) *answer {
	a := c.server.problem(c.requestID, err)
	if !c.forPeople() {
		return a
	}
	var p struct{ Title, Detail string }
	_ = json.Unmarshal(a.body, &p) // it was made a moment ago
	back := ""
	if path := c.echo.Request().URL.Path; c.op.keyed && ownPath.MatchString(path) {
		back = path
	}
	page := publish.SignIn{Title: p.Title, Detail: p.Detail, Instance: c.requestID.String()}
	if found := fault.From(err); a.status == http.StatusUnauthorized && len(found) > 0 {
		page = c.server.signInPage("Sign in to see this", found[0].Detail, back)
	}
	told, broken := personalPage(publish.SignInPage(page))
	if broken != nil {
		return a
	}
	told.status = a.status
	for name, values := range a.header {
		told.header[name] = values
	}
	return told
}

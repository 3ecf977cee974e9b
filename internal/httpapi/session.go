package httpapi

import (
	"bytes"
	"crypto/rand"
	"crypto/subtle"
	"net/http"
	"net/url"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// A session is that of a person who signed in with a browser: a row of the database, so that it holds on every
// instance and can be ended, and a cookie with its id and secret. It opens operations that the contract says so
// of, and of those only the answers for people: no JSON, so that another site's page has nothing to steer but forms,
// and those bring back a token that only the session's own pages know.
const (
	sessionCookie = "__Host-meniscus"
	attemptCookie = "__Host-meniscus-sign-in" // of a sign-in that has begun
	sessionLasts  = 8 * time.Hour

	formType = "application/x-www-form-urlencoded"
	mostForm = 64 << 10 // bytes
)

// forPeople tells whether the answer is a page, also where it is a problem.
func (c *requestContext) forPeople() bool {
	return c.op.people && preferred(c.echo.Request().Header.Values("Accept"), c.op.gives) == htmlType
}

// bySession finds the caller by the session's cookie.
func (c *requestContext) bySession() error {
	if c.server.store == nil {
		return fault.Of(fault.Unavailable, "database-unavailable",
			"No database is attached, so that no one can be looked up.")
	}
	missing := fault.Of(fault.Unauthenticated, "session-missing", "You are not signed in, or no longer.")
	key, ok := c.sessionKey()
	if !ok {
		return missing
	}
	p, err := c.server.store.SessionPrincipal(c.ctx(), key)
	if err != nil {
		return err
	}
	if p == nil {
		return missing
	}
	c.principal, c.session = p, key
	return c.authorise()
}

// sessionKey is what the session's cookie says; false if there is none, or two.
func (c *requestContext) sessionKey() (access.Key, bool) {
	kept := c.echo.Request().CookiesNamed(sessionCookie)
	if len(kept) != 1 {
		return access.Key{}, false
	}
	key, err := access.ParseKey(kept[0].Value)
	return key, err == nil
}

// newSessionKey is the id and the secret of a new session. It has the form of an access key, and is none.
func newSessionKey(institution uuid.UUID) access.Key {
	key := access.Key{Institution: institution, ID: newRequestID()}
	_, _ = rand.Read(key.Secret[:]) // never fails
	return key
}

// keep has the browser keep a cookie for so long, or throw it away.
func (a *answer) keep(name, value string, lasts time.Duration) {
	cookie := http.Cookie{Name: name, Value: value, Path: "/", MaxAge: int(lasts.Seconds()), Secure: true, HttpOnly: true,
		SameSite: http.SameSiteLaxMode}
	if value == "" {
		cookie.MaxAge = -1
	}
	a.addHeader("Set-Cookie", cookie.String())
}

// readForm reads a form that a session's own page sent. Any other is refused before it is looked at: one that another
// site's page sent, and one without the session's token.
func (c *requestContext) readForm() error {
	elsewhere := fault.Of(fault.Forbidden, "form-from-elsewhere",
		"This form was not sent from a page of this service that you opened while signed in. Nothing was done; open the page again.")
	request := c.echo.Request()
	if c.server.origin.Check(request) != nil {
		return elsewhere
	}
	var buffer bytes.Buffer
	if _, err := buffer.ReadFrom(http.MaxBytesReader(c.echo.Response(), request.Body, mostForm)); err != nil {
		return readFault(err, mostForm)
	}
	form, err := url.ParseQuery(buffer.String())
	if err != nil {
		return fault.Of(fault.Malformed, "body-not-read", "The form could not be read; open the page again, and send it from there.")
	}
	if subtle.ConstantTimeCompare([]byte(form.Get("token")), []byte(c.session.FormToken())) != 1 {
		return elsewhere
	}
	for _, values := range form {
		for i, v := range values {
			if !utf8.ValidString(v) || strings.ContainsRune(v, 0) {
				return fault.Of(fault.Malformed, "body-not-read", "The form is not text in UTF-8, or holds the character U+0000.")
			}
			values[i] = strings.TrimSpace(strings.ReplaceAll(v, "\r\n", "\n"))
		}
	}
	c.form = form
	return nil
}

// ownOrigin lets requests pass that a browser sent from a page of this service.
func ownOrigin(publicURL string) (*http.CrossOriginProtection, error) {
	own := http.NewCrossOriginProtection()
	u, err := url.Parse(publicURL)
	if err != nil || u.Host == "" {
		return own, err
	}
	return own, own.AddTrustedOrigin(u.Scheme + "://" + u.Host)
}

// endSessions signs a person out of every browser.
func endSessions(s *Server, c *requestContext) (*answer, error) {
	if err := s.mustExist(c, record.KindPerson, c.id("personId")); err != nil {
		return nil, err
	}
	return &answer{status: http.StatusNoContent}, c.tenant().EndSessionsOf(c.ctx(), c.id("personId"))
}

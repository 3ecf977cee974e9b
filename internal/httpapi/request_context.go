package httpapi

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
	"meniscus/internal/wire"
)

// requestContext is one request at work.
type requestContext struct {
	server    *Server
	op        *operation
	echo      echo.Context
	requestID uuid.UUID
	principal *access.Principal  // nil on an operation that was called without a key
	open      bool               // without a key, for a record that is published
	session   access.Key         // of the person who signed in with a browser; zero if none
	form      url.Values         // that such a person sent, checked
	premises  *postgres.Premises // of what was taken from memory; nil if nothing was
	afresh    bool               // takes nothing from memory
	mediaType string             // of the answer, agreed with the caller
	bodyType  string             // the media type of the body
	raw       []byte             // the JSON body as it came, checked
	body      *body              // as it comes; nil when there is none
	query     map[string]any
	has       postgres.Position // what the standby has from which the request is read; 0 where it is not
	wrote     *atomic.Uint64    // the position of what the request writes; nil where nobody asks

	left  int           // requests until reset
	reset time.Duration // 0 when nothing is counted
	leave func()        // gives back what the request was admitted with
	sent  func()        // lets others send the cards of the import
}

// tenant is the store as the caller's institution may see it.
func (c *requestContext) tenant() postgres.Tenant { return c.server.store.For(c.principal.Institution) }

// author is who records by this request.
func (c *requestContext) author() recording.Author {
	return recording.Author{Store: c.tenant(), Principal: c.principal, RequestID: c.requestID,
		Materials: func(context.Context) (*material.Base, error) { return c.server.knowledge(c) }}
}

func (c *requestContext) ctx() context.Context { return c.echo.Request().Context() }

// prepare does what comes before the handler, and gives the first fault in this order:
// the key, the path and query, the answer's media type, the body.
func (c *requestContext) prepare() error {
	err := c.authenticate()
	if limited := c.limited(); limited != nil { // guessing keys is counted too
		return limited
	}
	if err != nil {
		return err
	}
	if err := c.admit(); err != nil {
		return err
	}
	if err := c.readQuery(); err != nil {
		return err
	}
	if err := c.negotiate(); err != nil {
		return err
	}
	if err := c.readBody(); err != nil {
		return err
	}
	if err := c.place(); err != nil {
		return err
	}
	if c.op.needsTag && c.echo.Request().Header.Get("If-Match") == "" {
		return fault.Of(fault.PreconditionMissing, "if-match-missing",
			"Send the record's ETag in If-Match, so that no change is lost; a GET of the record shows it.")
	}
	return nil
}

// positionHeader carries a position with a request and an answer.
const positionHeader = "Record-Position"

// place chooses the server of the database that a request is read from, and has one that may
// write tell how far the record is then. What a caller may do is asked of the first server.
func (c *requestContext) place() error {
	var after postgres.Position
	if text := c.echo.Request().Header.Get(positionHeader); text != "" {
		var err error
		if after, err = postgres.ParsePosition(text); err != nil {
			return err
		}
	}
	store := c.server.store
	if store == nil || !store.HasStandby() || c.principal == nil {
		return nil
	}
	ctx := c.ctx()
	switch {
	case c.op.method != http.MethodGet:
		ctx, c.wrote = postgres.Telling(ctx)
	case after == 0 && !c.op.standby, c.op.work.turn == "stream":
		return nil
	default:
		if hold, err := store.PremisesHold(ctx, c.premises); err != nil || !hold {
			return err
		}
		ctx, c.has = store.FromStandby(ctx, c.principal.Institution, after)
	}
	c.echo.SetRequest(c.echo.Request().WithContext(ctx))
	return nil
}

// sayPosition tells how far the record is that the caller wrote or read.
func (c *requestContext) sayPosition(a *answer) {
	if c.wrote != nil && c.wrote.Load() > 0 {
		c.has = postgres.Position(c.wrote.Load())
	}
	if c.has > 0 {
		a.setHeader(positionHeader, c.has.String())
	}
}

// authenticate finds the caller by the key, where the operation takes one.
func (c *requestContext) authenticate() error {
	header := c.echo.Request().Header.Get("Authorization")
	if c.op.keyless {
		return nil
	}
	if c.op.session && (!c.op.keyed || header == "" && c.forPeople()) {
		return c.bySession()
	}
	atOnce := len(c.echo.Request().Header.Values("Authorization"))
	if c.op.query["key"] != nil && c.echo.QueryParam("key") != "" {
		atOnce++
	}
	if atOnce > 1 {
		return fault.Of(fault.Malformed, "credentials-several", "Send one access key, or one access token, once.")
	}
	if c.op.query["key"] != nil && header == "" && c.echo.QueryParam("key") != "" {
		header = "Bearer " + c.echo.QueryParam("key") // of the calendar: its scope opens nothing else
	}
	if header == "" {
		if c.op.optional {
			return nil
		}
		open, err := c.openly()
		if err != nil || open != nil {
			c.principal, c.open = open, open != nil
			return err
		}
		return fault.Of(fault.Unauthenticated, "access-key-missing", "Send an access key: Authorization: Bearer meniscus_….")
	}
	unknown := fault.Of(fault.Unauthenticated, "access-key-unknown",
		"This access key is not known, or it was revoked, or it has expired.")
	scheme, text, _ := strings.Cut(header, " ")
	if !strings.EqualFold(scheme, "Bearer") {
		return unknown
	}
	text = strings.TrimSpace(text)
	key, err := access.ParseKey(text)
	if err != nil && c.server.tokens.Looks(text) {
		return c.byToken(text)
	}
	if err != nil {
		return unknown
	}
	if c.server.store == nil {
		return fault.Of(fault.Unavailable, "database-unavailable",
			"No database is attached, so that no key can be looked up.")
	}
	if c.recalled(key) {
		return nil
	}
	p, refused, err := c.server.store.Principal(c.ctx(), key)
	if err != nil {
		return err
	}
	if refused != nil {
		c.server.journal.Refused(key.Institution, *refused)
	}
	if p == nil {
		return unknown
	}
	c.principal = p
	return c.authorise()
}

// byToken finds the caller by an access token of OpenID Connect. Its rights are those of its roles; the
// person in whose name it records is taken from memory as a key is.
func (c *requestContext) byToken(text string) error {
	if c.server.store == nil {
		return fault.Of(fault.Unavailable, "database-unavailable",
			"No database is attached, so that no one can be looked up.")
	}
	of, err := c.server.tokens.Read(c.ctx(), text)
	if err != nil {
		return err
	}
	if len(of.Scopes) == 0 {
		return fault.Of(fault.Forbidden, "scope-missing", "This access token has no role that opens anything here.")
	}
	in := c.server.store.For(of.Institution)
	var person uuid.UUID
	if !c.afresh && !c.op.streamed {
		if person, c.premises = in.RecalledPerson(of.Subject); c.premises != nil {
			c.relyOn(c.premises)
		}
	}
	if person == uuid.Nil {
		if person, err = in.PersonOfToken(c.ctx(), of.Subject, of.Name); err != nil {
			return err
		}
	}
	c.principal = &access.Principal{Institution: of.Institution, Person: person, Scopes: of.Scopes}
	return c.authorise()
}

// recalled takes the caller from memory, on the premise that the key is as it was. A key that
// lacks a scope is asked for, and so is one that sends a body which can be read only once.
func (c *requestContext) recalled(key access.Key) bool {
	if c.afresh || c.op.streamed {
		return false
	}
	if c.principal, c.premises = c.server.store.Recalled(key); c.principal == nil {
		return false
	}
	if c.authorise() != nil {
		c.principal, c.premises = nil, nil
		return false
	}
	c.relyOn(c.premises)
	return true
}

// relyOn has what the request asks of the database rely on premises.
func (c *requestContext) relyOn(premises *postgres.Premises) {
	c.premises = premises
	r := c.echo.Request()
	c.echo.SetRequest(r.WithContext(postgres.Relying(r.Context(), premises)))
}

func (c *requestContext) authorise() error {
	for _, scope := range c.op.scopes {
		if !c.principal.May(scope) {
			return fault.Of(fault.Forbidden, "scope-missing", "This needs a key with the scope %q.", string(scope))
		}
	}
	if c.principal.May(access.Calendar) && !slices.Contains(c.op.scopes, access.Calendar) {
		return fault.Of(fault.Forbidden, "scope-missing", "This key opens the calendar of what is due, and nothing else.")
	}
	return nil
}

// text is a query parameter as text, or "" when it was not sent.
func (c *requestContext) text(name string) string {
	s, _ := c.query[name].(string)
	return s
}

// number is a whole-number query parameter, or its default.
func (c *requestContext) number(name string) int {
	if n, ok := c.query[name].(int64); ok {
		return int(n)
	}
	if p := c.op.query[name]; p != nil && p.Schema != nil {
		if d, ok := p.Schema.Value.Default.(float64); ok {
			return int(d)
		}
	}
	return 0
}

// id is a path variable that the contract says is a UUID.
func (c *requestContext) id(name string) uuid.UUID { return uuid.MustParse(c.echo.Param(name)) }

// negotiate agrees the media type of the answer (RFC 9110, section 12.5.1).
func (c *requestContext) negotiate() error {
	if len(c.op.gives) == 0 {
		return nil
	}
	c.mediaType = preferred(c.echo.Request().Header.Values("Accept"), c.op.gives)
	if c.mediaType == "" {
		return fault.Of(fault.NotAcceptable, "media-type-not-given",
			"This operation gives: %s.", strings.Join(c.op.gives, ", "))
	}
	return nil
}

// limitBody sets the read deadline of the body. It ends with the body: after that
// net/http reads on without a deadline, to notice callers that leave.
func (c *requestContext) limitBody() {
	if c.echo.Request().Body == http.NoBody {
		return
	}
	// The request that net/http has keeps its own body, which it knows how to close.
	copied := *c.echo.Request()
	c.body = &body{ReadCloser: copied.Body}
	copied.Body = c.body
	c.echo.SetRequest(&copied)
	readUntil(c.echo, time.Now().Add(c.server.within))
}

// leaveBody stops the wait for a body that the handler did not read to its end: net/http
// would read on before it sends the answer. What has not come by now is not read, and the
// connection is closed after the answer.
func (c *requestContext) leaveBody() {
	if c.body != nil && !c.body.ended {
		readUntil(c.echo, time.Now())
	}
}

// readUntil sets the read deadline of a request.
func readUntil(ec echo.Context, end time.Time) {
	_ = http.NewResponseController(ec.Response()).SetReadDeadline(end) // an error means that the writer has no deadlines
}

// body is a request's body that knows whether it was read to its end.
type body struct {
	io.ReadCloser
	ended bool
}

func (b *body) Read(p []byte) (int, error) {
	n, err := b.ReadCloser.Read(p)
	b.ended = b.ended || errors.Is(err, io.EOF)
	return n, err
}

// readBody reads and checks a JSON body. Bodies of other media types are left
// to the handler, which streams them.
func (c *requestContext) readBody() error {
	if len(c.op.takes) == 0 {
		return nil
	}
	request := c.echo.Request()
	mediaType := baseType(request.Header.Get("Content-Type"))
	if !slices.Contains(c.op.takes, mediaType) {
		return fault.Of(fault.Unsupported, "media-type-not-taken", "Send Content-Type: %s.", strings.Join(c.op.takes, " or "))
	}
	c.bodyType = mediaType
	if mediaType == formType {
		return c.readForm()
	}
	schema := c.op.bodies[mediaType]
	if schema == nil {
		return nil
	}
	var buffer bytes.Buffer
	if _, err := buffer.ReadFrom(http.MaxBytesReader(c.echo.Response(), request.Body, c.server.maxBody)); err != nil {
		return readFault(err, c.server.maxBody)
	}
	c.raw = buffer.Bytes()
	return wire.Check(c.ctx(), schema, c.raw)
}

// decode reads the checked body into a wire type of the contract.
func decode[T any](c *requestContext) (T, error) {
	var v T
	return v, wire.Decode(c.raw, &v)
}

// decodeInMonths is decode of a request that says statements in its own members, with their
// seasons as the months that the institution means.
func decodeInMonths[T any](c *requestContext) (T, error) {
	words, err := c.author().InMonths(c.ctx(), c.raw)
	var v T
	if err == nil {
		err = wire.Decode(words, &v)
	}
	return v, err
}

func readFault(err error, limit int64) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return fault.Of(fault.TooLarge, "body-too-large",
			"The body may be %d bytes at most; send less at a time, or use an import.", limit)
	}
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return fault.Of(fault.Malformed, "body-too-slow",
			"The body took too long to come; send less at a time, or use an import.")
	}
	return fault.Of(fault.Malformed, "body-not-read", "The body broke off before its end.")
}

// finish brings a success into the form that the caller asked for: in part,
// without its body, only if it has changed, compressed.
func (c *requestContext) finish(a *answer) error {
	if a.mediaType == "" {
		a.mediaType = c.mediaType
	}
	if a.status == 0 {
		a.status = http.StatusOK
	}
	if len(c.op.gives) > 1 {
		a.vary("Accept")
	}
	if c.open {
		a.setHeader("Access-Control-Allow-Origin", "*")
	}
	c.sayPosition(a)
	c.prefer(a)
	if err := c.partial(a); err != nil {
		return err
	}
	c.validate(a)
	return c.compress(a)
}

// validate gives every readable answer its validator and honours If-None-Match.
func (c *requestContext) validate(a *answer) {
	if c.op.method != http.MethodGet || a.stream != nil || a.status != http.StatusOK || a.noStore {
		return
	}
	if a.etag == "" {
		a.etag = contentTag(a.body)
	}
	if tagMatches(c.echo.Request().Header.Values("If-None-Match"), a.etag) {
		a.status, a.body = http.StatusNotModified, nil
	}
}

package httpapi

import (
	"context"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/postgres"
)

// note puts what a key or a token did into the journal; status is that of its answer, 0 if its
// caller had gone.
func (s *Server) note(c *requestContext, a *answer, status int) {
	if c.principal == nil || c.open || a.status == http.StatusUnauthorized {
		return
	}
	of := c.principal
	if of.Key != uuid.Nil {
		s.journal.Used(of.Institution, of.Key)
	}
	switch {
	case a.status == http.StatusForbidden:
		s.journal.Refused(of.Institution, access.Access{What: access.RefusedScope, Times: 1, Key: of.Key, Person: of.Person})
	case a.status == http.StatusTooManyRequests, a.status == http.StatusServiceUnavailable, c.op.optional:
		// nothing was looked at, or nothing of the institution's
	case c.op.changes() && strings.HasPrefix(c.op.path, "/v1/access-keys") && a.status < http.StatusMultipleChoices:
		// on record with what was done
	default:
		did := access.Access{ID: c.requestID, What: access.DidRead, Times: 1, Key: of.Key, Person: of.Person,
			Operation: c.op.id, Status: status}
		if c.op.changes() {
			did.What = access.DidChange
		}
		did.Sort, did.Record = c.recordOf(a)
		s.journal.Did(of.Institution, did)
	}
}

// changes tells an operation that changes something: it takes more than the right to read, or that which
// the record's kind asks for.
func (op *operation) changes() bool {
	return op.method != http.MethodGet && (len(op.scopes) == 0 || slices.ContainsFunc(op.scopes, func(scope access.Scope) bool {
		return scope != access.Read && scope != access.Report
	}))
}

// recordOf is the record that a request is about, with its sort: the first that the address names, or
// the one that was made.
func (c *requestContext) recordOf(a *answer) (sort string, id uuid.UUID) {
	address := c.echo.Request().URL.Path
	if len(c.op.pathVars) == 0 {
		address = a.header.Get("Location")
	}
	steps := strings.Split(address, "/")
	for i, step := range steps {
		if id, err := uuid.Parse(step); err == nil && len(step) == 36 && i > 0 {
			return steps[i-1], id
		}
	}
	return "", uuid.Nil
}

const (
	// journalEvery is how long accesses wait at most before they are put on record.
	journalEvery = 2 * time.Second
	// journalLimit is how long the last ones may take when the service ends.
	journalLimit = 5 * time.Second
)

// KeepJournal puts accesses on record until the context ends, and then what is left.
func (s *Server) KeepJournal(ctx context.Context) {
	tick := time.NewTicker(journalEvery)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			s.WriteJournal(ctx, false)
		case <-ctx.Done():
			last, cancel := context.WithTimeout(context.WithoutCancel(ctx), journalLimit)
			defer cancel()
			s.WriteJournal(last, true)
			return
		}
	}
}

// WriteJournal puts on record what the journal has now, and in the end (last) all of it. What
// cannot be written is kept for the next time.
func (s *Server) WriteJournal(ctx context.Context, last bool) {
	var failed error
	for _, page := range s.journal.Take(last) {
		if failed == nil {
			failed = s.store.For(page.Institution).WriteAccesses(ctx, page)
		}
		if failed != nil { // the others would fail in the same way
			s.journal.GiveBack(page)
			continue
		}
		s.meters.notKept(ctx, page)
	}
	if failed != nil {
		s.log.Error("accesses were not put on record; they are kept for the next time", slog.Any("error", failed))
	}
}

// listAccesses pages through the access log, newest first.
func listAccesses(s *Server, c *requestContext) (*answer, error) {
	filter, err := c.accessesAsked()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	found, err := c.tenant().Accesses(c.ctx(), filter, limit+1)
	if err != nil {
		return nil, err
	}
	list := api.AccessList{Items: make([]api.Access, 0, len(found))}
	for _, a := range found[:min(limit, len(found))] {
		list.Items = append(list.Items, api.Access{Id: a.ID, What: api.AccessWhat(a.What), At: a.At(), Times: int32(a.Times),
			Key:    api.RefIf(given(a.Key)),
			Person: api.RefIf(given(a.Person)), Record: api.RefIf(given(a.Record)), Sort: given(a.Sort),
			Operation: given(a.Operation), Status: given(int32(a.Status))})
	}
	if len(found) <= limit {
		return ok(list)
	}
	n := c.next(idCursor(found[limit-1].ID))
	list.Next = &api.Next{Cursor: n.cursor, Href: n.href}
	a, err := ok(list)
	if err == nil {
		a.setHeader("Link", "<"+n.href+`>; rel="next"`)
	}
	return a, err
}

func (c *requestContext) accessesAsked() (f postgres.AccessFilter, err error) {
	if f.Since, err = c.instant("since"); err != nil {
		return f, err
	}
	if f.Before, err = c.instant("before"); err != nil {
		return f, err
	}
	for name, into := range map[string]**uuid.UUID{"record": &f.Record, "person": &f.Person} {
		if text := c.text(name); text != "" {
			id := uuid.MustParse(text) // checked by the contract
			*into = &id
		}
	}
	f.After, err = c.cursor()
	return f, err
}

// given is a value that there is, or nil.
func given[T comparable](v T) *T {
	var none T
	if v == none {
		return nil
	}
	return &v
}

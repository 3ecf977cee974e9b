package httpapi

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/postgres"
)

// note puts what a key did into the journal.
func (s *Server) note(c *requestContext, a *answer) {
	if c.principal == nil || c.open || a.status == http.StatusUnauthorized {
		return
	}
	if a.status == http.StatusForbidden {
		s.journal.Refused(c.principal.Institution,
			access.Access{What: access.RefusedScope, Times: 1, Key: c.principal.Key, Person: c.principal.Person})
	}
	if c.principal.Key != uuid.Nil {
		s.journal.Used(c.principal.Institution, c.principal.Key)
	}
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
	for _, page := range s.journal.Take(last) {
		if err := s.store.For(page.Institution).WriteAccesses(ctx, page); err != nil {
			s.journal.GiveBack(page)
			s.log.Error("accesses were not put on record", slog.String("institution", page.Institution.String()),
				slog.Any("error", err))
		}
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
			Person: api.RefIf(given(a.Person)), Record: api.RefIf(given(a.Record))})
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

func given(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

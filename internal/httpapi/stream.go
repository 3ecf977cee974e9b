package httpapi

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	"meniscus/internal/postgres"
	"meniscus/internal/wire"
)

const eventStream = "text/event-stream"

// streamPage is how many entries a stream reads at a time; between pages it
// holds no connection to the database, however slowly its reader reads.
const streamPage = 100

// readLimit is how long the database may take to give a page.
const readLimit = 10 * time.Second

// streamChanges sends the entries after a cursor as Server-Sent Events, and
// those that follow as they get their sequence numbers.
//
// The stream ends when the reader goes, when the service shuts down, when the
// key is revoked, when a write takes too long, or when the cursor no longer
// stands (after an event `reset`). The reader comes back with Last-Event-ID.
func streamChanges(s *Server, c *requestContext) (*answer, error) {
	text := c.text("cursor")
	if last := c.echo.Request().Header.Get("Last-Event-ID"); last != "" {
		text = last
	}
	of := c.principal
	ended, err := s.watch.join(of.Institution, of.Key)
	if err != nil {
		return nil, err
	}
	st := &stream{
		server: s, call: c, after: readFeedCursor(text), ended: ended,
		out: http.NewResponseController(c.echo.Response()),
	}
	a := &answer{
		mediaType: eventStream, noStore: true, stream: st.run,
		after: func() { s.watch.leave(of.Institution, of.Key) },
	}
	a.setHeader("X-Accel-Buffering", "no") // a proxy that keeps events back would defeat them
	return a, nil
}

// stream is one open stream.
type stream struct {
	server *Server
	call   *requestContext
	after  postgres.Cursor
	ended  <-chan struct{} // closed when the key is no longer valid
	out    *http.ResponseController
	w      io.Writer
}

// run sends until there is a reason to end. A failure ends it too: the reader comes back,
// and its cursor is checked again.
func (st *stream) run(w io.Writer) error {
	st.w = w
	_ = st.out.SetReadDeadline(time.Time{})    // the server's limits are for requests that end
	defer st.out.SetWriteDeadline(time.Time{}) // the connection may be used again
	alive := time.NewTicker(st.server.streams.KeepAlive)
	defer alive.Stop()
	if st.send("retry: 2000\n\n") != nil {
		return nil
	}
	for {
		grown := st.server.watch.grown(st.call.principal.Institution) // before reading, so that no growth is missed
		more, err := st.page()
		if err != nil {
			return nil
		}
		if more {
			grown = closedChannel
		}
		select {
		case <-st.server.drained:
			return nil
		case <-st.call.ctx().Done():
			return nil
		case <-st.ended:
			return nil
		case <-alive.C:
			if st.call.authenticate() != nil || st.send(": still here\n\n") != nil {
				return nil
			}
		case <-grown:
		}
	}
}

// closedChannel is always ready, so that a select does not wait.
var closedChannel = func() chan struct{} {
	c := make(chan struct{})
	close(c)
	return c
}()

// page sends the next entries, and tells whether there may be more of them.
func (st *stream) page() (more bool, err error) {
	ctx, cancel := context.WithTimeout(st.call.ctx(), readLimit)
	defer cancel()
	var rows []postgres.Row
	var stands bool
	err = st.call.inTurn(ctx, func() (err error) { // so that a thousand streams do not all read at once
		rows, more, stands, err = st.call.tenant().Streamed(ctx, st.after, streamPage)
		return err
	})
	if err != nil {
		return false, err
	}
	if !stands {
		_ = st.send("event: reset\ndata: " + string(wire.Quoted(feedReset.Detail)) + "\n\n") // it ends either way
		return false, feedReset
	}
	for _, row := range rows {
		next := postgres.Cursor{Sequence: *row.Sequence, Entry: row.EntryID}
		if err := st.send(fmt.Sprintf("id: %s\nevent: change\ndata: %s\n\n", feedCursor(next), ChangeJSON(row))); err != nil {
			return false, err
		}
		st.after = next
	}
	return more, nil
}

// send writes one event and flushes it, within the write limit.
func (st *stream) send(event string) error {
	if err := st.out.SetWriteDeadline(time.Now().Add(st.server.streams.WriteLimit)); err != nil {
		return fmt.Errorf("setting the write limit: %w", err)
	}
	if _, err := io.WriteString(st.w, event); err != nil {
		return err
	}
	return st.out.Flush()
}

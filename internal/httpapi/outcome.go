package httpapi

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"time"

	"github.com/google/uuid"
	"go.opentelemetry.io/otel/trace"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/recording"
)

// panicked is a panic as an error, with where it was.
type panicked struct {
	value any
	stack []byte
}

func (p *panicked) Error() string { return fmt.Sprintf("panic: %v", p.value) }

// recovered turns a panic into an error; it has to be deferred.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = &panicked{p, debug.Stack()}
	}
}

// send writes the answer; an error breaks it off.
func (c *requestContext) send(a *answer) (err error) {
	defer recovered(&err)
	return a.write(c.echo)
}

// clientGone tells whether the work failed because its caller left: the request's context
// has ended, or one made from it was cancelled.
func (c *requestContext) clientGone(err error) bool {
	var p *panicked
	calledOff := c.ctx().Err() != nil || errors.Is(err, context.Canceled)
	return err != nil && calledOff && fault.From(err) == nil && !errors.As(err, &p)
}

// logRequest writes a request's line of log and gives the status that was sent. A caller
// that left is not a failure of the service, and has no status (0), since no answer was
// sent.
func (s *Server) logRequest(c *requestContext, a *answer, err, broken error, took time.Duration) (status int) {
	attrs := []any{
		slog.String("request", c.requestID.String()),
		slog.String("operation", c.op.id),
		slog.String("method", c.echo.Request().Method),
		slog.String("address", s.addressOf(c.echo.Request())),
		slog.Duration("took", took),
	}
	if c.principal != nil {
		attrs = append(attrs, slog.String("institution", c.principal.Institution.String()))
		if c.principal.Key != uuid.Nil {
			attrs = append(attrs, slog.String("key", c.principal.Key.String()),
				slog.String("prefix", access.Key{Institution: c.principal.Institution, ID: c.principal.Key}.Prefix()))
		} else if !c.open {
			attrs = append(attrs, slog.String("person", c.principal.Person.String()))
		}
	}
	if span := trace.SpanContextFromContext(c.ctx()); span.IsSampled() {
		attrs = append(attrs, slog.String("trace", span.TraceID().String()))
	}
	failure := errors.Join(err, broken)
	if c.clientGone(failure) {
		s.log.Info("request", append(attrs, slog.String("outcome", "client gone"))...)
		return 0
	}
	attrs = append(attrs, slog.Int("status", a.status))
	if a.status < http.StatusInternalServerError && broken == nil {
		s.log.Info("request", attrs...)
		return a.status
	}
	attrs = append(attrs, slog.Any("error", failure))
	var p *panicked
	if errors.As(failure, &p) {
		attrs = append(attrs, slog.String("stack", string(p.stack)))
	}
	s.log.Error("request failed", attrs...)
	return a.status
}

// logUnread tells the log which records have words that cannot be read.
func (s *Server) logUnread(unread ...recording.Unread) {
	for _, u := range unread {
		s.log.Error("the words of a record cannot be read", slog.String("kind", string(u.Kind)),
			slog.String("record", u.Record.String()), slog.Any("error", u.Err))
	}
}

package httpapi

import (
	"net/http"
	"time"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
)

// How many entries, and bytes of their words, go to the database at once.
const (
	restoredTogether      = 500
	restoredTogetherBytes = 2 << 20
)

// restoreRecords makes an empty institution's record from an export, all of it
// or nothing.
func restoreRecords(s *Server, c *call) (*answer, error) {
	r := &restoring{server: s, call: c, in: newLineReader(c.echo.Request().Body)}
	err := c.tenant().Restore(c.ctx(), func(into *postgres.Restoration) error {
		r.into = into
		return r.run()
	})
	if err != nil {
		return nil, err
	}
	return with(http.StatusCreated, api.Restoration{Entries: r.place, RuleSeverities: r.severities, Sha256: r.proven})
}

// restoring is the work of restoreRecords.
type restoring struct {
	server     *Server
	call       *call
	into       *postgres.Restoration
	in         *lineReader
	place      int64     // the place of the last entry
	sealed     time.Time // when it was given
	severities int64
	chunk      []postgres.Restored // the entries of the last lines, not yet restored
	size       int                 // the bytes of their words
	proven     string              // the digest, when the last line has confirmed it
}

// run reads line by line until the last one.
func (r *restoring) run() error {
	for r.proven == "" {
		line, err := r.in.next()
		if err == nil {
			err = r.take(line)
		}
		if err != nil {
			return located(r.in.line, err)
		}
	}
	return nil
}

func (r *restoring) take(line exportLine) error {
	switch {
	case line.End != nil:
		if err := r.flush(); err != nil {
			return err
		}
		if err := r.in.end(*line.End, r.place, r.severities); err != nil {
			return err
		}
		r.proven = line.End.SHA256
		return nil
	case line.RuleSeverity != nil:
		return r.severity(*line.RuleSeverity)
	case r.severities > 0:
		return fault.New("line-out-of-order", "", "An entry follows the institution's own severities.")
	}
	return r.entry(line)
}

func (r *restoring) entry(line exportLine) error {
	if line.Place != r.place+1 {
		return fault.New("place-missing", "", "It has the place %d where %d comes next: lines are missing or out of order.", line.Place, r.place+1)
	}
	if line.SealedAt.Before(r.sealed) || line.SealedAt.After(r.server.now().Add(time.Minute)) {
		return fault.New("time-impossible", "", "It got its place before the one before it, or in the future.")
	}
	e, err := entryOf(line)
	if err != nil {
		return err
	}
	project, err := recording.Replayed(e)
	if err != nil {
		return fault.New("statement-unreadable", "", "The statement cannot be read as one of a %s.", string(e.Kind))
	}
	r.place, r.sealed = line.Place, line.SealedAt
	r.chunk = append(r.chunk, postgres.Restored{Exported: e, Project: project})
	r.size += len(line.Body) + len(line.Remains)
	if len(r.chunk) == restoredTogether || r.size >= restoredTogetherBytes {
		return r.flush()
	}
	return nil
}

// flush restores the entries that wait.
func (r *restoring) flush() error {
	r.call.patience()
	first := r.place - int64(len(r.chunk)) + 1 // an entry's place is its line
	var at int
	err := r.call.inTurn(r.call.ctx(), func() (err error) {
		at, err = r.into.Put(r.call.ctx(), r.chunk)
		return err
	})
	clear(r.chunk)
	r.chunk, r.size = r.chunk[:0], 0
	if err != nil {
		return located(first+int64(at), err)
	}
	return nil
}

func (r *restoring) severity(line severityLine) error {
	if err := r.flush(); err != nil {
		return err
	}
	r.severities++
	return r.into.Choose(r.call.ctx(), postgres.ChosenSeverity{ID: line.ID,
		RuleTuning: postgres.RuleTuning{Rule: line.Rule, Severity: line.Severity, Reason: line.Reason, By: line.ChosenBy, At: line.ChosenAt}})
}

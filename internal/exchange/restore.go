package exchange

import (
	"context"
	"encoding/json"
	"io"
	"slices"
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

// Restored is how much was restored from an export, and the digest that its last line
// confirms.
type Restored struct {
	Entries, Severities, Bodies int64
	SHA256                      string
}

// Restore restores an export into an empty institution, all of it or nothing. Times
// more than a minute after now are refused.
func Restore(
	ctx context.Context, store postgres.Tenant, in io.Reader, now func() time.Time, pace Pace,
) (Restored, error) {
	r := &restoring{now: now, pace: pace, in: newLineReader(in)}
	err := store.Restore(ctx, func(into *postgres.Restoration) error {
		r.into = into
		return r.run(ctx)
	})
	return Restored{Entries: r.sequence, Severities: r.severities, Bodies: r.bodies, SHA256: r.proven}, err
}

// restoring is the work of Restore.
type restoring struct {
	now        func() time.Time
	pace       Pace
	into       *postgres.Restoration
	in         *lineReader
	sequence   int64     // the sequence number of the last entry
	sealed     time.Time // when that number was given
	severities int64
	bodies     int64
	chunk      []postgres.Restored // the entries of the last lines, not yet restored
	size       int                 // the bytes of their words
	proven     string              // the digest, when the last line has confirmed it
}

// run reads line by line until the last one.
func (r *restoring) run(ctx context.Context) error {
	for r.proven == "" {
		line, err := r.in.next()
		if err == nil {
			err = r.take(ctx, line)
		}
		if err != nil {
			return located(r.in.line, err)
		}
	}
	return nil
}

func (r *restoring) take(ctx context.Context, line exportLine) error {
	switch {
	case line.End != nil:
		if err := r.flush(ctx); err != nil {
			return err
		}
		if err := r.in.end(*line.End, r.sequence, r.severities, r.bodies); err != nil {
			return err
		}
		r.proven = line.End.SHA256
		return nil
	case line.Collection != nil:
		return r.body(ctx, *line.Collection)
	case r.bodies > 0:
		return fault.New("line-out-of-order", "", "Something follows the bodies of collections that belongs before them.")
	case line.RuleSeverity != nil:
		return r.severity(ctx, *line.RuleSeverity)
	case r.severities > 0:
		return fault.New("line-out-of-order", "", "An entry follows the institution's own severities.")
	}
	return r.entry(ctx, line)
}

func (r *restoring) entry(ctx context.Context, line exportLine) error {
	if line.Sequence != r.sequence+1 {
		return fault.New("sequence-missing", "",
			"It has the sequence number %d where %d comes next: lines are missing or out of order.", line.Sequence, r.sequence+1)
	}
	if line.SealedAt.Before(r.sealed) || line.SealedAt.After(r.now().Add(time.Minute)) {
		return fault.New("time-impossible", "", "It got its sequence number before the one before it, or in the future.")
	}
	e, err := entryOf(line)
	if err != nil {
		return err
	}
	project, err := recording.Replayed(e)
	if err != nil {
		return fault.New("statement-unreadable", "", "The statement cannot be read as one of a %s.", string(e.Kind))
	}
	r.sequence, r.sealed = line.Sequence, line.SealedAt
	r.chunk = append(r.chunk, postgres.Restored{Exported: e, Project: project})
	r.size += len(line.Body) + len(line.Remains)
	if len(r.chunk) == restoredTogether || r.size >= restoredTogetherBytes {
		return r.flush(ctx)
	}
	return nil
}

// flush restores the entries of the chunk.
func (r *restoring) flush(ctx context.Context) error {
	r.pace.Patience()
	first := r.sequence - int64(len(r.chunk)) + 1 // an entry's sequence number is its line
	var at int
	err := r.pace.Turn(ctx, func() (err error) {
		at, err = r.into.Put(ctx, r.chunk)
		return err
	})
	clear(r.chunk)
	r.chunk, r.size = r.chunk[:0], 0
	if err != nil {
		return located(first+int64(at), err)
	}
	return nil
}

func (r *restoring) severity(ctx context.Context, line severityLine) error {
	if err := r.flush(ctx); err != nil {
		return err
	}
	r.severities++
	return r.into.Choose(ctx, postgres.ChosenSeverity{ID: line.ID, RuleTuning: postgres.RuleTuning{
		Rule: line.Rule, Severity: line.Severity, Reason: line.Reason, By: line.ChosenBy, At: line.ChosenAt}})
}

func (r *restoring) body(ctx context.Context, line bodyLine) error {
	if err := r.flush(ctx); err != nil {
		return err
	}
	var traits []api.BodyTrait
	err := json.Unmarshal(line.BodyTraits, &traits)
	if err != nil || slices.ContainsFunc(traits, func(t api.BodyTrait) bool {
		return !t.Trait.Valid() || !t.Answer.Valid()
	}) {
		return fault.New("collection-body-unreadable", "", "It does not say traits of a body as the contract lists them.")
	}
	r.bodies++
	return r.into.ChooseBody(ctx, postgres.ChosenBody{ID: line.ID, CollectionBody: postgres.CollectionBody{
		Collection: line.Collection, Traits: string(line.BodyTraits), By: line.ChosenBy, At: line.ChosenAt}})
}

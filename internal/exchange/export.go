package exchange

import (
	"context"
	"fmt"
	"io"

	"github.com/google/uuid"

	"meniscus/internal/postgres"
)

// exportPage is how many entries of an export are in memory at once at most; fewer if
// they are large (postgres.Export).
const exportPage = 100

// Export is everything that an institution recorded up to the sequence number that was the
// last one when it began.
type Export struct {
	store postgres.Tenant
	pace  Pace
	upto  int64
}

// NewExport begins an export.
func NewExport(ctx context.Context, store postgres.Tenant, pace Pace) (*Export, error) {
	upto, err := store.LastSequence(ctx)
	return &Export{store, pace, upto}, err
}

// Lines writes every entry, then the institution's own severities, then the bodies of its
// collections, then a last line that proves that nothing is missing or altered.
func (e *Export) Lines(ctx context.Context, w io.Writer) error {
	out := newLineWriter(w)
	err := e.each(ctx, e.store.Export, out.entry)
	if err == nil {
		err = e.severities(ctx, out)
	}
	if err == nil {
		err = e.bodies(ctx, out)
	}
	if err == nil {
		err = out.end()
	}
	return err
}

// pages gives entries after a sequence number, up to another, and whether there may be more.
type pages func(ctx context.Context, after, upto int64, limit int) ([]postgres.Exported, bool, error)

// each calls do for every entry.
func (e *Export) each(ctx context.Context, read pages, do func(postgres.Exported) error) error {
	return e.eachPage(ctx, read, func(page []postgres.Exported) error {
		for _, x := range page {
			if err := do(x); err != nil {
				return err
			}
		}
		return nil
	})
}

// eachPage calls do for every page of entries.
func (e *Export) eachPage(ctx context.Context, read pages, do func([]postgres.Exported) error) error {
	for after := int64(0); ; {
		e.pace.Patience()
		var page []postgres.Exported
		var more bool
		err := e.pace.Turn(ctx, func() (err error) {
			page, more, err = read(ctx, after, e.upto, exportPage)
			return err
		})
		if err != nil {
			return fmt.Errorf("reading entries to export: %w", err)
		}
		if len(page) > 0 {
			after = *page[len(page)-1].Sequence
			err = do(page)
		}
		if err != nil || !more {
			return err
		}
	}
}

func (e *Export) severities(ctx context.Context, out *lineWriter) error {
	for after := uuid.Nil; ; {
		page, err := e.store.ChosenSeverities(ctx, after, exportPage)
		if err != nil {
			return fmt.Errorf("reading severities to export: %w", err)
		}
		for _, s := range page {
			if err := out.severity(s); err != nil {
				return err
			}
			after = s.ID
		}
		if len(page) < exportPage {
			return nil
		}
	}
}

func (e *Export) bodies(ctx context.Context, out *lineWriter) error {
	for after := uuid.Nil; ; {
		page, err := e.store.ChosenBodies(ctx, after, exportPage)
		if err != nil {
			return fmt.Errorf("reading the bodies of collections to export: %w", err)
		}
		for _, c := range page {
			if err := out.body(c); err != nil {
				return err
			}
			after = c.ID
		}
		if len(page) < exportPage {
			return nil
		}
	}
}

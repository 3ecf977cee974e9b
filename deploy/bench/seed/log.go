package seed

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/ledger"
)

// logged reads all entries: the log's tree over them, when the last was sealed, and those of the year.
func (m Museum) logged(ctx context.Context, conn *pgx.Conn) (*ledger.Tree, time.Time, []template, error) {
	kept, err := keptIDs(ctx, conn)
	if err != nil {
		return nil, time.Time{}, nil, err
	}
	rows, err := conn.Query(ctx, `
		select p.seq, p.sealed_at, e.id, e.kind, e.record_id, e.revision, e.act, e.request_id, e.recorded_at, e.recorded_by,
		       e.digest, e.nonce, e.body
		  from sequenced p join entry e on e.institution_id = p.institution_id and e.id = p.entry_id
		 where p.institution_id = $1 and e.source_id is null order by p.seq`, m.Institution)
	if err != nil {
		return nil, time.Time{}, nil, err
	}
	var (
		tree   ledger.Tree
		sealed time.Time
		year   []template
		l      ledger.Leaf
		nonce  []byte
		body   string
	)
	_, err = pgx.ForEachRow(rows, []any{&l.Sequence, &l.SealedAt, &l.Entry, &l.Kind, &l.Record, &l.Revision, &l.Act, &l.Request,
		&l.RecordedAt, &l.RecordedBy, &l.Digest, &nonce, &body}, func() error {
		if _, err := tree.Add(l.Hash()); err != nil {
			return err
		}
		sealed = l.SealedAt
		if strings.ContainsAny(body, "\\\t\n") {
			return errors.New("a copied body must have nothing that COPY escapes")
		}
		if l.Kind == "person" {
			return nil
		}
		of := func(id uuid.UUID) line { return cut(id.String(), kept) }
		year = append(year, template{leaf: l, id: of(l.Entry), record: of(l.Record), request: of(l.Request), nonce: append([]byte{}, nonce...),
			body: cut(body, kept), recordedAt: l.RecordedAt.UTC().Format(time.RFC3339Nano), recordedBy: l.RecordedBy.String()})
		return nil
	})
	if err == nil && tree.Size() != l.Sequence {
		err = fmt.Errorf("%d entries have the sequence numbers up to %d", tree.Size(), l.Sequence)
	}
	return &tree, sealed, year, err
}

// bufferedPipe is the writing end of a pipe, with a buffer before it.
type bufferedPipe struct {
	*bufio.Writer
	pipe *io.PipeWriter
}

func buffered(pipe *io.PipeWriter) bufferedPipe {
	return bufferedPipe{bufio.NewWriterSize(pipe, 1<<20), pipe}
}

// Close ends the lines.
func (b bufferedPipe) Close() error { return errors.Join(b.Flush(), b.pipe.Close()) }

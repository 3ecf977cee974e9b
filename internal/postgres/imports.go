package postgres

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
)

// Import is an import of cards as it stands.
type Import struct {
	ID         uuid.UUID  `db:"id"`
	Name       string     `db:"name"`
	DryRun     bool       `db:"dry_run"`
	Format     string     `db:"format"`
	Mapping    string     `db:"mapping"`
	State      string     `db:"state"`
	CreatedAt  time.Time  `db:"created_at"`
	FinishedAt *time.Time `db:"finished_at"`
	Digest     []byte     `db:"digest"`
	ImportProgress
}

// ImportProgress is how far an import is and what became of the lines.
type ImportProgress struct {
	Position int64 `db:"position"` // the last line of the file that is done
	Read     int64 `db:"lines_read"`
	Taken    int64 `db:"taken"`
	Replayed int64 `db:"replayed"`
	Doubtful int64 `db:"doubtful"`
	Refused  int64 `db:"refused"`
}

// ImportLine is a line that a person must look at. Reasons and Doubts are JSON.
type ImportLine struct {
	Line      int64      `db:"line"`
	Outcome   string     `db:"outcome"`
	Raw       string     `db:"raw"`
	Reasons   string     `db:"reasons"`
	Doubts    string     `db:"doubts"`
	Treatment *uuid.UUID `db:"treatment_id"`
}

// ImportStep is what a chunk of lines adds: where the import stands after it, the
// digest of the file up to there, and the lines to look at.
type ImportStep struct {
	Import   uuid.UUID
	Progress ImportProgress
	Digest   []byte
	Lines    []ImportLine
	State    string
	Lease    time.Duration // how long no other request may continue; none if zero
}

// An import whose lease expired counts as stopped.
const importColumns = `id, name, dry_run, format, mapping, created_at, finished_at, digest, position, lines_read,
	taken, replayed, doubtful, refused,
	case when state = 'running' and leased_until < now() then 'stopped' else state end as state`

// CreateImport keeps an import that waits for its cards. A request key that was
// used before gives the import that it made.
func (s Tenant) CreateImport(ctx context.Context, w Write, i Import) (made Import, replayed bool, err error) {
	b := newBatch(s.institution)
	b.Queue(`insert into request_key (institution_id, key_sha256, fingerprint, request_id) values ($1, $2, $3, $4)`,
		s.institution, w.Key.Digest[:], w.Key.Fingerprint[:], w.RequestID)
	var rows []Import
	queue(b, &rows, `
		insert into import (institution_id, id, request_id, created_by, name, dry_run, format, mapping)
		values ($1, $2, $3, $4, $5, $6, $7, $8) returning `+importColumns,
		s.institution, i.ID, w.RequestID, w.Person, i.Name, i.DryRun, i.Format, i.Mapping)
	err = s.run(ctx, b)
	if sameAtWork(err) {
		return Import{}, false, fault.Of(fault.Busy, "request-at-work",
			"The same request is being worked on; send it again in a moment.")
	}
	if _, again := violated(err, uniqueViolation); again {
		requestID, err := s.requestOf(ctx, *w.Key)
		if err != nil {
			return Import{}, false, err
		}
		made, err := oneImport(collect[Import](ctx, s,
			`select `+importColumns+` from import where institution_id = $1 and request_id = $2`, s.institution, requestID))
		return made, true, err
	}
	return oneImportOf(rows, err)
}

func oneImportOf(rows []Import, err error) (Import, bool, error) {
	i, err := oneImport(rows, err)
	return i, false, err
}

func oneImport(rows []Import, err error) (Import, error) {
	if err != nil {
		return Import{}, err
	}
	if len(rows) == 0 {
		return Import{}, fault.Of(fault.NotFound, "import-unknown", "There is no such import in this institution.")
	}
	return rows[0], nil
}

// Import gives an import as it stands.
func (s Tenant) Import(ctx context.Context, id uuid.UUID) (Import, error) {
	return oneImport(collect[Import](ctx, s,
		`select `+importColumns+` from import where institution_id = $1 and id = $2`, s.institution, id))
}

// Imports gives imports in the order of their ids, after an id, without their mappings.
func (s Tenant) Imports(ctx context.Context, after uuid.UUID, limit int) ([]Import, error) {
	return collect[Import](ctx, s,
		`select `+strings.Replace(importColumns, "mapping", "'' as mapping", 1)+` from import where institution_id = $1 and id > $2 order by id limit $3`, s.institution,
		after, limit)
}

// LeaseImport takes an import to work on. No other request can take it until the lease
// expires or is given back.
func (s Tenant) LeaseImport(ctx context.Context, id uuid.UUID, lease time.Duration) (Import, error) {
	rows, err := collect[Import](ctx, s, `
		update import set state = 'running', finished_at = null, leased_until = now() + $3::interval
		 where institution_id = $1 and id = $2 and (leased_until is null or leased_until < now())
		returning `+importColumns, s.institution, id, lease)
	if err != nil || len(rows) > 0 {
		return oneImport(rows, err)
	}
	if _, err := s.Import(ctx, id); err != nil {
		return Import{}, err
	}
	return Import{}, ErrImportAtWork
}

// ErrImportAtWork refuses cards while another request sends cards of the same import.
var ErrImportAtWork = fault.Of(fault.Busy, "import-at-work",
	"Another request sends the cards of this import now; read the import to see how far it is, "+
		"and send them again if it stops.")

// RecordCards records a chunk's treatments and where the import stands after
// them, all or nothing. A Conflict means that one of them was recorded meanwhile; a number
// that another request registered since it was looked up is ErrNumberMeanwhile.
func (s Tenant) RecordCards(ctx context.Context, w Write, step ImportStep) error {
	b := newBatch(s.institution)
	queueClaims(b, w.Claims)
	var rows []Row
	for _, e := range w.Entries {
		queueEntry(b, &w, e, &rows)
	}
	queueStep(b, step)
	err := s.run(ctx, b)
	if constraint, again := violated(err, uniqueViolation); constraint == "number_claimed" {
		return ErrNumberMeanwhile
	} else if again {
		return fault.Of(fault.Conflict, "card-recorded-meanwhile", "A card was recorded meanwhile by another request.")
	}
	return err
}

// queueStep brings the import's own row up to date and keeps its lines; a line that was
// done again after a stop is kept once.
func queueStep(b *batch, step ImportStep) {
	p := step.Progress
	b.Queue(`
		update import set position = $3, lines_read = $4, taken = $5, replayed = $6, doubtful = $7, refused = $8,
		       digest = $9, state = $10,
			leased_until = case when $11::interval = '0'::interval then null else now() + $11::interval end,
			finished_at = case when $10 = 'done' then now() end
		 where institution_id = $1 and id = $2`,
		b.institution, step.Import, p.Position, p.Read, p.Taken, p.Replayed, p.Doubtful, p.Refused, step.Digest, step.State,
		step.Lease)
	for _, l := range step.Lines {
		b.put(importLineTable, step.Import, l.Line, l.Outcome, l.Raw, l.Reasons, l.Doubts, l.Treatment)
	}
}

// ImportLines gives the lines of an import that a person must look at, after a line; of
// one outcome, or of both if it is empty. A page has at most limit lines and a limited
// number of bytes; more tells whether there may be others.
func (s Tenant) ImportLines(
	ctx context.Context, id uuid.UUID, outcome string, after int64, limit int,
) (page []ImportLine, more bool, err error) {
	const columns = "line, outcome, raw, reasons, doubts, treatment_id"
	page, err = collect[ImportLine](ctx, s, bounded(listedWords, columns, "e.raw || e.reasons || e.doubts", "e.line", `
		select `+columns+` from import_line
		 where institution_id = $1 and import_id = $2 and line > $3 and ($4 = '' or outcome = $4)
		 order by line limit $5`), s.institution, id, after, outcome, limit+1)
	if len(page) > limit {
		return page[:limit], true, err
	}
	words := 0
	for _, l := range page {
		words += len(l.Raw) + len(l.Reasons) + len(l.Doubts)
	}
	return page, words >= listedWords, err
}

// BySources gives the first revisions of the treatments that came from a system
// under these ids.
func (s Tenant) BySources(ctx context.Context, system string, ids []string) (map[string]Row, error) {
	rows, err := collectPlannedAnew[Row](ctx, s, `
		select `+entryColumns+`, null::bigint as seq
		  from source_record r cross join lateral (`+firstOfSource("*")+`) e
		 where r.institution_id = $1 and r.source_system = $2 and r.source_id = any($3) and r.kind = 'treatment'`,
		s.institution, system, ids)
	found := make(map[string]Row, len(rows))
	for _, row := range rows {
		found[*row.SystemID] = row
	}
	return found, err
}

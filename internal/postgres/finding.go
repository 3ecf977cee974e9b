package postgres

import (
	"context"
	"strings"

	"github.com/google/uuid"
)

// Finding is one result of the check of a recorded treatment, with the sequence number
// that it was computed at.
type Finding struct {
	Rule     string      `db:"rule"`
	Severity string      `db:"severity"`
	Area     *string     `db:"area"`
	Layers   []uuid.UUID `db:"layers"`
	Sentence string      `db:"sentence"`
	Remedy   *string     `db:"remedy"`
	Source   *string     `db:"source"`
	AsOfSeq  *int64      `db:"as_of_seq"`
	// Unanswerable says that the finding is about a past moment for which the facts were
	// not recorded; Traits are the traits of the body that are not stated and would decide
	// it.
	Unanswerable bool     `db:"unanswerable"`
	Traits       []string `db:"traits"`
}

// Findings gives the findings beside a record, most severe first.
func (s Tenant) Findings(ctx context.Context, id uuid.UUID) ([]Finding, error) {
	return collect[Finding](ctx, s, `
		select rule, severity, area, layers, sentence, remedy, source, as_of_seq, unanswerable, traits from finding
		 where institution_id = $1 and record_id = $2 order by position`, s.institution, id)
}

// Findings replaces the findings beside the record.
func (p *Projector) Findings(found []Finding) {
	p.clear("finding", "record_id")
	p.batch.putFindings(p.record, found)
}

func (b *batch) putFindings(of uuid.UUID, found []Finding) {
	for i, f := range found {
		layers := make([]string, len(f.Layers))
		for j, id := range f.Layers {
			layers[j] = id.String()
		}
		b.put(findingTable, of, i, f.Rule, f.Severity, f.Area, "{"+strings.Join(layers, ",")+"}", f.Sentence, f.Remedy,
			f.Source, f.AsOfSeq, f.Unanswerable, "{"+strings.Join(f.Traits, ",")+"}")
	}
}

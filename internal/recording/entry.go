package recording

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// First is the entry of a record's first revision with these words.
func First(id uuid.UUID, words []byte, value record.Value) postgres.Entry {
	return postgres.Entry{Record: id, Kind: value.Kind(), Revision: 1, Act: ledger.Stated,
		Body:    slices.Concat([]byte(`{"statement":`), words, []byte(`}`)),
		Project: func(p *postgres.Projector) { p.Project(value) }}
}

// FromSource adds to an entry its source and the digest of the statement as it was
// sent.
func FromSource(e postgres.Entry, source record.Source, sent []byte) postgres.Entry {
	e.Source, e.Body = &source, ledger.FromSource(e.Body, statement.Canonical(sent))
	return e
}

// Amendment is the body of an entry that amends a record.
func Amendment(reason string, words []byte) []byte {
	return slices.Concat([]byte(`{"reason":`), wire.Quoted(reason), []byte(`,"statement":`), words, []byte(`}`))
}

// SourceOf is the source that a record has; nil if it has none.
func SourceOf(row postgres.Row) *record.Source {
	if row.System == nil {
		return nil
	}
	return &record.Source{System: *row.System, RecordID: *row.SystemID}
}

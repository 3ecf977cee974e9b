package exchange

import (
	"context"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
)

// PassOn drafts a specimen's statement with the institution that it was passed on to,
// and when. Its history stays, and can still be added to.
func PassOn(ctx context.Context, author recording.Author, row postgres.Row, to api.PassedOn) (recording.Draft, error) {
	passedOn, ok := passedOnIn(row)
	if !ok {
		return recording.Draft{}, fault.Of(fault.Conflict, "specimen-not-in-force",
			"The specimen was retracted or its words were redacted; amend it first, so that it stands again.")
	}
	if passedOn {
		return recording.Draft{}, fault.Of(fault.Conflict, "passed-on-already",
			"The specimen was passed on already; amend the record if that was wrong.")
	}
	words, err := statement.With(statement.WordsIn(row.Body), "passedOn", to)
	if err != nil {
		return recording.Draft{}, err
	}
	return author.Understand(ctx, record.KindSpecimen, row.Record, words)
}

// passedOnIn tells whether a specimen's statement says that it was passed on; ok
// is false where there is no statement.
func passedOnIn(row postgres.Row) (passedOn, ok bool) {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err != nil {
		return false, false
	}
	said, ok := reading.Value.(*record.Specimen)
	return ok && said.PassedOn != nil, ok
}

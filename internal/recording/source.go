package recording

import (
	"context"
	"errors"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/statement"
)

// Says is what a source system states of a record now.
type Says struct {
	postgres.SourceKey
	Words  []byte // the statement as it was sent, of the contract's schema
	Reason string // "" for the usual one
	// DistinctFrom are specimens that a new one is distinct from, although their
	// numbers are similar.
	DistinctFrom []uuid.UUID
	// Record is the record that it is, if the caller knows it; nil otherwise.
	Record *uuid.UUID
	// Read tells whether the record is still as the caller has read it; nil if the
	// caller does not say what it read.
	Read func(postgres.Row) bool
}

// Outcome is the outcome of a source's statement.
type Outcome string

// The outcomes.
const (
	Made      Outcome = "made"
	Unchanged Outcome = "unchanged" // the source stated the same before
	Amended   Outcome = "amended"
	Adopted   Outcome = "adopted"  // a record that had no source is the source's from now on
	Conflict  Outcome = "conflict" // the record was changed since, and the change stands
)

// mostRaces is how often a source's statement is tried again because another request
// changed the record meanwhile.
const mostRaces = 3

// usualReason is the reason where a source gives none.
const usualReason = "Stated anew by its source."

// Heard is the result of Hear.
type Heard struct {
	Outcome Outcome
	// Row is the newest revision, without its words unless it was recorded now.
	Row postgres.Row
	// First is the statement that made the record; nil where none was made.
	First *Saying
	// Numbers are those that an amendment registered.
	Numbers []NewNumber
}

// Hear records what a source states of a record, given the record's present state, nil
// if there is none. It writes at most one batch, so that the statement is recorded
// whole or not at all.
func (a Author) Hear(ctx context.Context, says Says, standing *postgres.SourceStanding) (Heard, error) {
	for range mostRaces {
		heard, raced, err := a.hear(ctx, says, standing)
		if !raced {
			return heard, err
		}
		now, err := a.Store.SourceStanding(ctx, says.SourceKey)
		if standing = &now; fault.Is(err, fault.NotFound) {
			standing, err = nil, nil
		}
		if err != nil {
			return Heard{}, err
		}
	}
	return Heard{}, fault.Of(fault.Busy, "request-at-work",
		"Other requests change this record all the time; send it again in a moment.")
}

// hear is Hear; raced tells that another request changed the record meanwhile.
func (a Author) hear(
	ctx context.Context, says Says, was *postgres.SourceStanding,
) (heard Heard, raced bool, err error) {
	switch {
	case was == nil && says.Record != nil:
		return a.adoptNamed(ctx, says)
	case was == nil:
		return a.hearFirst(ctx, says)
	case says.Record != nil && *says.Record != was.Record:
		return Heard{}, false, &fault.Fault{Kind: fault.Conflict, Code: "source-has-record",
			Detail: "The source has another record here than the one that is named.",
			Extra:  map[string]any{"record": was.Record}}
	}
	same, err := a.saidBefore(ctx, says, *was)
	spokeLast := was.Said == was.InForce && !was.Gone // not amended or retracted since
	switch {
	case err != nil:
		return Heard{}, false, err
	case same && (spokeLast || says.Read == nil && !was.Gone):
		return Heard{Outcome: Unchanged, Row: was.Row}, false, nil
	case says.Read != nil && !says.Read(was.Row):
		return Heard{}, false, errChanged
	}
	if says.Read != nil {
		if err := MustStandAlone(ctx, a.Store, was.Kind, was.Record); err != nil {
			return Heard{}, false, err
		}
	}
	d, err := a.Understand(ctx, was.Kind, was.Record, says.Words)
	if err != nil {
		return Heard{}, false, err
	}
	if !spokeLast && says.Read == nil {
		if agrees, err := a.stands(ctx, *was, d); err != nil || !agrees {
			return Heard{Outcome: Conflict, Row: was.Row}, false, err
		}
	}
	return a.hearAnew(ctx, says, was.Row, d, Amended)
}

var errChanged = fault.Of(fault.Stale, "record-changed",
	"The record has changed since it was read; read it again and decide.")

// hearFirst makes the record, unless one without a source carries its number, or the
// number raises a question first.
func (a Author) hearFirst(ctx context.Context, says Says) (Heard, bool, error) {
	self := uuid.Must(uuid.NewV7())
	d, err := a.UnderstandFirst(ctx, says.Kind, self, says.Words, says.DistinctFrom)
	if err != nil {
		return Heard{}, false, err
	}
	found, err := a.adoptable(ctx, self, d.Numbers)
	switch {
	case err != nil:
		return Heard{}, false, err
	case found != nil:
		return a.adopt(ctx, says, *found)
	case says.Read != nil:
		return Heard{}, false, fault.Of(fault.Stale, "record-unknown",
			"There is no record of this source yet, so that none has this ETag; leave it out to make the record.")
	}
	err = Questions(d.Numbers).Err()
	if err != nil {
		return Heard{}, false, err
	}
	first := FromSource(First(self, d.Words, d.Value), says.Source, says.Words)
	written, raced, err := a.write(ctx, d.Numbers, append(d.Implied, first))
	if err != nil {
		return Heard{}, raced, err
	}
	if written.Replayed { // another request has just made it
		return Heard{Outcome: Unchanged, Row: written.Primary()}, false, nil
	}
	return Heard{Outcome: Made, Row: written.Primary(),
		First: &Saying{Self: self, Value: d.Value, Words: d.Words, Numbers: d.Numbers}}, false, nil
}

// hearAnew amends the record to what its source states; the outcome says whether it had
// the source before.
func (a Author) hearAnew(
	ctx context.Context, says Says, row postgres.Row, d Draft, outcome Outcome,
) (Heard, bool, error) {
	reason := says.Reason
	if reason == "" {
		reason = map[Outcome]string{Amended: usualReason, Adopted: adoptingReason}[outcome]
	}
	entry := postgres.Entry{Record: row.Record, Kind: row.Kind, Revision: row.Revision + 1, Act: ledger.Amended,
		Body: Amendment(reason, d.Words), Project: d.Project}
	written, raced, err := a.write(ctx, d.Numbers, append(d.Implied, FromSource(entry, says.Source, says.Words)))
	if err != nil || written.Replayed { // another request has just made a record of the source
		return Heard{}, raced || written.Replayed, err
	}
	return Heard{Outcome: outcome, Row: written.Primary(), Numbers: d.Numbers}, false, nil
}

// write stores entries that register numbers; raced tells that another request changed
// the record first, or registered such a number.
func (a Author) write(
	ctx context.Context, numbers []NewNumber, entries []postgres.Entry,
) (written postgres.Written, raced bool, err error) {
	w := a.Write(nil, entries...)
	w.Claims = Claims(numbers)
	written, err = a.Store.Write(ctx, w)
	return written, fault.Is(err, fault.Conflict) || fault.Is(err, fault.Stale) || errors.Is(err, postgres.ErrNumberMeanwhile), err
}

// saidBefore tells whether the source's last statement was the same: by the digest of
// the statement as it was sent or, where none was stored, by the first revision that has
// the source.
func (a Author) saidBefore(ctx context.Context, says Says, was postgres.SourceStanding) (bool, error) {
	if was.SaidDigest != "" {
		return was.SaidDigest == ledger.SourceDigest(statement.Canonical(says.Words)), nil
	}
	d, err := a.Propose(ctx, was.Kind, was.Record, says.Words)
	if err != nil || !maySay(was.FirstSize, d) {
		return false, err
	}
	first, _, err := a.Store.Revision(ctx, was.Record, was.First)
	return err == nil && first != nil && first.Body != nil && statement.Same(statement.WordsIn(first.Body), d.Words), err
}

// stands tells whether a record that was amended here now states what its source
// states.
func (a Author) stands(ctx context.Context, was postgres.SourceStanding, d Draft) (bool, error) {
	if was.Gone || !maySay(was.Size, d) {
		return false, nil
	}
	inForce, err := a.Store.InForce(ctx, was.Record)
	words := statement.WordsIn(inForce.Body)
	return err == nil && words != nil && inForce.Act != ledger.Retracted && statement.Same(words, d.Words), err
}

// covers tells whether a draft says all that a record now states.
func (a Author) covers(ctx context.Context, id uuid.UUID, d Draft) (bool, error) {
	inForce, err := a.Store.InForce(ctx, id)
	words := statement.WordsIn(inForce.Body)
	return err == nil && words != nil && inForce.Act != ledger.Retracted && statement.Within(words, d.Words), err
}

// maySay tells whether an entry of this size can state the same as a draft: what it has
// beside its statement is bounded, and a character has at most six bytes where the
// other has one. It saves reading a much longer statement.
func maySay(size int, d Draft) bool {
	const beside = 32 << 10
	return size <= 6*len(d.Words)+beside
}

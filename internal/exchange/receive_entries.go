package exchange

import (
	"encoding/json"
	"iter"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// The limits of the entries, and of their words, that go to the database at once.
const (
	receivedTogether      = 500
	receivedTogetherBytes = 1 << 20
)

// chunks are the entries to be recorded: the lines that are new here, and the entry
// that says that the specimen is here now.
func (r *receiving) chunks() iter.Seq2[[]postgres.Entry, error] {
	return func(yield func([]postgres.Entry, error) bool) {
		var chunk []postgres.Entry
		size := 0
		for e, err := range r.entries() {
			if err != nil {
				yield(nil, err)
				return
			}
			r.recorded++
			chunk, size = append(chunk, e), size+len(e.Body)
			if len(chunk) < receivedTogether && size < receivedTogetherBytes {
				continue
			}
			if !yield(chunk, nil) {
				return
			}
			chunk, size = nil, 0
		}
		if len(chunk) > 0 {
			yield(chunk, nil)
		}
	}
}

// entries are the entries of chunks, one by one.
func (r *receiving) entries() iter.Seq2[postgres.Entry, error] {
	return func(yield func(postgres.Entry, error) bool) {
		revision := map[uuid.UUID]int{}
		for id, here := range r.here {
			revision[id] = here.last
		}
		standing := r.stands // the specimen's last statement
		for _, l := range r.lines {
			if r.isHere(l) {
				r.known++
				continue
			}
			if l.authorises {
				r.authorisations++
			}
			revision[l.Record]++
			e, row, err := r.entry(l, revision[l.Record])
			if l.Record == r.from.Specimen && statement.WordsIn(row.Body) != nil {
				standing = &row
			}
			if !yield(e, err) || err != nil {
				return
			}
		}
		if standing == nil {
			yield(postgres.Entry{}, fault.New("specimen-missing", "",
				"The specimen's own words are gone; there is nothing that could be received."))
			return
		}
		if arrived, err := r.arrival(*standing, revision[r.from.Specimen]+1); arrived != nil {
			yield(*arrived, err)
		} else if err != nil {
			yield(postgres.Entry{}, err)
		}
	}
}

// entry is the entry that is recorded here for a line.
func (r *receiving) entry(l receivedLine, revision int) (postgres.Entry, postgres.Row, error) {
	from, err := wire.Encode(l.from)
	if err != nil {
		return postgres.Entry{}, postgres.Row{}, err
	}
	body := slices.Concat([]byte(`{"receivedFrom":`), from, beside(l.words))
	row := l.Row
	text := string(body)
	row.Revision, row.Body = revision, &text
	if row.Act == ledger.Stated && revision > 1 {
		row.Act = ledger.Amended
	}
	e := postgres.Entry{Record: l.Record, Kind: l.Kind, Revision: revision, Act: row.Act, Body: body,
		Source: &record.Source{System: "institution " + l.from.Institution.String(), RecordID: l.Record.String()}}
	switch {
	case l.without && revision > 1 && l.Act == ledger.Retracted:
		e.Project = func(p *postgres.Projector) { p.Retract(l.Kind) } // only its reason was redacted
		return e, row, nil
	case l.without && revision > 1:
		return e, row, nil // its words were redacted, and what is recorded here stays
	case l.without:
		remains, err := l.unauthorised()
		e.Project = func(p *postgres.Projector) { p.Remain(l.Kind, remains, false) }
		return e, row, err
	case l.Act == ledger.Redacted:
		return e, row, nil
	}
	again := l.Exported
	again.Row = row
	if e.Project, err = recording.Replayed(again); err != nil {
		err = fault.New("statement-unreadable", "",
			"The statement of revision %d of the %s %s cannot be read.", l.Revision, string(l.Kind), l.Record)
	}
	return e, row, err
}

// beside gives the members of an entry's body except its origin, as the rest of a JSON
// object.
func beside(b statement.Entry) []byte {
	var out []byte
	if b.Reason != nil {
		out = slices.Concat(out, []byte(`,"reason":`), wire.Quoted(*b.Reason))
	}
	if b.Redacted != nil {
		numbers, _ := json.Marshal(b.Redacted) // numbers cannot fail to encode
		out = slices.Concat(out, []byte(`,"redactedRevisions":`), numbers)
	}
	if b.Merged != nil {
		out = slices.Concat(out, []byte(`,"mergedInto":`), wire.Quoted(b.Merged.Id.String()))
	}
	if b.Statement != nil {
		out = slices.Concat(out, []byte(`,"statement":`), b.Statement)
	}
	return append(out, '}')
}

// arrival is a revision that says that the specimen is here again, if its statement
// says that it was passed on.
func (r *receiving) arrival(standing postgres.Row, revision int) (*postgres.Entry, error) {
	if passedOn, _ := passedOnIn(standing); !passedOn {
		return nil, nil
	}
	words, err := statement.With(statement.WordsIn(standing.Body), "passedOn", nil)
	if err != nil {
		return nil, err
	}
	reason := "Received; from " + r.from.Name + ", as the package says. Nothing of that was proved."
	body := recording.Amendment(reason, words)
	text := string(body)
	row := standing
	row.Act, row.Revision, row.Body = ledger.Amended, revision, &text
	project, err := recording.Projection(row)
	return &postgres.Entry{Record: r.from.Specimen, Kind: record.KindSpecimen, Revision: revision, Act: ledger.Amended,
		Body: body, Source: recording.SourceOf(standing), Project: project}, err
}

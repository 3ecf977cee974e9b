package httpapi

import (
	"encoding/json"
	"iter"
	"maps"
	"net/http"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// How much a package holds at most: it is recorded in one transaction.
const (
	mostReceived      = 50_000
	mostReceivedBytes = 20 << 20
	mostTraced        = 4 * mostReceived // revisions of its records that are here
)

// receiveSpecimen records a specimen that another institution passed on, with
// its history, each entry saying where it was recorded first, as the package
// says. What is here already is not recorded twice, so that a package can be
// sent again, and a specimen can come home.
func receiveSpecimen(s *Server, c *call) (*answer, error) {
	in := newLineReader(c.echo.Request().Body)
	r := &receiving{server: s, call: c}
	if err := r.read(in); err != nil {
		return nil, located(in.line, err)
	}
	if r.from.Institution == c.principal.Institution {
		return nil, fault.Of(fault.Conflict, "package-of-our-own", "This package was made by this very institution; there is nothing to receive.")
	}
	if err := r.compare(); err != nil {
		return nil, err
	}
	w := c.author().Write(nil)
	if err := c.tenant().WriteEach(c.ctx(), w, r.chunks()); err != nil {
		return nil, err
	}
	return with(http.StatusCreated, api.SpecimenReceipt{Specimen: r.from.Specimen, Institution: r.from.Institution, Name: r.from.Name,
		Proved: proved, Entries: r.recorded, Authorisations: r.authorisations, HereAlready: int64(r.known)})
}

// receiving is the work of receiveSpecimen.
type receiving struct {
	server *Server
	call   *call
	from   packageLine
	lines  []receivedLine
	bytes  int
	here   map[uuid.UUID]*presence // what is recorded here of the same records
	stands *postgres.Row           // the last words here of the specimen
	known  int                     // how many of the lines are here already

	recorded       int64 // how many entries were made of the others
	authorisations int64 // how many of the others hold one
}

// receivedLine is an entry of a package, and where it was recorded first. Its words
// are kept once.
type receivedLine struct {
	postgres.Exported
	words   statement.Entry
	without bool // its words are gone
	from    api.ReceivedFrom
}

func (r *receiving) read(in *lineReader) error {
	first, err := in.next()
	if err != nil {
		return err
	}
	if first.Package == nil {
		return fault.New("no-package", "", "A package of a specimen begins by saying which specimen it is about; an export is restored with POST /v1/restorations.")
	}
	r.from = *first.Package
	for {
		r.call.patience()
		line, err := in.next()
		if err != nil {
			return err
		}
		if line.End != nil {
			return in.end(*line.End, int64(len(r.lines)), 0)
		}
		if err := r.take(line); err != nil {
			return err
		}
	}
}

func (r *receiving) take(line exportLine) error {
	e, err := entryOf(line)
	if err != nil {
		return err
	}
	if n := len(r.lines); n > 0 && *e.Place <= *r.lines[n-1].Place {
		return fault.New("place-missing", "", "Its place does not follow the one of the line before.")
	}
	if r.bytes += len(line.Body); len(r.lines) == mostReceived || r.bytes > mostReceivedBytes {
		return fault.Of(fault.TooLarge, "package-too-large", "A package has %d entries and %d bytes of words at most.", mostReceived, mostReceivedBytes)
	}
	l := receivedLine{Exported: e, without: e.Body == nil}
	if e.Body != nil {
		l.Body = nil
		if err := wire.Decode([]byte(*e.Body), &l.words); err != nil {
			return fault.New("line-unreadable", "", "Its words are not those of an entry.")
		}
		if l.words.Statement != nil {
			if err := wire.Check(r.call.ctx(), wire.StatementSchema(e.Kind), l.words.Statement); err != nil {
				return fault.New("statement-unreadable", "", "The statement is not one of a %s.", string(e.Kind))
			}
		}
	}
	l.from = r.origin(l)
	if err := l.checkOrigin(r.call.ctx()); err != nil {
		return err
	}
	r.lines = append(r.lines, l)
	return nil
}

// presence is what is here of a record of the package.
type presence struct {
	kind    record.Kind
	last    int             // its last revision
	first   string          // the digest with which that was recorded first
	digests map[string]bool // those of all of them
}

// compare looks up what is here of the records in the package, and refuses those
// that are other records, or that went their own way here.
func (r *receiving) compare() error {
	came := map[uuid.UUID]map[string]bool{}
	kindOf := map[uuid.UUID]record.Kind{}
	for _, l := range r.lines {
		if came[l.Record] == nil {
			came[l.Record] = map[string]bool{}
		}
		came[l.Record][l.from.Digest], kindOf[l.Record] = true, l.Kind
	}
	if kindOf[r.from.Specimen] != record.KindSpecimen {
		return fault.New("specimen-missing", "", "The package does not hold the specimen that it says it is about.")
	}
	for _, l := range r.lines {
		if !l.about(kindOf) {
			return fault.New("record-missing", "", "The %s %s is about a record that the package does not hold; a package speaks of its own records.", string(l.Kind), l.Record)
		}
	}
	if err := r.lookUp(slices.Collect(maps.Keys(came))); err != nil {
		return err
	}
	return r.parted(came, kindOf)
}

// parted refuses records that are others here, and those that were changed both
// here and there.
func (r *receiving) parted(came map[uuid.UUID]map[string]bool, kindOf map[uuid.UUID]record.Kind) error {
	brought := map[uuid.UUID]bool{} // the records that have entries which are not here
	for _, l := range r.lines {
		brought[l.Record] = brought[l.Record] || !r.isHere(l)
	}
	var changed []uuid.UUID
	for id, here := range r.here {
		if here.kind != kindOf[id] || !meet(here.digests, came[id]) {
			return fault.Of(fault.Conflict, "id-taken", "A record of the package has the id of another record here.")
		}
		if brought[id] && !came[id][here.first] && !r.passing(id) {
			changed = append(changed, id)
		}
	}
	if len(changed) > 0 {
		return &fault.Fault{Kind: fault.Conflict, Code: "records-changed-here",
			Detail: "Records of the package were changed both here and there since they parted; amend yours to what the other institution says first, or leave the package.",
			Extra:  map[string]any{"records": changed}}
	}
	return nil
}

// lookUp reads what is here of records, without their words.
func (r *receiving) lookUp(records []uuid.UUID) error {
	institution := r.call.principal.Institution
	traces, err := r.server.store.For(institution).TracesOf(r.call.ctx(), records, mostTraced+1)
	if err != nil {
		return err
	}
	if len(traces) > mostTraced {
		return fault.Of(fault.TooLarge, "package-too-large", "The records of the package have more than %d revisions here.", mostTraced)
	}
	r.here = map[uuid.UUID]*presence{}
	for _, t := range traces {
		if r.here[t.Record] == nil {
			r.here[t.Record] = &presence{kind: t.Kind, digests: map[string]bool{}}
		}
		p := r.here[t.Record]
		p.last, p.first, p.digests[t.Digest] = t.Revision, t.Digest, true
	}
	r.stands, err = r.server.store.For(institution).LastStatement(r.call.ctx(), r.from.Specimen)
	return err
}

// meet tells whether two sets share something.
func meet(a, b map[string]bool) bool {
	for digest := range a {
		if b[digest] {
			return true
		}
	}
	return false
}

func (r *receiving) isHere(l receivedLine) bool {
	p := r.here[l.Record]
	return p != nil && p.digests[l.from.Digest]
}

// passing tells that the last revision here of a record says that the specimen was
// passed on: it is no change that its return could undo.
func (r *receiving) passing(id uuid.UUID) bool {
	if id != r.from.Specimen || r.stands == nil || r.stands.Revision != r.here[id].last {
		return false
	}
	passedOn, _ := passedOnIn(*r.stands)
	return passedOn
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

// receivedTogether bounds the entries and the words that go to the database at once.
const (
	receivedTogether      = 500
	receivedTogetherBytes = 1 << 20
)

// chunks are what is to be recorded: the lines that are not here, and that the
// specimen is here now.
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

// entries are those of chunks, one by one.
func (r *receiving) entries() iter.Seq2[postgres.Entry, error] {
	return func(yield func(postgres.Entry, error) bool) {
		revision := map[uuid.UUID]int{}
		for id, here := range r.here {
			revision[id] = here.last
		}
		standing := r.stands // of the specimen
		for _, l := range r.lines {
			if r.isHere(l) {
				r.known++
				continue
			}
			if l.authorises() {
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
			yield(postgres.Entry{}, fault.New("specimen-missing", "", "The specimen's own words are gone; there is nothing that could be received."))
			return
		}
		if arrived, err := r.arrival(*standing, revision[r.from.Specimen]+1); arrived != nil {
			yield(*arrived, err)
		} else if err != nil {
			yield(postgres.Entry{}, err)
		}
	}
}

// entry is a line as it is recorded here.
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
		e.Project = func(p *postgres.Projector) { p.Retract(l.Kind) } // nothing but its reason is gone
		return e, row, nil
	case l.without && revision > 1:
		return e, row, nil // its words are gone, and what is here of it stays
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
		err = fault.New("statement-unreadable", "", "The statement of revision %d of the %s %s cannot be read.", l.Revision, string(l.Kind), l.Record)
	}
	return e, row, err
}

// beside is what an entry's words hold beside where they come from, as the rest
// of a JSON object.
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
		out = slices.Concat(out, []byte(`,"mergedInto":`), wire.Quoted(b.Merged.String()))
	}
	if b.Statement != nil {
		out = slices.Concat(out, []byte(`,"statement":`), b.Statement)
	}
	return append(out, '}')
}

// arrival is a revision that says that the specimen is here, where its statement
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
	return &postgres.Entry{Record: r.from.Specimen, Kind: record.KindSpecimen, Revision: revision, Act: ledger.Amended, Body: body, Source: recording.SourceOf(standing), Project: project}, err
}

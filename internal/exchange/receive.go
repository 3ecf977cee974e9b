package exchange

import (
	"context"
	"io"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

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

// Limits of a package, which is recorded in one transaction.
const (
	mostReceived      = 50_000
	mostReceivedBytes = 20 << 20
	mostTraced        = 4 * mostReceived // revisions of its records that are here already
)

// mostHazardsSaid and longestText bound what a package says of its specimen's hazards.
const (
	mostHazardsSaid = 25
	longestText     = 20_000 // of the contract
)

func noText(said string) bool {
	return said == "" || strings.ContainsRune(said, 0) || utf8.RuneCountInString(said) > longestText
}

// Receipt is what was received, and from which institution, as the package says.
type Receipt struct {
	Specimen, Institution uuid.UUID
	Name                  string
	Proved                api.Proof
	Entries               int64 // entries that were recorded
	Authorisations        int64 // authorisations among those entries
	HereAlready           int64
	// Hazards are what the package says of the specimen's hazards to people.
	Hazards []string
}

// Receive records a specimen that another institution passed on, with its history. Each
// entry says where it was recorded first, as the package says. Entries that are here
// already are not recorded twice, so that a package can be sent again and a specimen
// can return. A key of the sender, if the caller gives one, must have signed the package.
func Receive(ctx context.Context, author recording.Author, in io.Reader, key string, pace Pace) (Receipt, error) {
	r := &receiving{store: author.Store, pace: pace, key: key, proved: api.Nothing}
	if key != "" {
		r.proved = api.Sender
	}
	lines := newLineReader(in)
	if err := r.read(ctx, lines); err != nil {
		return Receipt{}, located(lines.line, err)
	}
	if r.from.Institution == author.Store.ID() {
		return Receipt{}, fault.Of(fault.Conflict, "package-of-our-own",
			"This package was made by this very institution; there is nothing to receive.")
	}
	if err := r.compare(ctx); err != nil {
		return Receipt{}, err
	}
	if err := author.Store.WriteEach(ctx, author.Write(nil), r.chunks()); err != nil {
		return Receipt{}, err
	}
	return Receipt{Specimen: r.from.Specimen, Institution: r.from.Institution, Name: r.from.Name, Proved: r.proved,
		Entries: r.recorded, Authorisations: r.authorisations, HereAlready: int64(r.known), Hazards: r.from.Hazards}, nil
}

// receiving is the work of Receive.
type receiving struct {
	store  postgres.Tenant
	pace   Pace
	key    string    // of the sender, who must have signed; "" where the caller knows none
	proved api.Proof // of each entry, if the package is received
	from   packageLine
	lines  []receivedLine
	bytes  int
	here   map[uuid.UUID]*presence // what is recorded here of the same records
	stands *postgres.Row           // the specimen's last statement here
	known  int                     // how many of the lines are here already

	recorded       int64 // how many entries were made of the others
	authorisations int64 // how many of the others hold one
}

// receivedLine is an entry of a package, and where it was recorded first. Its words
// are kept once.
type receivedLine struct {
	postgres.Exported
	words   statement.Entry
	without bool // its words were redacted
	from    api.ReceivedFrom

	about      []uuid.UUID // the records that the entry is about
	authorises bool
}

func (r *receiving) read(ctx context.Context, in *lineReader) error {
	first, err := in.next()
	if err != nil {
		return err
	}
	if first.Package == nil {
		return fault.New("no-package", "",
			"A package of a specimen begins by saying which specimen it is about; "+
				"an export is restored with POST /v1/restorations.")
	}
	r.from = *first.Package
	if len(r.from.Hazards) > mostHazardsSaid || slices.ContainsFunc(r.from.Hazards, noText) {
		return fault.New("line-unreadable", "", "What it says of hazards is %d sentences at most, each a text.",
			mostHazardsSaid)
	}
	for {
		r.pace.Patience()
		line, err := in.next()
		if err != nil {
			return err
		}
		if line.End != nil {
			return r.end(in, *line.End)
		}
		if err := r.take(ctx, line); err != nil {
			return err
		}
	}
}

// end checks the last line, and the signature that the caller wants.
func (r *receiving) end(in *lineReader, said endLine) error {
	if err := in.end(said, int64(len(r.lines)), 0, 0); err != nil || r.key == "" {
		return err
	}
	if err := ledger.ProvePackage([]byte(said.Signed), r.from.Institution, said.SHA256, r.key); err != nil {
		return fault.New("package-not-proved", "", "It is not proved to be what the sender packed: %v.", err)
	}
	return nil
}

func (r *receiving) take(ctx context.Context, line exportLine) error {
	e, err := entryOf(line)
	if err != nil {
		return err
	}
	if n := len(r.lines); n > 0 && *e.Sequence <= *r.lines[n-1].Sequence {
		return fault.New("sequence-missing", "", "Its sequence number does not follow the one of the line before.")
	}
	if r.bytes += len(line.Body); len(r.lines) == mostReceived || r.bytes > mostReceivedBytes {
		return fault.Of(fault.TooLarge, "package-too-large",
			"A package has %d entries and %d bytes of words at most.", mostReceived, mostReceivedBytes)
	}
	l := receivedLine{Exported: e, without: e.Body == nil}
	if e.Body != nil {
		l.Body = nil
		if err := l.open(ctx, *e.Body); err != nil {
			return err
		}
	}
	l.from = r.origin(l)
	if err := l.checkOrigin(ctx); err != nil {
		return err
	}
	r.lines = append(r.lines, l)
	return nil
}

// open reads the words of a line.
func (l *receivedLine) open(ctx context.Context, body string) error {
	var err error
	if l.words, err = statement.EntryFrom(body); err != nil {
		return fault.New("line-unreadable", "", "Its words are not those of an entry.")
	}
	if l.words.Statement != nil && wire.Check(ctx, wire.StatementSchema(l.Kind), l.words.Statement) != nil {
		return fault.New("statement-unreadable", "", "The statement is not one of a %s.", string(l.Kind))
	}
	l.claim()
	return nil
}

// presence is what is recorded here of a record of the package.
type presence struct {
	kind    record.Kind
	last    int             // its last revision
	first   string          // the digest with which the last revision was recorded first
	digests map[string]bool // the digests of all revisions
}

// compare looks up what is recorded here of the records in the package, and refuses
// records with the same id that are not the same record, and records that were changed
// here since.
func (r *receiving) compare(ctx context.Context) error {
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
		if !l.within(kindOf) {
			return fault.New("record-missing", "",
				"The %s %s is about a record that the package does not hold; "+
					"a package speaks of its own records.", string(l.Kind), l.Record)
		}
	}
	if err := r.lookUp(ctx, slices.Collect(maps.Keys(came))); err != nil {
		return err
	}
	return r.parted(came, kindOf)
}

// parted refuses ids that belong to other records here, and records that were changed
// both here and at the sender.
func (r *receiving) parted(came map[uuid.UUID]map[string]bool, kindOf map[uuid.UUID]record.Kind) error {
	brought := map[uuid.UUID]bool{} // the records with entries that are new here
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
			Detail: "Records of the package were changed both here and there since they parted; " +
				"amend yours to what the other institution says first, or leave the package.",
			Extra: map[string]any{"records": changed}}
	}
	return nil
}

// lookUp reads what is recorded here of records, without their words.
func (r *receiving) lookUp(ctx context.Context, records []uuid.UUID) error {
	traces, err := r.store.TracesOf(ctx, records, mostTraced+1)
	if err != nil {
		return err
	}
	if len(traces) > mostTraced {
		return fault.Of(fault.TooLarge, "package-too-large",
			"The records of the package have more than %d revisions here.", mostTraced)
	}
	r.here = map[uuid.UUID]*presence{}
	for _, t := range traces {
		if r.here[t.Record] == nil {
			r.here[t.Record] = &presence{kind: t.Kind, digests: map[string]bool{}}
		}
		p := r.here[t.Record]
		p.last, p.first, p.digests[t.Digest] = t.Revision, t.Digest, true
	}
	r.stands, err = r.store.LastStatement(ctx, r.from.Specimen)
	return err
}

// meet tells whether two sets have a common member.
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

// passing tells whether a record's last revision here only says that the specimen was
// passed on: its return does not conflict with that.
func (r *receiving) passing(id uuid.UUID) bool {
	if id != r.from.Specimen || r.stands == nil || r.stands.Revision != r.here[id].last {
		return false
	}
	passedOn, _ := passedOnIn(*r.stands)
	return passedOn
}

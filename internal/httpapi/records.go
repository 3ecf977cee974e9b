package httpapi

import (
	"encoding/hex"
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

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

// recordJSON is the envelope around an entry's words. The words themselves are
// passed on as they are stored.
func recordJSON(row postgres.Row) []byte {
	b := make([]byte, 0, 512)
	b = append(b, `{"id":"`...)
	b = append(b, row.Record.String()...)
	b = append(b, `","kind":"`...)
	b = append(b, row.Kind...)
	b = append(b, `","revision":`...)
	b = strconv.AppendInt(b, int64(row.Revision), 10)
	b = append(b, `,"act":"`...)
	b = append(b, row.Act...)
	b = append(b, `","recordedAt":"`...)
	b = row.RecordedAt.UTC().AppendFormat(b, time.RFC3339Nano)
	b = append(b, `","recordedBy":{"id":"`...)
	b = append(b, row.RecordedBy.String()...)
	b = append(b, `"}`...)
	if row.System != nil {
		source, _ := json.Marshal(api.Source{System: *row.System, RecordId: *row.SystemID}) // two texts cannot fail to encode
		b = append(append(b, `,"source":`...), source...)
	}
	if row.Sequence != nil {
		b = append(b, `,"sequence":`...)
		b = strconv.AppendInt(b, *row.Sequence, 10)
	}
	if row.Body == nil {
		return append(b, '}')
	}
	return append(append(b, ','), statement.Shown(*row.Body)[1:]...)
}

// collections are where the records of each kind are listed and read. A material of
// the institution's own is read by its name, and its record among all records.
var collections = map[record.Kind]string{
	record.KindSpecimen: "/v1/specimens/", record.KindSupply: "/v1/supplies/", record.KindBatch: "/v1/batches/",
	record.KindAmountChange: "/v1/amount-changes/", record.KindTreatment: "/v1/treatments/",
	record.KindPlan: "/v1/plans/", record.KindPerson: "/v1/people/", record.KindMaterial: "/v1/records/",
}

// recordPath is where a record is, below the service's own address.
func recordPath(row postgres.Row) string { return collections[row.Kind] + row.Record.String() }

// recordTag is a record's strong validator: its revision, the digest of its words, and whether
// they are withheld.
func recordTag(row postgres.Row) string {
	withheld := ""
	if row.Withheld() {
		withheld = "-withheld"
	}
	return `"` + strconv.Itoa(row.Revision) + "-" + hex.EncodeToString(row.Digest[:8]) + withheld + `"`
}

// read makes the handler that reads one record of one kind.
func read(kind record.Kind, param string) handler {
	return func(s *Server, c *requestContext) (*answer, error) {
		row, err := s.current(c, c.id(param))
		if err != nil {
			return nil, err
		}
		if row.Kind != kind {
			return nil, fault.Of(fault.NotFound, string(kind)+"-unknown",
				"There is no such %s in this institution.", string(kind))
		}
		return &answer{body: recordJSON(row), etag: recordTag(row)}, nil
	}
}

func readRecord(s *Server, c *requestContext) (*answer, error) {
	if at, err := c.instant("believedAt"); err != nil || at != nil {
		return recordAt(s, c, at, err)
	}
	row, err := s.current(c, c.id("recordId"))
	if err != nil {
		return nil, err
	}
	return &answer{body: recordJSON(row), etag: recordTag(row)}, nil
}

// current is a record as it stands.
func (s *Server) current(c *requestContext, id uuid.UUID) (postgres.Row, error) {
	row, err := c.tenant().Current(c.ctx(), id)
	if err != nil {
		return row, err
	}
	return s.shown(c, row)
}

// shown is the newest revision of a record as it is answered. One that redacted only
// earlier revisions is shown with the statement in force.
func (s *Server) shown(c *requestContext, row postgres.Row) (postgres.Row, error) {
	row.Sequence = nil // it is given later, and the bytes under a strong ETag must not change
	if row.Act != ledger.Redacted || row.Body == nil {
		return row, nil
	}
	standing, err := c.tenant().InForceAt(c.ctx(), row)
	if err != nil {
		return row, err
	}
	if words := statement.WordsIn(standing.Body); words != nil {
		joined := strings.TrimSuffix(*row.Body, "}") + `,"statement":` + string(words) + "}"
		row.Body = &joined
	}
	return row, nil
}

func listRevisions(s *Server, c *requestContext) (*answer, error) {
	after, err := c.sequenceCursor()
	if err != nil {
		return nil, err
	}
	rows, more, err := c.tenant().Revisions(c.ctx(), c.id("recordId"), int(min(after, math.MaxInt32)))
	if err != nil || !more {
		return &answer{body: itemsJSON(rows, nil)}, err
	}
	n := c.next(sequenceCursor(int64(rows[len(rows)-1].Revision)))
	a := &answer{body: itemsJSON(rows, n)}
	a.setHeader("Link", "<"+n.href+`>; rel="next"`)
	return a, nil
}

func readRevision(s *Server, c *requestContext) (*answer, error) {
	wanted, _ := strconv.ParseInt(c.echo.Param("revision"), 10, 32) // a text that is not a number names no revision
	row, last, err := c.tenant().Revision(c.ctx(), c.id("recordId"), int(wanted))
	if err != nil {
		return nil, err
	}
	if row == nil {
		return nil, fault.Of(fault.NotFound, "revision-unknown", "The record has the revisions 1 to %d.", last)
	}
	return &answer{body: recordJSON(*row)}, nil
}

// retractRecord says that a record should not have been recorded.
func retractRecord(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.RetractionRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matched(c, c.id("recordId"))
	if err != nil {
		return nil, err
	}
	if err := c.mayWrite(row.Kind); err != nil {
		return nil, err
	}
	if row.Act == ledger.Retracted {
		return nil, &fault.Fault{Kind: fault.Conflict, Code: "retracted-already", Extra: map[string]any{"record": row.Record},
			Detail: "The record is retracted already; amend it to take that back."}
	}
	if err := recording.MustStandAlone(c.ctx(), c.tenant(), row.Kind, row.Record); err != nil {
		return nil, err
	}
	body := slices.Concat([]byte(`{"reason":`), wire.Quoted(request.Reason), []byte(`}`))
	return answered(s.revise(c, row, postgres.Entry{Act: ledger.Retracted, Body: body,
		Project: func(p *postgres.Projector) { p.Retract(row.Kind) }}, nil))
}

// redactRecord blanks the words of some or all revisions.
func redactRecord(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.RedactionRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matched(c, c.id("recordId"))
	if err != nil {
		return nil, err
	}
	return s.redact(c, row, request.Reason, request.Revisions)
}

// redact blanks the words of the named revisions, or of all of them.
func (s *Server) redact(c *requestContext, row postgres.Row, reason string, named *[]int32) (*answer, error) {
	rows, err := c.tenant().Acts(c.ctx(), row.Record)
	if err != nil {
		return nil, err
	}
	chosen, err := chosenRevisions(named, rows)
	if err != nil {
		return nil, err
	}
	words, _ := json.Marshal(revisionNumbers(chosen)) // numbers cannot fail to encode
	body := slices.Concat([]byte(`{"reason":`), wire.Quoted(reason), []byte(`,"redactedRevisions":`), words, []byte(`}`))
	entry := postgres.Entry{
		Record: row.Record, Kind: row.Kind, Revision: row.Revision + 1, Act: ledger.Redacted,
		Source: recording.SourceOf(row), Body: body,
	}
	if blanksInForce(rows, chosen) {
		entry.Project = func(p *postgres.Projector) { p.Blank(row.Kind) }
	}
	ids := make([]uuid.UUID, len(chosen))
	for i, r := range chosen {
		ids[i] = r.EntryID
	}
	written, err := c.tenant().Redact(c.ctx(), c.author().Write(nil, entry), ids)
	if err != nil {
		return nil, err
	}
	return created(written.Rows[0], false), nil
}

// chosenRevisions are the revisions to blank: those named, or all that have
// words and are no redactions themselves.
func chosenRevisions(named *[]int32, rows []postgres.Row) ([]postgres.Row, error) {
	var chosen []postgres.Row
	for _, r := range rows {
		if r.Act != ledger.Redacted && (named == nil || slices.Contains(*named, int32(r.Revision))) {
			chosen = append(chosen, r)
		}
	}
	if named != nil {
		for i, n := range *named {
			if int(n) > len(rows) || rows[n-1].Act == ledger.Redacted {
				return nil, fault.New("revision-unknown", "/revisions/"+strconv.Itoa(i),
					"The record has no statement at this revision; it has the revisions 1 to %d.", len(rows))
			}
		}
	}
	return chosen, nil
}

func revisionNumbers(rows []postgres.Row) []int {
	numbers := make([]int, len(rows))
	for i, r := range rows {
		numbers[i] = r.Revision
	}
	return numbers
}

// blanksInForce tells whether the statement in force is among the chosen.
func blanksInForce(rows, chosen []postgres.Row) bool {
	for i := len(rows) - 1; i >= 0; i-- {
		if rows[i].Act == ledger.Stated || rows[i].Act == ledger.Amended {
			return slices.ContainsFunc(chosen, func(r postgres.Row) bool { return r.Revision == rows[i].Revision })
		}
	}
	return false
}

// matched is the record as it stands, if it is the one that the caller read.
func (s *Server) matched(c *requestContext, id uuid.UUID) (postgres.Row, error) {
	row, err := c.tenant().Current(c.ctx(), id)
	if err != nil {
		return row, err
	}
	return row, c.matches(row)
}

// matches is a fault unless If-Match holds the record's ETag, and where its words are withheld.
func (c *requestContext) matches(row postgres.Row) error {
	if row.Withheld() {
		return postgres.ErrWithheld
	}
	if holdsTag(c.echo.Request().Header.Get("If-Match"), row) {
		return nil
	}
	return fault.Of(fault.Stale, "record-changed",
		"The record has changed since it was read, or If-Match does not hold its strong ETag; read it again and decide.")
}

// holdsTag tells whether a record's ETag is among tags, or `*` is.
func holdsTag(tags string, row postgres.Row) bool {
	for tag := range strings.SplitSeq(tags, ",") {
		if tag = strings.TrimSpace(tag); tag == "*" || ownTag(plainTag(tag)) == recordTag(row) {
			return true
		}
	}
	return false
}

// revise stores the next revision of a record, an entry with its act, its body and its
// projection, and the entries that it implies.
func (s *Server) revise(
	c *requestContext, row postgres.Row, entry postgres.Entry, key *postgres.RequestKey, implied ...postgres.Entry,
) (postgres.Row, error) {
	entry.Record, entry.Kind, entry.Revision = row.Record, row.Kind, row.Revision+1
	entry.Source = recording.SourceOf(row)
	written, err := c.tenant().Write(c.ctx(), c.author().Write(key, append(implied, entry)...))
	if err != nil {
		return postgres.Row{}, err
	}
	return written.Rows[len(written.Rows)-1], nil
}

// answered answers with a record that was revised.
func answered(row postgres.Row, err error) (*answer, error) {
	if err != nil {
		return nil, err
	}
	return created(row, false), nil
}

package httpapi

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	"github.com/go-json-experiment/json/jsontext"
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

// manyAmended is api.AmendmentsRequest with its values as they were sent.
type manyAmended struct {
	Records []api.RecordRef `json:"records"`
	Reason  string          `json:"reason"`
	Token   string          `json:"token"`
	Undo    string          `json:"undo"`
	Replace *struct {
		From  jsontext.Value `json:"from"`
		To    jsontext.Value `json:"to"`
		Under string         `json:"under"`
	} `json:"replace"`
}

// amendingMany is one change of many records at work.
type amendingMany struct {
	call    *requestContext
	request manyAmended
	records []uuid.UUID                // without repeats
	places  []int                      // where the request names each first
	rows    []postgres.Row             // the newest revisions, as they were named
	inForce map[uuid.UUID]postgres.Row // the statements in force
	undone  []uint64                   // the revisions to undo, 0 where nothing was changed
}

// amendRecords shows what a change of many records does, or carries it out: all or nothing.
func amendRecords(_ *Server, c *requestContext) (*answer, error) {
	request, err := decode[manyAmended](c)
	if err != nil {
		return nil, err
	}
	if (request.Replace == nil) == (request.Undo == "") {
		return nil, fault.New("choice", "", "Say either what replaces what, or what is undone.")
	}
	m := amendingMany{call: c, request: request}
	m.records, m.places = distinct(request.Records)
	if err := m.read(); err != nil {
		return nil, err
	}
	if err := m.matches(); err != nil {
		return nil, err
	}
	stated, err := m.stated()
	if err != nil {
		return nil, err
	}
	drafts, faults, err := c.author().UnderstandAll(c.ctx(), stated)
	if err != nil {
		return nil, err
	}
	if err := m.refused(faults); err != nil {
		return nil, err
	}
	return m.answer(drafts)
}

// distinct are the records without repeats, in their order, and where each stands first.
func distinct(refs []api.RecordRef) (ids []uuid.UUID, places []int) {
	seen := map[uuid.UUID]bool{}
	for i, ref := range refs {
		if !seen[ref.Id] {
			ids, places = append(ids, ref.Id), append(places, i)
		}
		seen[ref.Id] = true
	}
	return ids, places
}

// read reads the records, all of which must be here, stand, and be the caller's to change.
func (m *amendingMany) read() error {
	ctx, tenant, ids := m.call.ctx(), m.call.tenant(), m.records
	var err error
	if m.rows, err = tenant.Newest(ctx, ids...); err != nil {
		return err
	}
	var faults fault.List
	here := map[uuid.UUID]bool{}
	for _, row := range m.rows {
		here[row.Record] = true
	}
	for i, id := range ids {
		if !here[id] {
			unknown := fault.Of(fault.NotFound, "record-unknown", "There is no such record in this institution.")
			unknown.Pointer = m.pointer(i)
			faults = append(faults, unknown)
		}
	}
	if err := first(faults); err != nil {
		return err
	}
	for _, kind := range kindsAmong(m.rows) {
		if err := m.call.mayWrite(kind); err != nil {
			return err
		}
	}
	if m.inForce, err = tenant.InForceOf(ctx, ids); err != nil {
		return err
	}
	size := 0
	for _, row := range m.rows {
		standing := m.inForce[row.Record]
		if standing.Withheld() {
			return postgres.ErrWithheld
		}
		if standing.Act == ledger.Retracted || statement.WordsIn(standing.Body) == nil {
			faults = append(faults, aboutOne(fault.Conflict, "record-not-in-force", row.Record,
				"The record %s was retracted or its words were redacted, so that there is no statement to change.",
				row.Record))
			continue
		}
		if size += len(*standing.Body); size > mostTogether {
			return fault.Of(fault.TooLarge, "group-too-large",
				"The statements have more than %d MiB together; send fewer at a time.", mostTogether>>20)
		}
	}
	if err := first(faults); err != nil {
		return err
	}
	return m.standAlone(ctx)
}

// pointer is where the request names a record.
func (m *amendingMany) pointer(i int) string { return fmt.Sprintf("/records/%d", m.places[i]) }

// aboutOne is a fault about one of the records.
func aboutOne(kind fault.Kind, code string, id uuid.UUID, format string, args ...any) *fault.Fault {
	f := fault.Of(kind, code, format, args...)
	f.Extra = map[string]any{"record": id}
	return f
}

// first is the first of faults that several records have, and says how many others there are.
func first(faults fault.List) error {
	if len(faults) == 0 {
		return nil
	}
	if more := len(faults) - 1; more > 0 {
		faults[0].Detail += fmt.Sprintf(" So it is with %d others. Nothing was changed.", more)
	}
	return faults[0]
}

func kindsAmong(rows []postgres.Row) (kinds []record.Kind) {
	for _, row := range rows {
		if !slices.Contains(kinds, row.Kind) {
			kinds = append(kinds, row.Kind)
		}
	}
	return kinds
}

// standAlone is a fault if one of the records was merged into another.
func (m *amendingMany) standAlone(ctx context.Context) error {
	var specimens []uuid.UUID
	for _, row := range m.rows {
		if row.Kind == record.KindSpecimen {
			specimens = append(specimens, row.Record)
		}
	}
	if len(specimens) == 0 {
		return nil
	}
	standing, err := m.call.tenant().StandingOf(ctx, specimens)
	if err != nil {
		return err
	}
	for _, id := range specimens {
		if standing[id].MergedInto != nil {
			return recording.MergedAlready(standing[id])
		}
	}
	return nil
}

// A token holds a digest of what was asked and, for each record, the revision that the change
// rests on: that of its ETag. It is no secret. What was carried out has a token of the revisions
// that it made, 0 for a record that it left as it was.

// asked is the digest of the change and the records; of a token that undoes, of the records alone.
func (m *amendingMany) asked(change []byte) [sha256.Size]byte {
	h := sha256.New()
	_, _ = h.Write(m.call.principal.Institution[:]) // a hash never fails
	for _, id := range m.records {
		_, _ = h.Write(id[:])
	}
	_, _ = h.Write(change)
	return [sha256.Size]byte(h.Sum(nil))
}

func (m *amendingMany) changeAsked() [sha256.Size]byte {
	r := m.request.Replace
	if r == nil {
		return m.asked([]byte("undo " + m.request.Undo))
	}
	parts := [][]byte{statement.Canonical(r.From), statement.Canonical(r.To), []byte(r.Under)}
	return m.asked(bytes.Join(parts, []byte{0}))
}

func tokenOf(asked [sha256.Size]byte, revisions []uint64) string {
	raw := asked[:]
	for _, r := range revisions {
		raw = binary.AppendUvarint(raw, r)
	}
	return base64.RawURLEncoding.EncodeToString(raw)
}

// revisionsOf reads a token; ok is false if it was given for something else.
func (m *amendingMany) revisionsOf(token string, asked [sha256.Size]byte) (revisions []uint64, ok bool) {
	raw, err := base64.RawURLEncoding.DecodeString(token)
	if err != nil || len(raw) < sha256.Size || [sha256.Size]byte(raw) != asked {
		return nil, false
	}
	for raw = raw[sha256.Size:]; len(raw) > 0; {
		revision, n := binary.Uvarint(raw)
		if n <= 0 {
			return nil, false
		}
		revisions, raw = append(revisions, revision), raw[n:]
	}
	return revisions, len(revisions) == len(m.rows)
}

// matches is a fault unless each record is as the tokens say.
func (m *amendingMany) matches() error {
	if m.request.Token != "" {
		used, err := m.call.tenant().KeyUsed(m.call.ctx(), m.key().Digest)
		if err != nil {
			return err
		}
		if used {
			return fault.Of(fault.Conflict, "token-used",
				"This token was used: the change was carried out. Ask for a dry run to see how the records stand.")
		}
	}
	for _, t := range []struct {
		token, pointer string
		asked          [sha256.Size]byte
		undoes         bool
	}{
		{m.request.Undo, "/undo", m.asked(nil), true},
		{m.request.Token, "/token", m.changeAsked(), false},
	} {
		if t.token == "" {
			continue
		}
		revisions, ok := m.revisionsOf(t.token, t.asked)
		if !ok {
			return fault.New("token-of-another-request", t.pointer,
				"This token was given for other records or another change; send what it was given for, or ask for a dry run.")
		}
		var faults fault.List
		for i, row := range m.rows {
			if revisions[i] != uint64(row.Revision) && !(t.undoes && revisions[i] == 0) {
				faults = append(faults, aboutOne(fault.Conflict, "records-changed", row.Record,
					"The record %s has changed since the token was given; ask for a dry run and decide.", row.Record))
			}
		}
		if err := first(faults); err != nil {
			return err
		}
		if t.undoes {
			m.undone = revisions
		}
	}
	return nil
}

// key makes each token carry its change out once.
func (m *amendingMany) key() *postgres.RequestKey {
	digest := sha256.Sum256([]byte(m.call.op.method + " " + m.call.op.path + " token " + m.request.Token))
	return &postgres.RequestKey{Digest: digest, Fingerprint: digest}
}

// stated are the whole statements that the change makes, each of the contract's schema.
func (m *amendingMany) stated() ([]recording.Restated, error) {
	out, faults, size := make([]recording.Restated, len(m.rows)), make([]fault.List, len(m.rows)), 0
	before, err := m.before()
	if err != nil {
		return nil, err
	}
	for i, row := range m.rows {
		words, err := m.changed(i, row, before)
		if err == nil && m.undone == nil {
			err = wire.Check(m.call.ctx(), wire.StatementSchema(row.Kind), words)
		}
		if found := fault.From(err); len(found) > 0 {
			faults[i] = found
		} else if err != nil {
			return nil, err
		}
		if size += len(words); size > 2*mostTogether {
			return nil, fault.Of(fault.TooLarge, "group-too-large",
				"The statements would have more than %d MiB together; send fewer at a time.", 2*mostTogether>>20)
		}
		out[i] = recording.Restated{Kind: row.Kind, Self: row.Record, Words: words}
	}
	return out, m.refused(faults)
}

// before are the entries in force before the revisions that are undone, if the request undoes any.
func (m *amendingMany) before() (map[uuid.UUID]postgres.Row, error) {
	var ids []uuid.UUID
	var revisions []int
	for i, row := range m.rows {
		if m.undone != nil && m.undone[i] != 0 {
			ids, revisions = append(ids, row.Record), append(revisions, row.Revision)
		}
	}
	return m.call.tenant().InForceBeforeEach(m.call.ctx(), ids, revisions)
}

// changed is what the change makes of one statement.
func (m *amendingMany) changed(i int, row postgres.Row, before map[uuid.UUID]postgres.Row) ([]byte, error) {
	standing, err := statement.OpenEntry(m.inForce[row.Record].Body)
	switch r := m.request.Replace; {
	case err != nil:
		return nil, err
	case r == nil && m.undone[i] == 0:
		return standing.Statement, nil
	case r == nil:
		return asBefore(before[row.Record])
	case standing.Received != nil:
		return nil, fault.New("amendment-refused", "", "Another institution stated this record; amend it by itself.")
	default:
		return statement.Replaced(standing.Statement, r.From, r.To, r.Under), nil
	}
}

// asBefore is the statement of an entry that is in force again.
func asBefore(was postgres.Row) ([]byte, error) {
	entry, err := statement.OpenEntry(was.Body)
	if errors.Is(err, statement.ErrRedacted) || err == nil && len(entry.Statement) == 0 {
		return nil, fault.New("amendment-refused", "", "The statement before was redacted or retracted.")
	}
	return entry.Statement, err
}

// refused is a fault for each record of which the statement that would result is refused.
func (m *amendingMany) refused(of []fault.List) error {
	var faults fault.List
	for i, found := range of {
		if len(found) > 0 && len(faults) < wire.MostFaults {
			faults.Add("amendment-refused", m.pointer(i),
				"What would result is refused (%s, at %q of the statement): %s", found[0].Code, found[0].Pointer,
				found[0].Detail)
		}
	}
	return faults.Err()
}

// answer shows what changes, and records it if a token was sent.
func (m *amendingMany) answer(drafts []recording.Draft) (*answer, error) {
	out := api.Amendments{Items: []api.AmendedOne{}}
	revisions := make([]uint64, len(m.rows))
	made := make([]uint64, len(m.rows))
	var entries []postgres.Entry
	for i, row := range m.rows {
		revisions[i] = uint64(row.Revision)
		body := m.inForce[row.Record].Body
		standing, err := statement.OpenEntry(body)
		if err != nil {
			return nil, err
		}
		if standing.Says(drafts[i].Words) {
			out.Unchanged++
			continue
		}
		entry := postgres.Entry{Record: row.Record, Kind: row.Kind, Revision: row.Revision + 1, Act: ledger.Amended,
			Source: recording.SourceOf(row), Body: recording.Amendment(m.request.Reason, drafts[i].Words),
			Project: drafts[i].Project}
		after := string(entry.Body)
		one := api.AmendedOne{Record: api.Ref(row.Record), Revision: int32(row.Revision)}
		if changed := m.call.changed(body, &after); changed != nil {
			one.Changed = *changed
		}
		entries, made[i] = append(entries, entry), uint64(entry.Revision)
		out.Items = append(out.Items, one)
	}
	if m.request.Token == "" {
		out.Token = tokenOf(m.changeAsked(), revisions)
		return ok(out)
	}
	if len(entries) > 0 {
		_, err := m.call.tenant().Write(m.call.ctx(), m.call.author().Write(m.key(), entries...))
		if fault.Is(err, fault.Stale) {
			err = fault.Of(fault.Conflict, "records-changed",
				"One of the records was changed at this moment, and nothing was carried out; ask for a dry run and decide.")
		}
		if err != nil {
			return nil, err
		}
	}
	for i := range out.Items {
		out.Items[i].Revision++
	}
	out.CarriedOut, out.Token = true, tokenOf(m.asked(nil), made)
	return ok(out)
}

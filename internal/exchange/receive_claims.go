package exchange

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// checkOrigin validates by the contract the members that are shown beside the
// statement.
func (l receivedLine) checkOrigin(ctx context.Context) error {
	from, err := wire.Encode(l.from)
	if err != nil {
		return err
	}
	if wire.Check(ctx, wire.Schema("ReceivedFrom"), from) != nil {
		return fault.New("line-unreadable", "",
			"Where it comes from is not said as the contract asks: an institution with its name, a sequence number, a digest.")
	}
	if l.words.Reason != nil && wire.Check(ctx, wire.Schema("Reason"), wire.Quoted(*l.words.Reason)) != nil {
		return fault.New("line-unreadable", "", "Its reason is not one that the contract takes.")
	}
	return nil
}

// origin is where an entry was recorded first, as the package says: at the sender, or
// where the sender had received it from. What others say that they proved of it is not
// copied.
func (r *receiving) origin(l receivedLine) api.ReceivedFrom {
	sender := api.PassedThrough{Institution: r.from.Institution, Name: r.from.Name}
	if before := l.words.Received; before != nil {
		from := *before
		via := append(slices.Clone(deref(before.Via)), sender)
		from.Via, from.Proved = &via, &r.proved
		return from
	}
	digest := hex.EncodeToString(l.Digest)
	sequence, revision := *l.Sequence, int32(l.Revision)
	from := api.ReceivedFrom{Institution: sender.Institution, Name: sender.Name,
		Sequence: sequence, Entry: l.EntryID, Revision: revision, Digest: digest,
		RecordedAt: l.RecordedAt.UTC(), RecordedBy: l.RecordedBy, Proved: &r.proved}
	if l.System != nil {
		from.Source = &api.Source{System: *l.System, RecordId: *l.SystemID}
	}
	return from
}

// claim reads which records an entry is about, and whether it authorises something.
// Unreadable words are refused later, when they are recorded.
func (l *receivedLine) claim() {
	l.about = []uuid.UUID{deref(l.words.Merged).Id}
	reading, err := statement.Read(l.Kind, l.words.Statement)
	if err != nil {
		return
	}
	switch v := reading.Value.(type) {
	case *record.Treatment:
		l.about = append(l.about, v.Specimen, v.JoinedTo)
		l.authorises = v.Authorisation.Given
	case *record.Plan:
		l.about = append(l.about, v.Treatment.Specimen, v.Treatment.JoinedTo)
		l.authorises = v.Authorisation.Given || v.Treatment.Authorisation.Given
	case *record.AmountChange:
		l.about = append(l.about, v.Batch)
	}
}

// within tells whether all records that an entry is about are in the package too: a
// package must not add to the history of another specimen, or to the changes of another
// batch.
func (l receivedLine) within(held map[uuid.UUID]record.Kind) bool {
	var remains struct {
		Specimen uuid.UUID `json:"specimen_id"`
		JoinedTo uuid.UUID `json:"joined_to_id"`
		Batch    uuid.UUID `json:"batch_id"`
		Into     uuid.UUID `json:"merged_into"`
	}
	if l.Remains != nil {
		_ = json.Unmarshal([]byte(*l.Remains), &remains) // the database refuses invalid ids
	}
	about := slices.Concat(l.about, []uuid.UUID{remains.Specimen, remains.JoinedTo, remains.Batch, remains.Into})
	return !slices.ContainsFunc(about, func(id uuid.UUID) bool {
		_, here := held[id]
		return id != uuid.Nil && !here
	})
}

// unauthorised is what the sender's projections held of a record whose words were
// redacted, without a plan's authorisation, which does not count here.
func (l receivedLine) unauthorised() (*string, error) {
	if l.Kind != record.KindPlan || l.Remains == nil {
		return l.Remains, nil
	}
	var remains map[string]json.RawMessage
	if err := json.Unmarshal([]byte(*l.Remains), &remains); err != nil || remains == nil {
		return nil, fault.New("line-unreadable", "", "What remains of the plan %s cannot be read.", l.Record)
	}
	remains["authorised"] = json.RawMessage("false")
	words, _ := json.Marshal(remains) // decoded JSON always encodes
	text := string(words)
	return &text, nil
}

package exchange

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/cardimport"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// A readCard is a card that is being turned into a treatment.
type readCard struct {
	cardimport.Card
	raw       []byte // the statement as JSON
	words     []byte // the same, with ids in the place of names
	reading   *statement.Reading
	entry     postgres.Entry
	faults    fault.List // faults of the statement; the card's own are in Card
	numbers   []recording.NewNumber
	own       int // how many of its doubts are the card's own
	replayed  bool
	treatment uuid.UUID
}

func (r *readCard) refused() bool { return len(r.Faults) > 0 || len(r.faults) > 0 }

// take records a chunk in one transaction: every card that is accepted, and the
// import's progress after it. A chunk that arrived whole is recorded even if its sender
// has disconnected.
func (im *importing) take(ctx context.Context, next chunk, state string) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), cardLease)
	defer cancel()
	return im.pace.Turn(ctx, func() error { return im.record(ctx, next, state) })
}

// record records a chunk. When another request registered a number like one of the cards'
// own meanwhile, everything is looked up once more.
func (im *importing) record(ctx context.Context, next chunk, state string) error {
	err := im.recordAsKnown(ctx, next, state)
	if errors.Is(err, postgres.ErrNumberMeanwhile) {
		err = im.recordAsKnown(ctx, next, state)
	}
	return err
}

func (im *importing) recordAsKnown(ctx context.Context, next chunk, state string) error {
	implied, err := im.resolve(ctx, next.cards)
	if err != nil {
		return err
	}
	for again := true; ; again = false {
		if err := im.compare(ctx, next.cards); err != nil {
			return err
		}
		if again {
			if err := im.doubtOdd(ctx, next.cards); err != nil {
				return err
			}
		}
		// A card that another request recorded meanwhile is found by comparing again.
		if err := im.store(ctx, next, implied, state); !again || !fault.Is(err, fault.Conflict) {
			return err
		}
	}
}

// understand validates a card's statement by the contract and by its meaning.
func (im *importing) understand(ctx context.Context, read cardimport.Card) *readCard {
	card := &readCard{Card: read, own: len(read.Doubts)}
	if len(card.Faults) > 0 {
		return card
	}
	var err error
	card.raw, card.reading, err = statement.Write(&card.Treatment, card.Names)
	if err == nil {
		err = wire.Check(ctx, wire.StatementSchema(record.KindTreatment), card.raw)
	}
	if err == nil {
		card.faults, err = card.reading.Check(uuid.Nil, im.base)
	}
	if err != nil && card.faults.Merge("", err) != nil {
		card.faults.Add("card-unreadable", "", "The card could not be made a statement.")
	}
	return card
}

// resolve replaces the names in a chunk with ids, all in one round trip, so that a new
// name on many cards is one person. Cards with ambiguous references are refused, and
// the others are looked up once more, so that no record is implied by a refused card.
func (im *importing) resolve(ctx context.Context, cards []*readCard) ([]postgres.Entry, error) {
	for {
		var taken []*readCard
		var readings []*statement.Reading
		for _, card := range cards {
			if !card.refused() {
				taken, readings = append(taken, card), append(readings, card.reading)
			}
		}
		resolved, err := recording.Resolve(ctx, im.author.Store, readings...)
		if err != nil {
			return nil, err
		}
		refused := false
		for i, card := range taken {
			card.faults, card.numbers = append(card.faults, resolved.Faults[i]...), resolved.Numbers[i]
			refused = refused || card.refused()
		}
		if !refused {
			return resolved.Implied, im.enter(taken)
		}
	}
}

// enter makes each card's entry, now that names have become ids.
func (im *importing) enter(cards []*readCard) error {
	for _, card := range cards {
		words, err := card.reading.Words(card.raw)
		if err != nil {
			return err
		}
		card.treatment, card.replayed, card.Doubts = uuid.Must(uuid.NewV7()), false, card.Doubts[:card.own]
		card.words = words
		card.entry = recording.First(card.treatment, words, card.reading.Value)
		card.entry.Source = &record.Source{System: im.imported.Name, RecordID: cardSource(card.SourceID, card.Raw)}
	}
	return nil
}

// compare finds the cards that were recorded before, in the database or in this chunk,
// and marks the others as doubtful where their numbers are nearly those of registered
// specimens.
func (im *importing) compare(ctx context.Context, cards []*readCard) error {
	var ids []string
	for _, card := range cards {
		if !card.refused() {
			ids = append(ids, card.entry.Source.RecordID)
		}
	}
	before, err := im.author.Store.BySources(ctx, im.imported.Name, ids)
	if err != nil {
		return err
	}
	here := map[string]*readCard{}
	for _, card := range cards {
		if card.refused() || card.replayed {
			continue
		}
		id := card.entry.Source.RecordID
		if row, recorded := before[id]; recorded {
			card.sameAs(row.Kind, row.Record, deref(row.Body), row.Body == nil)
		} else if other := here[id]; other != nil {
			card.sameAs(record.KindTreatment, other.treatment, string(other.entry.Body), false)
		} else {
			here[id] = card
			card.doubtNumber()
		}
	}
	return nil
}

// doubtOdd marks what is odd about the cards that are new: dates that contradict each other,
// and a treatment that is on record already, or on an earlier card of the chunk.
func (im *importing) doubtOdd(ctx context.Context, cards []*readCard) error {
	var fresh []*readCard
	var said []recording.Saying
	for _, card := range cards {
		if !card.refused() && !card.replayed {
			fresh = append(fresh, card)
			said = append(said, recording.Saying{Self: card.treatment, Value: card.reading.Value, Words: card.words})
		}
	}
	odd, err := im.author.Odd(ctx, im.today, said...)
	if err != nil {
		return err
	}
	met := map[string]bool{}
	for i, card := range fresh {
		for _, f := range odd[i] {
			card.Doubts = append(card.Doubts, cardimport.Doubt{Code: f.Rule, Sentence: f.Sentence})
		}
		bare, err := statement.With(card.words, "oldCard", nil)
		if err != nil {
			return err
		}
		if same := string(statement.Canonical(bare)); met[same] {
			card.Doubts = append(card.Doubts, cardimport.Doubt{Code: "treatment-said-twice",
				Sentence: "An earlier card of this file says the same of the same specimen."})
		} else {
			met[same] = true
		}
	}
	return nil
}

// sameAs makes a card a replay of a record with the same identity and content, and
// refuses it if the content differs. Redacted words cannot be compared, and then the
// identity decides.
func (r *readCard) sameAs(kind record.Kind, id uuid.UUID, body string, blank bool) {
	if kind == record.KindTreatment && (blank || body == string(r.entry.Body)) {
		r.replayed, r.treatment = true, id
		return
	}
	r.faults.Add("card-differs", "",
		"A card with this id was recorded before and says something else; amend that record, or give this card its own id.")
}

// doubtNumber adds one doubt if a number that registers a specimen is nearly the same
// as a recorded one.
func (r *readCard) doubtNumber() {
	const code = "number-nearly-known"
	r.Doubts = slices.DeleteFunc(r.Doubts, func(d cardimport.Doubt) bool { return d.Code == code })
	for _, number := range r.numbers {
		for _, known := range number.Candidates() {
			r.Doubts = append(r.Doubts, cardimport.Doubt{Code: code,
				Sentence: fmt.Sprintf("The number is not registered; %q is, and differs only in case, spaces, "+
					"punctuation or leading zeros.", known.Number)})
			break // one doubt is enough
		}
	}
}

// store records the chunk, unless this is a dry run, and the import's progress.
func (im *importing) store(ctx context.Context, next chunk, implied []postgres.Entry, state string) error {
	write := im.author.Write(nil)
	write.RequestID = uuid.Must(uuid.NewV7())
	step := im.step(next, state)
	if !im.imported.DryRun {
		for _, card := range next.cards {
			if !card.refused() && !card.replayed {
				write.Entries = append(write.Entries, card.entry)
				write.Claims = append(write.Claims, recording.Claims(card.numbers)...)
			}
		}
		if len(write.Entries) > 0 {
			write.Entries = append(implied, write.Entries...)
		}
	}
	if err := im.author.Store.RecordCards(ctx, write, step); err != nil {
		return err
	}
	im.imported.ImportProgress, im.imported.Digest, im.imported.State = step.Progress, step.Digest, state
	if state != "done" {
		return nil
	}
	finished, err := im.author.Store.Import(ctx, im.imported.ID)
	im.imported = finished
	return err
}

// step is what the chunk adds to the import.
func (im *importing) step(next chunk, state string) postgres.ImportStep {
	p := im.imported.ImportProgress
	step := postgres.ImportStep{Import: im.imported.ID, Digest: next.digest, State: state, Lease: cardLease}
	if state == "done" {
		step.Lease = 0
	}
	for _, card := range next.cards {
		p.Position = int64(card.Line)
		p.Read++
		switch {
		case card.refused():
			p.Refused++
			step.Lines = append(step.Lines, card.line("refused"))
			continue
		case card.replayed:
			p.Replayed++
		default:
			p.Taken++
		}
		if len(card.Doubts) > 0 {
			p.Doubtful++
			line := card.line("doubtful")
			if !im.imported.DryRun || card.replayed {
				line.Treatment = idOrNil(card.treatment)
			}
			step.Lines = append(step.Lines, line)
		}
	}
	step.Progress = p
	return step
}

// line is what is stored of a card that a person must look at.
func (r *readCard) line(outcome string) postgres.ImportLine {
	reasons, doubts := []api.ImportReason{}, []api.ImportReason{}
	for _, f := range r.Faults {
		reason := api.ImportReason{Code: f.Code, Detail: f.Detail}
		if column := strings.NewReplacer("~1", "/", "~0", "~").Replace(strings.TrimPrefix(f.Pointer, "/")); column != "" {
			reason.Column = &column
		}
		reasons = append(reasons, reason)
	}
	for _, f := range r.faults {
		pointer := f.Pointer
		reasons = append(reasons, api.ImportReason{Code: f.Code, Detail: f.Detail, Pointer: &pointer})
	}
	for _, d := range r.Doubts {
		doubt := api.ImportReason{Code: d.Code, Detail: d.Sentence}
		if column := d.Column; column != "" {
			doubt.Column = &column
		}
		doubts = append(doubts, doubt)
	}
	return postgres.ImportLine{Line: int64(r.Line), Outcome: outcome, Raw: r.Raw,
		Reasons: jsonText(reasons[:min(len(reasons), 200)]), Doubts: jsonText(doubts[:min(len(doubts), 200)])}
}

func jsonText(v any) string {
	b, _ := json.Marshal(v) // plain values cannot fail to encode
	return string(b)
}

// cardSource is the identity of a card within its import's name: the card's own
// id, a digest of one that is too long for a source, or a digest of the line.
func cardSource(id string, raw string) string {
	prefix, of := "line-", raw
	switch {
	case id != "" && isSourceID(id):
		return id
	case id != "":
		prefix, of = "id-", id
	}
	sum := sha256.Sum256([]byte(of))
	return prefix + hex.EncodeToString(sum[:12])
}

// isSourceID tells whether a text is one line that the id of a source may be.
func isSourceID(text string) bool {
	control := func(r rune) bool { return r < ' ' || r == 0x7f }
	return utf8.RuneCountInString(text) <= 500 && !strings.ContainsFunc(text, control)
}

// idOrNil is nil for the zero UUID, so that the field is left out.
func idOrNil(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

package httpapi

import (
	"crypto/sha256"
	"errors"
	"net/http"
	"slices"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
	"meniscus/internal/wire"
)

// creation is the envelope of every create.
type creation struct {
	ID           *api.Id           `json:"id"`
	Source       *api.Source       `json:"source"`
	DistinctFrom *api.DistinctFrom `json:"distinctFrom"` // of a specimen
	Statement    jsontext.Value    `json:"statement"`
}

// create makes the handler that records a new record of one kind.
func create(kind record.Kind) handler {
	return func(s *Server, c *requestContext) (*answer, error) {
		request, err := decode[creation](c)
		if err != nil {
			return nil, err
		}
		key, err := c.createKey(request.ID, request.Source)
		if err != nil {
			return nil, err
		}
		written, err := s.record(c, kind, request, key)
		if err != nil {
			return nil, err
		}
		return s.made(c, written)
	}
}

// made answers a create with the record that it made, or with the one that it had made
// before, as that stands now, with what is told beside it.
func (s *Server) made(c *requestContext, written stored) (*answer, error) {
	row, err := s.shown(c, written.Primary())
	if err != nil {
		return nil, err
	}
	told := written.beside
	if written.Replayed {
		if told, err = s.besideAgain(c, written.Primary()); err != nil {
			return nil, err
		}
	}
	return created(told.of(row), written.Replayed), nil
}

// madeTogether is made for several records of one kind.
func (s *Server) madeTogether(
	c *requestContext, kind record.Kind, written postgres.Written, said []recording.Saying,
) (*answer, error) {
	told := s.besideIn(written.Beside, said...)
	rows := written.OfKind(kind)
	for i := range rows {
		tell, err := told[i], error(nil)
		if written.Replayed {
			tell, err = s.besideAgain(c, rows[i])
		}
		if err == nil {
			rows[i], err = s.shown(c, rows[i])
		}
		if err != nil {
			return nil, err
		}
		rows[i] = tell.of(rows[i])
	}
	a := &answer{status: http.StatusCreated, body: itemsJSON(rows, nil)}
	return a.saidBefore(written.Replayed), nil
}

// stored is what a request wrote, with what is told beside it.
type stored struct {
	postgres.Written
	beside beside
}

// createKey is the request key of a create, which needs one unless the record
// has an identity of its own.
func (c *requestContext) createKey(id *api.Id, source *api.Source) (*postgres.RequestKey, error) {
	key, err := c.requestKey()
	if err == nil && key == nil && id == nil && source == nil {
		err = fault.Of(fault.Malformed, "idempotency-key-missing",
			"Send an Idempotency-Key, or a source with its record id, or an id of your own, so that sending it twice makes one record.")
	}
	return key, err
}

// record stores a new record. When records that the statement only implied were made by
// another request at the same moment, or a number like one of its own was registered,
// everything is read once more.
func (s *Server) record(
	c *requestContext, kind record.Kind, request creation, key *postgres.RequestKey,
) (stored, error) {
	self := newRequestID()
	if request.ID != nil {
		self = *request.ID
	}
	for again := true; ; again = false {
		d, err := c.author().UnderstandFirst(c.ctx(), kind, self, request.Statement, statement.IDs(request.DistinctFrom))
		if err != nil {
			return stored{}, under("/statement", err)
		}
		first := recording.First(self, d.Words, d.Value)
		if request.Source != nil {
			source := record.Source{System: request.Source.System, RecordID: request.Source.RecordId}
			first = recording.FromSource(first, source, request.Statement)
		}
		asked, _ := under("/statement", recording.Questions(d.Numbers)).(fault.List)
		said := recording.Saying{Self: self, Value: d.Value, Words: d.Words, Numbers: d.Numbers}
		w := c.author().Write(key, append(d.Implied, first)...)
		w.Claims, w.Beside = recording.Claims(d.Numbers), recording.Asks(said)
		written, err := c.writeUnlessAsked(w, asked)
		meanwhile := errors.Is(err, postgres.ErrNumberMeanwhile) || len(d.Implied) > 0 && fault.Is(err, fault.Conflict)
		if !again || !meanwhile || len(asked) > 0 {
			return stored{written, s.besideIn(written.Beside, said)[0]}, err
		}
	}
}

// created answers a create with the record, again or anew.
func created(row postgres.Row, replayed bool) *answer {
	a := &answer{status: http.StatusCreated, body: recordJSON(row), etag: recordTag(row), maybeMinimal: true}
	a.setHeader("Location", recordPath(row))
	return a.saidBefore(replayed)
}

// under moves faults below a prefix.
func under(prefix string, err error) error {
	found := fault.From(err)
	if len(found) == 0 {
		return err
	}
	moved := make(fault.List, len(found))
	for i, f := range found {
		moved[i] = f
		if f.Kind == fault.Invalid || f.Pointer != "" {
			moved[i] = f.At(prefix)
		}
	}
	if errors.As(err, new(fault.List)) || len(moved) != 1 {
		return moved
	}
	return moved[0]
}

// requestKey reads Idempotency-Key, quoted (as the draft standard writes it) or
// bare, or gives nil when there is none.
func (c *requestContext) requestKey() (*postgres.RequestKey, error) {
	header := c.echo.Request().Header.Get("Idempotency-Key")
	if header == "" {
		return nil, nil
	}
	text := header
	if len(text) >= 2 && text[0] == '"' && text[len(text)-1] == '"' {
		text = strings.NewReplacer(`\"`, `"`, `\\`, `\`).Replace(text[1 : len(text)-1])
	}
	if text == "" || len(text) > 255 || strings.ContainsFunc(text, func(r rune) bool { return r < '!' || r > '~' }) {
		return nil, &fault.Fault{Kind: fault.Malformed, Code: "idempotency-key-invalid", Parameter: "Idempotency-Key",
			Detail: "Write 1 to 255 visible ASCII characters, such as a UUID."}
	}
	fingerprint, err := c.fingerprint()
	if err != nil {
		return nil, err
	}
	digest := sha256.Sum256([]byte(c.op.method + " " + c.op.path + " " + text))
	return &postgres.RequestKey{Digest: digest, Fingerprint: fingerprint}, nil
}

// fingerprint is a digest of what was asked: the path, the body, however its members
// were ordered, and whether it is a patch.
func (c *requestContext) fingerprint() ([32]byte, error) {
	body := jsontext.Value(slices.Clone(c.raw))
	if err := body.Canonicalize(); err != nil {
		return [32]byte{}, wire.SyntaxFault(err)
	}
	what := c.echo.Request().URL.Path + "\n"
	if c.bodyType == patchType {
		what += c.bodyType + "\n"
	}
	return sha256.Sum256(append([]byte(what), body...)), nil
}

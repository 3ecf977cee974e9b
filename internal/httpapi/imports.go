package httpapi

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"net/http"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/exchange"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/wire"
)

// createImport keeps what the columns mean; the cards follow.
func createImport(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.ImportRequest](c)
	if err != nil {
		return nil, err
	}
	key, err := c.requestKey()
	if err != nil {
		return nil, err
	}
	if key == nil {
		return nil, fault.Of(fault.Malformed, "idempotency-key-missing",
			"Send an Idempotency-Key, so that sending it twice begins one import.")
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	if err := under("/mapping", exchange.CheckMapping(base, request.Mapping)); err != nil {
		return nil, err
	}
	mapping, err := wire.Encode(request.Mapping)
	if err != nil {
		return nil, err
	}
	made, replayed, err := c.tenant().CreateImport(c.ctx(), c.author().Write(key), postgres.Import{
		ID: newRequestID(), Name: request.Name, DryRun: request.DryRun,
		Format: string(request.Mapping.Format), Mapping: string(mapping)})
	if err != nil {
		return nil, err
	}
	a, err := with(http.StatusCreated, importOf(made))
	if err != nil {
		return nil, err
	}
	a.setHeader("Location", "/v1/imports/"+made.ID.String())
	return a.saidBefore(replayed), nil
}

// cardTypes are the media types of a file of cards.
var cardTypes = map[string]string{"csv": "text/csv", "ndjson": "application/x-ndjson"}

// sendCards records a file of cards as it comes, and answers when the last line
// is done.
func sendCards(s *Server, c *requestContext) (*answer, error) {
	cards := exchange.Cards{Import: c.id("importId"), File: c.lines(), Today: s.today(), Fits: func(format string) error {
		if want := cardTypes[format]; baseType(c.echo.Request().Header.Get("Content-Type")) != want {
			return fault.Of(fault.Unsupported, "media-type-not-taken",
				"The mapping of this import is for %s; send Content-Type: %s.", format, want)
		}
		return nil
	}}
	done, err := cards.Record(c.ctx(), c.author(), c.pace())
	if err != nil {
		return nil, err
	}
	return ok(importOf(done))
}

// cardsAtWork refuses cards while another request sends cards of the same import: to this
// process, even if it still waits for its turn, or to another process. The first request
// holds the import until it ends.
func cardsAtWork(c *requestContext) error {
	id, err := uuid.Parse(c.echo.Param("importId"))
	if err != nil {
		return nil // the path is judged with the query
	}
	if c.sent == nil {
		cards := [2]uuid.UUID{c.principal.Institution, id}
		if _, taken := c.server.sending.LoadOrStore(cards, true); taken {
			return postgres.ErrImportAtWork
		}
		c.sent = func() { c.server.sending.Delete(cards) }
	}
	i, err := c.tenant().Import(c.ctx(), id)
	if err == nil && i.State == "running" {
		err = postgres.ErrImportAtWork
	}
	return err
}

func readImport(s *Server, c *requestContext) (*answer, error) {
	i, err := c.tenant().Import(c.ctx(), c.id("importId"))
	if err != nil {
		return nil, err
	}
	return ok(importOf(i))
}

func listImports(s *Server, c *requestContext) (*answer, error) {
	after, err := c.cursor()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	found, err := c.tenant().Imports(c.ctx(), after, limit+1)
	if err != nil {
		return nil, err
	}
	list := api.ImportList{Items: []api.Import{}}
	for _, i := range found[:min(len(found), limit)] {
		list.Items = append(list.Items, importOf(i))
	}
	if len(found) > limit {
		return c.continued(&list, &list.Next, idCursor(found[limit-1].ID))
	}
	return ok(list)
}

// continued answers with a list that goes on at a cursor; next is the list's own
// member.
func (c *requestContext) continued(list any, next **api.Next, cursor string) (*answer, error) {
	n := c.next(cursor)
	*next = &api.Next{Cursor: n.cursor, Href: n.href}
	a, err := ok(list)
	if err == nil {
		a.setHeader("Link", "<"+n.href+`>; rel="next"`)
	}
	return a, err
}

func listImportLines(s *Server, c *requestContext) (*answer, error) {
	id := c.id("importId")
	if _, err := c.tenant().Import(c.ctx(), id); err != nil {
		return nil, err
	}
	after, err := c.sequenceCursor()
	if err != nil {
		return nil, err
	}
	found, more, err := c.tenant().ImportLines(c.ctx(), id, c.text("outcome"), after, c.number("limit"))
	if err != nil {
		return nil, err
	}
	list := api.ImportLineList{Items: each(found, importLineOf)}
	if more {
		last := binary.BigEndian.AppendUint64(nil, uint64(found[len(found)-1].Line))
		return c.continued(&list, &list.Next, base64.RawURLEncoding.EncodeToString(last))
	}
	return ok(list)
}

func importOf(i postgres.Import) api.Import {
	return api.Import{
		Id: i.ID, Name: i.Name, DryRun: i.DryRun, Format: api.ImportFormat(i.Format), State: api.ImportState(i.State),
		CreatedAt: i.CreatedAt, FinishedAt: i.FinishedAt, Position: i.Position,
		Lines: api.ImportLines{Read: i.Read, Taken: i.Taken, Replayed: i.Replayed, Doubtful: i.Doubtful, Refused: i.Refused},
	}
}

func importLineOf(l postgres.ImportLine) api.ImportLine {
	out := api.ImportLine{Line: l.Line, Outcome: api.ImportLineOutcome(l.Outcome), Raw: l.Raw, Treatment: api.RefIf(l.Treatment),
		Reasons: []api.ImportReason{}, Doubts: []api.ImportReason{}}
	_ = json.Unmarshal([]byte(l.Reasons), &out.Reasons) // written by this program
	_ = json.Unmarshal([]byte(l.Doubts), &out.Doubts)
	return out
}

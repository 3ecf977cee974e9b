package httpapi

import (
	"encoding/base64"
	"fmt"
	"net/url"
	"strconv"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/wire"
)

// page makes a handler of a query that gives rows in the order of their ids,
// after an id.
func page(
	query func(s *Server, c *requestContext, after uuid.UUID, limit int) (rows []postgres.Row, more bool, err error),
) handler {
	return func(s *Server, c *requestContext) (*answer, error) {
		after, err := c.cursor()
		if err != nil {
			return nil, err
		}
		rows, more, err := query(s, c, after, c.number("limit"))
		if err != nil {
			return nil, err
		}
		if !more {
			return &answer{body: itemsJSON(rows, nil)}, nil
		}
		n := c.next(idCursor(rows[len(rows)-1].Record))
		a := &answer{body: itemsJSON(rows, n)}
		a.setHeader("Link", "<"+n.href+`>; rel="next"`)
		return a, nil
	}
}

// nextPage is where a list goes on.
type nextPage struct {
	cursor string
	href   string
}

// next is this request's own address with another cursor.
func (c *requestContext) next(cursor string) *nextPage {
	query := url.Values{}
	for name := range c.query {
		query.Set(name, c.echo.QueryParam(name))
	}
	query.Set("cursor", cursor)
	return &nextPage{cursor: cursor, href: c.server.publicURL + c.echo.Request().URL.EscapedPath() + "?" + query.Encode()}
}

func idCursor(id uuid.UUID) string { return base64.RawURLEncoding.EncodeToString(id[:]) }

// cursor is the id after which the page begins; the zero UUID is the beginning.
func (c *requestContext) cursor() (uuid.UUID, error) {
	text := c.text("cursor")
	if text == "" {
		return uuid.Nil, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(raw) != 16 {
		return uuid.Nil, invalidCursor
	}
	return uuid.UUID(raw), nil
}

var invalidCursor = &fault.Fault{Kind: fault.Malformed, Code: "invalid-cursor", Parameter: "cursor",
	Detail: "This is not a cursor that this list gave; begin without one."}

// itemsJSON is a page of records.
func itemsJSON(rows []postgres.Row, n *nextPage) []byte {
	b := []byte(`{"items":[`)
	for i, row := range rows {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(b, recordJSON(row)...)
	}
	b = append(b, ']')
	if n != nil {
		b = fmt.Appendf(b, `,"next":{"cursor":%s,"href":%s}`, strconv.Quote(n.cursor), wire.Quoted(n.href))
	}
	return append(b, '}')
}

package httpapi

import (
	"encoding/base64"
	"encoding/binary"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// listChanges gives the entries after a cursor, in the institution's one order.
func listChanges(s *Server, c *call) (*answer, error) {
	place, err := s.feedPlace(c, c.text("after"))
	if err != nil {
		return nil, err
	}
	rows, err := s.store.Changes(c.ctx(), c.principal.Institution, place, c.number("limit"))
	if err != nil {
		return nil, err
	}
	after := c.text("after")
	b := []byte(`{"items":[`)
	for i, row := range rows {
		if i > 0 {
			b = append(b, ',')
		}
		after = feedCursor(*row.Place, row.EntryID)
		b = append(b, changeJSON(row, after)...)
	}
	if after == "" {
		after = feedCursor(0, uuid.Nil)
	}
	b = fmt.Appendf(b, `],"after":%q}`, after)
	return &answer{body: b}, nil
}

// changeJSON is one entry of the feed.
func changeJSON(row postgres.Row, cursor string) []byte {
	b := fmt.Appendf(nil, `{"cursor":%q,"place":%d,"entry":%q,"record":`, cursor, *row.Place, row.EntryID.String())
	return append(append(b, recordJSON(row)...), '}')
}

// feedCursor is a place and the entry that stands there.
func feedCursor(place int64, entry uuid.UUID) string {
	raw := binary.BigEndian.AppendUint64(nil, uint64(place))
	return base64.RawURLEncoding.EncodeToString(append(raw, entry[:]...))
}

// feedPlace reads a cursor; one whose entry does not stand at its place is void.
func (s *Server) feedPlace(c *call, cursor string) (int64, error) {
	if cursor == "" {
		return 0, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(cursor)
	if err != nil || len(raw) != 24 {
		return 0, &fault.Fault{Kind: fault.Malformed, Code: "invalid-cursor", Parameter: "after", Detail: "This is not a cursor of this feed; begin without one."}
	}
	place, entry := int64(binary.BigEndian.Uint64(raw)), uuid.UUID(raw[8:])
	if place == 0 && entry == uuid.Nil {
		return 0, nil
	}
	stands, err := s.store.PlaceOf(c.ctx(), c.principal.Institution, place, entry)
	if err != nil {
		return 0, err
	}
	if !stands {
		return 0, fault.Of(fault.Conflict, "feed-reset",
			"This cursor does not exist in this institution's order, which may have been restored from a copy; read everything again from the beginning.")
	}
	return place, nil
}

package httpapi

import (
	"encoding/base64"
	"encoding/binary"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// listChanges gives the entries after a cursor, in order of sequence numbers.
func listChanges(s *Server, c *requestContext) (*answer, error) {
	after := readFeedCursor(c.text("cursor"))
	rows, stands, err := c.tenant().Changes(c.ctx(), after, c.number("limit"))
	if err != nil {
		return nil, err
	}
	if !stands {
		return nil, feedReset
	}
	b := []byte(`{"items":[`)
	for i, row := range rows {
		if i > 0 {
			b = append(b, ',')
		}
		after = postgres.Cursor{Sequence: *row.Sequence, Entry: row.EntryID}
		b = append(b, ChangeJSON(row)...)
	}
	b = fmt.Appendf(b, `],"cursor":%q}`, feedCursor(after))
	return &answer{body: b}, nil
}

// feedReset answers a cursor whose entry does not stand at its sequence number.
var feedReset = fault.Of(fault.Conflict, "feed-reset",
	"This cursor does not exist in this institution's order, which may have been restored from a copy; read everything again from the beginning.")

// ChangeJSON is one entry of the feed, as the list, the stream and the webhooks
// give it. The row must have its sequence number.
func ChangeJSON(row postgres.Row) []byte {
	cursor := feedCursor(postgres.Cursor{Sequence: *row.Sequence, Entry: row.EntryID})
	b := fmt.Appendf(nil, `{"cursor":%q,"sequence":%d,"entry":%q,"record":`, cursor, *row.Sequence, row.EntryID.String())
	return append(append(b, recordJSON(row)...), '}')
}

// feedCursor is a sequence number and the entry that stands there, as text.
func feedCursor(c postgres.Cursor) string {
	raw := binary.BigEndian.AppendUint64(nil, uint64(c.Sequence))
	return base64.RawURLEncoding.EncodeToString(append(raw, c.Entry[:]...))
}

// readFeedCursor reads the text of a cursor; an empty text is the beginning. The database
// checks the cursor. A text that no feed gave gets the number -1, which no entry has.
func readFeedCursor(text string) postgres.Cursor {
	if text == "" {
		return postgres.Cursor{}
	}
	raw, err := base64.RawURLEncoding.Strict().DecodeString(text)
	if err != nil || len(raw) != 24 {
		return postgres.Cursor{Sequence: -1}
	}
	return postgres.Cursor{Sequence: int64(binary.BigEndian.Uint64(raw)), Entry: uuid.UUID(raw[8:])}
}

package httpapi

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// recordAt answers with the revision that stood at a moment.
func recordAt(s *Server, c *call, at *time.Time, err error) (*answer, error) {
	if err != nil {
		return nil, err
	}
	id := c.id("recordId")
	if _, err := s.store.Current(c.ctx(), c.principal.Institution, id); err != nil {
		return nil, err
	}
	place, err := s.store.PlaceAt(c.ctx(), c.principal.Institution, *at)
	if err != nil {
		return nil, err
	}
	row, err := s.store.RecordAt(c.ctx(), c.principal.Institution, id, place)
	if err != nil {
		return nil, err
	}
	if row == nil {
		return nil, fault.Of(fault.NotFound, "not-recorded-then", "The record is here now, and had not been recorded at that moment.")
	}
	return &answer{body: recordJSON(*row)}, nil
}

// listTreatmentsOfSpecimen pages through a specimen's treatments by what is
// known of their dates.
func listTreatmentsOfSpecimen(s *Server, c *call) (*answer, error) {
	specimen := c.id("specimenId")
	if err := s.mustExist(c, record.KindSpecimen, specimen); err != nil {
		return nil, err
	}
	day, after, err := c.dateCursor()
	if err != nil {
		return nil, err
	}
	at, err := c.instant("believedAt")
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	var rows []postgres.Dated
	var tail string
	if at == nil {
		rows, err = s.store.TreatmentsOf(c.ctx(), c.principal.Institution, specimen, day, after, limit+1)
	} else {
		rows, tail, err = s.believed(c, specimen, *at, day, after)
	}
	if err != nil {
		return nil, err
	}
	return c.datedPage(rows, limit, tail), nil
}

// believed gives the treatments that were on a specimen at a moment, by date,
// after a cursor, and the words of the answer that say which moment it was.
func (s *Server) believed(c *call, specimen uuid.UUID, at, day time.Time, after uuid.UUID) (rows []postgres.Dated, tail string, err error) {
	place, err := s.store.PlaceAt(c.ctx(), c.principal.Institution, at)
	if err != nil {
		return nil, "", err
	}
	found, err := s.store.BelievedAt(c.ctx(), c.principal.Institution, specimen, place)
	if err != nil {
		return nil, "", err
	}
	rows = layers.ByDate(layers.Believed(found), day, after)
	for i := range rows {
		rows[i].Place = nil // the list as a whole says which place it is of
	}
	return rows, fmt.Sprintf(`,"asOf":{"moment":%q,"place":%d}`, at.UTC().Format(time.RFC3339Nano), place), nil
}

// datedPage renders a page; rows may hold more than the page.
func (c *call) datedPage(rows []postgres.Dated, limit int, tail string) *answer {
	var next *nextPage
	if len(rows) > limit {
		rows = rows[:limit]
		next = c.next(dateCursor(rows[limit-1].Earliest, rows[limit-1].Record))
	}
	plain := make([]postgres.Row, len(rows))
	for i, r := range rows {
		plain[i] = withBeside(r)
	}
	body := itemsJSON(plain, next)
	a := &answer{body: append(bytes.TrimSuffix(body, []byte("}")), tail+"}"...)}
	if next != nil {
		a.setHeader("Link", "<"+next.href+`>; rel="next"`)
	}
	return a
}

// dateCursor is the day and the id of the last row of a page.
func dateCursor(day time.Time, id uuid.UUID) string {
	raw := binary.BigEndian.AppendUint64(nil, uint64(day.Unix()))
	return base64.RawURLEncoding.EncodeToString(append(raw, id[:]...))
}

func (c *call) dateCursor() (time.Time, uuid.UUID, error) {
	text := c.text("cursor")
	if text == "" {
		return time.Time{}, uuid.Nil, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(raw) != 24 {
		return time.Time{}, uuid.Nil, invalidCursor
	}
	day := time.Unix(int64(binary.BigEndian.Uint64(raw)), 0).UTC()
	if day.Before(time.Time{}) || day.After(postgres.NoDay) {
		return time.Time{}, uuid.Nil, invalidCursor
	}
	return day, uuid.UUID(raw[8:]), nil
}

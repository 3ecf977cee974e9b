package httpapi

import (
	"bytes"
	"cmp"
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
func recordAt(s *Server, c *requestContext, at *time.Time, err error) (*answer, error) {
	if err != nil {
		return nil, err
	}
	id := c.id("recordId")
	if _, err := c.tenant().Current(c.ctx(), id); err != nil {
		return nil, err
	}
	sequence, err := c.tenant().SequenceAt(c.ctx(), *at)
	if err != nil {
		return nil, err
	}
	row, err := c.tenant().RecordAt(c.ctx(), id, sequence)
	if err != nil {
		return nil, err
	}
	if row == nil {
		return nil, fault.Of(fault.NotFound, "not-recorded-then",
			"The record is here now, and had not been recorded at that moment.")
	}
	return &answer{body: recordJSON(*row)}, nil
}

// listTreatmentsOfSpecimen pages through a specimen's treatments by what is
// known of their dates.
func listTreatmentsOfSpecimen(s *Server, c *requestContext) (*answer, error) {
	specimen := c.id("specimenId")
	from, badCursor := c.dateCursor()
	at, badMoment := c.instant("believedAt")
	if bad := cmp.Or(badCursor, badMoment); bad != nil || at != nil {
		if err := cmp.Or(s.mustExist(c, record.KindSpecimen, specimen), bad); err != nil {
			return nil, err
		}
		return s.believed(c, specimen, *at, from)
	}
	return s.walkedByDate(c, specimen, from)
}

// walkedByDate answers with a specimen's treatments as they are now stated. In a list of
// several pages they keep the places that they had when it began.
func (s *Server) walkedByDate(c *requestContext, specimen uuid.UUID, from postgres.Stand) (*answer, error) {
	var began int64
	var now, then []postgres.Dated
	known, err := c.tenant().TreatmentsOf(c.ctx(), specimen, from, c.number("limit")+1, func(w postgres.Walked) error {
		now, then, began = append(now, w.Dated), append(then, layers.AsBegan(w)), w.Began
		return nil
	})
	if err == nil && !known {
		err = unknown(record.KindSpecimen)
	}
	if err != nil {
		return nil, err
	}
	if from.Began == nil && len(now) <= c.number("limit") {
		if a, whole, err := c.datedPage(layers.ByDate(now, from.Day, from.After), began, ""); err != nil || whole {
			return a, err
		}
	}
	a, _, err := c.datedPage(layers.ByDate(then, from.Day, from.After), began, "")
	return a, err
}

// believed answers with the treatments that were on a specimen at a moment, by
// date, after a cursor, and says which moment it was.
func (s *Server) believed(c *requestContext, specimen uuid.UUID, at time.Time, from postgres.Stand) (*answer, error) {
	sequence := deref(from.Began)
	if from.Began == nil {
		var err error
		if sequence, err = c.tenant().SequenceAt(c.ctx(), at); err != nil {
			return nil, err
		}
	}
	found, err := layers.Believed(c.ctx(), c.tenant(), specimen, sequence)
	if err != nil {
		return nil, err
	}
	// The list as a whole says which sequence number it is of.
	a, _, err := c.datedPage(layers.ByDate(found, from.Day, from.After), sequence,
		fmt.Sprintf(`,"asOf":{"moment":%q,"sequence":%d}`, at.UTC().Format(time.RFC3339Nano), sequence))
	return a, err
}

// datedPage renders a page of a walk that began at a sequence number, and tells whether it
// is all of it; list may hold more than the page.
func (c *requestContext) datedPage(list []postgres.Dated, began int64, tail string) (a *answer, whole bool, err error) {
	limit := c.number("limit")
	rows, more, err := c.tenant().Worded(c.ctx(), list[:min(len(list), limit)])
	if err != nil {
		return nil, false, err
	}
	var next *nextPage
	if more || len(list) > limit {
		next = c.next(dateCursor(began, rows[len(rows)-1]))
	}
	plain := make([]postgres.Row, len(rows))
	for i, r := range rows {
		plain[i] = withBeside(r)
	}
	body := itemsJSON(plain, next)
	a = &answer{body: append(bytes.TrimSuffix(body, []byte("}")), tail+"}"...)}
	if next != nil {
		a.setHeader("Link", "<"+next.href+`>; rel="next"`)
	}
	return a, next == nil, nil
}

// dateCursor is the sequence number at which the walk began, and the day and the id of the
// last row of a page.
func dateCursor(began int64, last postgres.Dated) string {
	raw := binary.BigEndian.AppendUint64(nil, uint64(began))
	raw = binary.BigEndian.AppendUint64(raw, uint64(last.Earliest.Unix()))
	return base64.RawURLEncoding.EncodeToString(append(raw, last.Record[:]...))
}

func (c *requestContext) dateCursor() (postgres.Stand, error) {
	text := c.text("cursor")
	if text == "" {
		return postgres.Stand{}, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(raw) != 32 || raw[0] > 0x7f {
		return postgres.Stand{}, invalidCursor
	}
	began, day := int64(binary.BigEndian.Uint64(raw)), time.Unix(int64(binary.BigEndian.Uint64(raw[8:])), 0).UTC()
	if day.Before(time.Time{}) || day.After(postgres.NoDay) {
		return postgres.Stand{}, invalidCursor
	}
	return postgres.Stand{Began: &began, Day: day, After: uuid.UUID(raw[16:])}, nil
}

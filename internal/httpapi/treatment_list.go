package httpapi

import (
	"encoding/base64"
	"encoding/binary"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// listTreatments pages through the treatments that the filters keep.
func listTreatments(s *Server, c *call) (*answer, error) {
	filter, err := c.treatmentFilter()
	if err != nil {
		return nil, err
	}
	since, err := c.instant("recordedSince")
	if err != nil {
		return nil, err
	}
	if since != nil {
		return listTreatmentsSince(s, c, filter, *since)
	}
	return page(func(s *Server, c *call, after uuid.UUID, limit int) ([]postgres.Row, error) {
		return s.store.Treatments(c.ctx(), c.principal.Institution, filter, after, limit)
	})(s, c)
}

// listTreatmentsSince pages in the order of places.
func listTreatmentsSince(s *Server, c *call, filter postgres.TreatmentFilter, since time.Time) (*answer, error) {
	after, err := c.placeCursor()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	rows, err := s.store.TreatmentsSince(c.ctx(), c.principal.Institution, filter, since, after, limit+1)
	if err != nil {
		return nil, err
	}
	more := len(rows) > limit
	rows = rows[:min(len(rows), limit)]
	var next *nextPage
	if more {
		next = c.next(base64.RawURLEncoding.EncodeToString(binary.BigEndian.AppendUint64(nil, uint64(*rows[limit-1].Place))))
	}
	for i := range rows {
		rows[i].Place = nil // a list shows records as they stand, as the other lists do
	}
	a := &answer{body: itemsJSON(rows, next)}
	if next != nil {
		a.setHeader("Link", "<"+next.href+`>; rel="next"`)
	}
	return a, nil
}

// placeCursor is the place after which the page begins; 0 is the beginning.
func (c *call) placeCursor() (int64, error) {
	text := c.text("cursor")
	if text == "" {
		return 0, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(raw) != 8 || raw[0] > 0x7f {
		return 0, invalidCursor
	}
	return int64(binary.BigEndian.Uint64(raw)), nil
}

func (c *call) treatmentFilter() (postgres.TreatmentFilter, error) {
	f := postgres.TreatmentFilter{
		Specimen: c.optionalID("specimen"), Batch: c.optionalID("batch"), Supply: c.optionalID("supply"),
		Person: c.optionalID("person"), Event: c.optionalID("event"), Plan: c.optionalID("plan"),
		Action: c.text("action"), Material: c.text("material"),
		Retracted: c.text("state") == "retracted" || c.text("state") == "any", InForce: c.text("state") == "any",
	}
	for name, day := range map[string]**time.Time{"from": &f.From, "until": &f.Until, "notBefore": &f.NotBefore, "notAfter": &f.NotAfter} {
		d, err := c.day(name)
		if err != nil {
			return f, err
		}
		*day = d
	}
	if area := c.text("area"); area != "" {
		if err := record.CheckArea(area); err != nil {
			return f, parameterFault("area", fault.From(err)[0].Detail)
		}
		f.Areas, f.Within = above(area), area+"/"
		if area == "whole" {
			f.Within = "" // every area is part of it
		}
	}
	return f, nil
}

// above gives an area and those that it lies in, the whole among them.
func above(area string) []string {
	areas := []string{"whole"}
	for i, r := range area + "/" {
		if r == '/' {
			areas = append(areas, area[:i])
		}
	}
	return areas
}

func (c *call) optionalID(name string) uuid.UUID {
	id, _ := uuid.Parse(c.text(name)) // the contract's check has read it before
	return id
}

// day is a query parameter that is a calendar day, or nil.
func (c *call) day(name string) (*time.Time, error) {
	return c.moment(name, time.DateOnly, "Write a day of the calendar, such as 2024-03-12.")
}

// instant is a query parameter that is a moment, or nil.
func (c *call) instant(name string) (*time.Time, error) {
	return c.moment(name, time.RFC3339, "Write a moment with its offset, such as 2024-03-12T09:30:00Z; in a query a plus sign is written %2B.")
}

func (c *call) moment(name, layout, advice string) (*time.Time, error) {
	text := c.text(name)
	if text == "" {
		return nil, nil
	}
	t, err := time.Parse(layout, strings.ToUpper(text))
	if err != nil {
		return nil, parameterFault(name, advice)
	}
	return &t, nil
}

package httpapi

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// notFilters are the query parameters of a list that do not narrow it by what
// the record says.
var notFilters = []string{"limit", "cursor", "fields", "state", "recordedSince"}

// listKinds are the lists that take filters, with the kind of record that they
// are of and the filters that they set themselves.
var listKinds = map[string]struct {
	kind record.Kind
	own  []string
}{
	"listPeople": {kind: record.KindPerson}, "listSpecimens": {kind: record.KindSpecimen},
	"listSupplies": {kind: record.KindSupply}, "listBatches": {kind: record.KindBatch},
	"listAmountChanges": {record.KindAmountChange, []string{"of"}}, "listTreatments": {kind: record.KindTreatment},
	"listPlans": {kind: record.KindPlan},
}

// checkFilters compares a list's parameters with the filters of its kind, in both
// directions, and what each asks for.
func (op *operation) checkFilters() error {
	list, filters := listKinds[op.id], map[string]postgres.Narrowing{}
	if list.kind == "" {
		return nil
	}
	maps.Copy(filters, postgres.Narrowings(list.kind))
	for name, p := range op.query {
		if slices.Contains(notFilters, name) {
			continue
		}
		if n, known := filters[name]; !known || n.Asks != asksOf(p.Schema.Value) {
			return fmt.Errorf("the parameter %s of %s has no filter that asks for %s", name, op.id, asksOf(p.Schema.Value))
		}
		delete(filters, name)
	}
	for name := range filters {
		if !slices.Contains(list.own, name) {
			return fmt.Errorf("the filter %s of a %s is no parameter of %s", name, list.kind, op.id)
		}
	}
	return nil
}

// asksOf is what a parameter of this schema asks for.
func asksOf(s *openapi3.Schema) postgres.Asks {
	switch {
	case s.Format == "uuid":
		return postgres.AsksID
	case s.Format == "date":
		return postgres.AsksDay
	case s.Type.Is("boolean"):
		return postgres.AsksTruth
	case s.Type.Is("number"):
		return postgres.AsksNumber
	}
	return postgres.AsksText
}

// list makes the handler that pages through the records of one kind: with every filter
// that the contract gives the operation, in order of ids, or since a moment in order of
// sequence numbers.
func list(kind record.Kind) handler {
	return func(s *Server, c *requestContext) (*answer, error) {
		f, err := c.filter(kind)
		if err != nil {
			return nil, err
		}
		a, err := s.listed(c, f)
		if err != nil {
			return nil, err
		}
		more, err := c.tenant().MoreBatches(c.ctx(), f)
		if more > 0 {
			a.body = append(bytes.TrimSuffix(a.body, []byte("}")), fmt.Sprintf(`,"moreBatches":%d}`, more)...)
		}
		return a, err
	}
}

// listed pages through what a filter keeps.
func (s *Server) listed(c *requestContext, f postgres.Filter) (*answer, error) {
	since, err := c.instant("recordedSince")
	if err != nil {
		return nil, err
	}
	if since != nil {
		return s.listedSince(c, f, *since)
	}
	return page(func(s *Server, c *requestContext, after uuid.UUID, limit int) ([]postgres.Row, bool, error) {
		return c.tenant().List(c.ctx(), f, after, limit)
	})(s, c)
}

// listedSince pages in order of sequence numbers.
func (s *Server) listedSince(c *requestContext, f postgres.Filter, since time.Time) (*answer, error) {
	after, err := c.sequenceCursor()
	if err != nil {
		return nil, err
	}
	rows, more, err := c.tenant().ListSince(c.ctx(), f, since, after, c.number("limit"))
	if err != nil {
		return nil, err
	}
	var next *nextPage
	if more {
		next = c.next(sequenceCursor(*rows[len(rows)-1].Sequence))
	}
	for i := range rows {
		rows[i].Sequence = nil // as in the other lists
	}
	a := &answer{body: itemsJSON(rows, next)}
	if next != nil {
		a.setHeader("Link", "<"+next.href+`>; rel="next"`)
	}
	return a, nil
}

func sequenceCursor(sequence int64) string {
	return base64.RawURLEncoding.EncodeToString(binary.BigEndian.AppendUint64(nil, uint64(sequence)))
}

// sequenceCursor is the sequence number after which the page begins; 0 is the beginning.
func (c *requestContext) sequenceCursor() (int64, error) {
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

// filter reads the query's filters for records of one kind; but names the parameters that
// are not filters.
func (c *requestContext) filter(kind record.Kind, but ...string) (postgres.Filter, error) {
	f := postgres.Filter{Kind: kind, By: map[string]any{}, State: postgres.State(c.text("state"))}
	for name, given := range c.query {
		if slices.Contains(notFilters, name) || slices.Contains(but, name) {
			continue
		}
		value, err := c.asked(name, given)
		if err != nil {
			return f, err
		}
		f.By[name] = value
	}
	return f, nil
}

// asked is what one parameter asks for, as the database compares it.
func (c *requestContext) asked(name string, given any) (any, error) {
	switch format := c.op.query[name].Schema.Value.Format; {
	case format == "uuid":
		return c.optionalID(name), nil
	case format == "date":
		day, err := c.day(name)
		if err != nil {
			return nil, err
		}
		return *day, nil
	case name == "area":
		if err := record.CheckArea(c.text(name)); err != nil {
			return nil, parameterFault(name, fault.From(err)[0].Detail)
		}
	}
	return given, nil
}

func (c *requestContext) optionalID(name string) uuid.UUID {
	id, _ := uuid.Parse(c.text(name)) // the contract's check has read it before
	return id
}

// day is a query parameter that is a calendar day, or nil.
func (c *requestContext) day(name string) (*time.Time, error) {
	return c.moment(name, time.DateOnly, "Write a day of the calendar, such as 2024-03-12.")
}

// instant is a query parameter that is a moment, or nil.
func (c *requestContext) instant(name string) (*time.Time, error) {
	return c.moment(name, time.RFC3339,
		"Write a moment with its offset, such as 2024-03-12T09:30:00Z; in a query a plus sign is written %2B.")
}

func (c *requestContext) moment(name, layout, advice string) (*time.Time, error) {
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

package httpapi

import (
	"fmt"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// fillBottles records bottles filled from a batch: one request, a record each.
func fillBottles(s *Server, c *requestContext) (*answer, error) {
	request, err := decodeInMonths[api.BottlesRequest](c)
	if err != nil {
		return nil, err
	}
	parent := c.id("batchId")
	if err := s.mustExist(c, record.KindBatch, parent); err != nil {
		return nil, err
	}
	key, err := c.requestKey()
	if err != nil {
		return nil, err
	}
	if key == nil {
		return nil, fault.Of(fault.Malformed, "idempotency-key-missing",
			"Send an Idempotency-Key, so that sending it twice fills the bottles once.")
	}
	bottles := make([]member, len(request.Bottles))
	for i, bottle := range request.Bottles {
		bottles[i] = bottleMember(i, parent, request, bottle)
	}
	w, said, _, err := s.together(c, key, bottles)
	if err != nil {
		return nil, err
	}
	written, err := c.tenant().Write(c.ctx(), w)
	if err != nil {
		return nil, err
	}
	return s.madeTogether(c, record.KindBatch, written, said)
}

// bottleMember is one bottle as a member of the request.
func bottleMember(i int, parent uuid.UUID, request api.BottlesRequest, bottle api.BottleRequest) member {
	st := api.BatchStatement{
		Code: bottle.Code, Kind: api.BatchStatementKind("bottle"), Made: request.Filled, Container: bottle.Container,
		Inputs: &[]api.BatchInput{{
			From:   api.BatchInputFrom{Batch: new(api.Ref(parent))},
			Part:   api.BatchInputPart("stock"),
			Amount: api.AnswerableQuantity{Quantity: &bottle.Amount},
		}},
	}
	if request.By != nil {
		st.MadeBy = &[]api.Involvement{{Person: *request.By, Part: "carried-out"}}
	}
	id := newRequestID()
	if bottle.Id != nil {
		id = *bottle.Id
	}
	return member{id: id, statement: st, reading: statement.OfBatch(&st), pointer: bottlePointer(i)}
}

// bottlePointer turns a pointer into the statement of bottle i into one into the request.
func bottlePointer(i int) func(string) string {
	at := fmt.Sprintf("/bottles/%d", i)
	places := [][2]string{{"/inputs/0/amount/quantity", at + "/amount"}, {"/inputs/0/from", at + "/id"},
		{"/container", at + "/container"}, {"/code", at + "/code"}, {"/made", "/filled"}, {"/madeBy/0/person", "/by"}}
	return func(pointer string) string {
		for _, place := range places {
			if rest, ok := strings.CutPrefix(pointer, place[0]); ok && (rest == "" || rest[0] == '/') {
				if place[0] == "/inputs/0/from" {
					return place[1]
				}
				return place[1] + rest
			}
		}
		return at
	}
}

// listAmountChanges pages through the amount changes of the batch in the path.
func listAmountChanges(s *Server, c *requestContext) (*answer, error) {
	batch := c.id("batchId")
	if err := s.mustExist(c, record.KindBatch, batch); err != nil {
		return nil, err
	}
	f, err := c.filter(record.KindAmountChange)
	if err != nil {
		return nil, err
	}
	f.By["of"] = batch
	return s.listed(c, f)
}

package httpapi

import (
	"fmt"
	"net/http"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

func readBatchStatement(s *Server, c *call, self uuid.UUID, raw []byte) (draft, error) {
	var refs references
	st, err := understand[api.BatchStatement](s, c, raw, &refs)
	if err != nil {
		return draft{}, err
	}
	batch := record.Batch{Code: st.Code, Kind: string(st.Kind), Made: refs.date(st.Made, "/made")}
	refs.date(st.Expiry, "/expiry")
	refs.involvements(st.MadeBy, "/madeBy")
	refs.either(st.LabelStrength != nil, st.LabelStrengthAnswer, "/labelStrength")
	refs.either(st.Solvents != nil, st.SolventsAnswer, "/solvents")
	if st.ClearCheck != nil {
		refs.date(st.ClearCheck.Date, "/clearCheck/date")
		refs.person(st.ClearCheck.By, "/clearCheck/by")
	}
	for i, in := range deref(st.Inputs) {
		batch.Inputs = append(batch.Inputs, refs.input(in, fmt.Sprintf("/inputs/%d/from", i)))
	}
	if err := refs.faults.Merge("", batch.Check(self)); err != nil {
		return draft{}, err
	}
	implied, err := refs.implied(s, c)
	if err != nil {
		return draft{}, err
	}
	batch.People = involved(st.MadeBy)
	statement, err := refs.statement(raw)
	return draft{statement: statement, implied: implied, project: func(p *postgres.Projector) { p.Batch(batch) }}, err
}

func (r *references) input(in api.BatchInput, pointer string) record.Input {
	out := record.Input{Part: string(in.Part)}
	switch from := in.From; {
	case from.Supply != nil:
		out.Supply = from.Supply.Id
		r.record(record.KindSupply, from.Supply.Id, pointer+"/supply/id")
	case from.Batch != nil:
		out.Batch = from.Batch.Id
		r.record(record.KindBatch, from.Batch.Id, pointer+"/batch/id")
	case from.Material != nil:
		out.Material = from.Material.Id
	case from.Words != nil:
		out.Words, out.Candidates = from.Words.Verbatim, deref(from.Words.Candidates)
	}
	return out
}

func readAmountChangeStatement(s *Server, c *call, _ uuid.UUID, raw []byte) (draft, error) {
	var refs references
	st, err := understand[api.AmountChangeStatement](s, c, raw, &refs)
	if err != nil {
		return draft{}, err
	}
	refs.record(record.KindBatch, st.Batch.Id, "/batch/id")
	change := record.AmountChange{Batch: st.Batch.Id, Kind: string(st.Kind), Date: refs.date(st.Date, "/date")}
	refs.person(st.By, "/by")
	if st.With != nil {
		change.With = refs.input(api.BatchInput{From: *st.With}, "/with")
	}
	implied, err := refs.implied(s, c)
	if err != nil {
		return draft{}, err
	}
	if st.By != nil {
		change.By = deref(st.By.Id)
	}
	statement, err := refs.statement(raw)
	return draft{statement: statement, implied: implied, project: func(p *postgres.Projector) { p.AmountChange(change) }}, err
}

// fillBottles records bottles filled from a batch: one request, a record each.
func fillBottles(s *Server, c *call) (*answer, error) {
	request, err := decode[api.BottlesRequest](c)
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
		return nil, fault.Of(fault.Malformed, "idempotency-key-missing", "Send an Idempotency-Key, so that sending it twice fills the bottles once.")
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	refs := references{faults: checkMeaning(base, request, "")}
	filled := refs.date(request.Filled, "/filled")
	refs.person(request.By, "/by")
	implied, err := refs.implied(s, c)
	if err != nil {
		return nil, err
	}
	w := c.write(key, postgres.Entry{}, implied)
	w.Entries = w.Entries[:len(implied)]
	made := record.Batch{Kind: "bottle", Made: filled, Inputs: []record.Input{{Part: "stock", Batch: parent}}}
	if request.By != nil {
		made.People = involved(&[]api.Involvement{{Person: *request.By, Part: "carried-out"}})
	}
	for _, bottle := range request.Bottles {
		made.Code = bottle.Code
		entry, err := bottleEntry(parent, request, bottle, made)
		if err != nil {
			return nil, err
		}
		w.Entries = append(w.Entries, entry)
	}
	written, err := s.store.Write(c.ctx(), w)
	if err != nil {
		return nil, err
	}
	a := &answer{status: http.StatusCreated, body: itemsJSON(written.OfKind(record.KindBatch), nil)}
	return a.saidBefore(written.Replayed), nil
}

func bottleEntry(parent uuid.UUID, request api.BottlesRequest, bottle api.BottleRequest, batch record.Batch) (postgres.Entry, error) {
	st := api.BatchStatement{
		Code: bottle.Code, Kind: api.BatchStatementKind("bottle"), Made: request.Filled, Container: bottle.Container,
		Inputs: &[]api.BatchInput{{
			From:   api.BatchInputFrom{Batch: &api.RecordRef{Id: parent}},
			Part:   api.BatchInputPart("stock"),
			Amount: api.AnswerableQuantity{Quantity: &bottle.Amount},
		}},
	}
	if request.By != nil {
		st.MadeBy = &[]api.Involvement{{Person: *request.By, Part: "carried-out"}}
	}
	statement, err := encode(st)
	if err != nil {
		return postgres.Entry{}, err
	}
	id := newRequestID()
	if bottle.Id != nil {
		id = *bottle.Id
	}
	return postgres.Entry{Record: id, Kind: record.KindBatch, Revision: 1, Act: ledger.Stated, Body: stated(statement),
		Project: func(p *postgres.Projector) { p.Batch(batch) }}, nil
}

// listAmountChanges pages through what became of the batch in the path.
func listAmountChanges(s *Server, c *call) (*answer, error) {
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

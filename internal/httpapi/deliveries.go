package httpapi

import (
	"net/http"
	"time"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// usualOverlap is how many hours a replaced secret stays in force by default.
const usualOverlap = 24

func hours(n int) time.Duration { return time.Duration(n) * time.Hour }

// listDeliveries pages through what was sent, newest first.
func listDeliveries(s *Server, c *requestContext) (*answer, error) {
	h, err := c.tenant().Webhook(c.ctx(), c.id("webhookId"))
	if err != nil {
		return nil, err
	}
	before, err := c.cursor()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	attempts, err := c.tenant().Attempts(c.ctx(), h.ID, before, limit+1)
	if err != nil {
		return nil, err
	}
	list := api.DeliveryList{Items: make([]api.Delivery, 0, len(attempts))}
	for _, a := range attempts[:min(limit, len(attempts))] {
		list.Items = append(list.Items, deliveryOf(a))
	}
	if len(attempts) <= limit {
		return ok(list)
	}
	n := c.next(idCursor(attempts[limit-1].ID))
	list.Next = &api.Next{Cursor: n.cursor, Href: n.href}
	a, err := ok(list)
	if err == nil {
		a.setHeader("Link", "<"+n.href+`>; rel="next"`)
	}
	return a, err
}

func deliveryOf(a postgres.Attempt) api.Delivery {
	out := api.Delivery{
		Id: a.ID, Redelivery: api.RefIf(a.Redelivery), Entry: a.Entry, Sequence: a.Sequence,
		Attempt: int32(a.Attempt), AttemptedAt: a.AttemptedAt,
		TookMilliseconds: int32(a.TookMs), Outcome: api.DeliveryOutcome(a.Outcome), Sentence: a.Sentence,
	}
	if a.Status != nil {
		status := int32(*a.Status)
		out.Status = &status
	}
	return out
}

func listRedeliveries(s *Server, c *requestContext) (*answer, error) {
	h, err := c.tenant().Webhook(c.ctx(), c.id("webhookId"))
	if err != nil {
		return nil, err
	}
	runs, err := c.tenant().Redeliveries(c.ctx(), h.ID)
	if err != nil {
		return nil, err
	}
	list := api.RedeliveryList{Items: make([]api.Redelivery, 0, len(runs))}
	for _, r := range runs {
		list.Items = append(list.Items, redeliveryOf(r))
	}
	return ok(list)
}

// redeliver sends one entry or a range of sequence numbers again.
func redeliver(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.RedeliveryRequest](c)
	if err != nil {
		return nil, err
	}
	key, err := c.neededKey("redelivery")
	if err != nil {
		return nil, err
	}
	h, err := c.tenant().Webhook(c.ctx(), c.id("webhookId"))
	if err != nil {
		return nil, err
	}
	from, to, err := s.rangeOf(c, request)
	if err != nil {
		return nil, err
	}
	run, replayed, err := c.tenant().Redeliver(c.ctx(), c.author().Write(key), h.ID, from, to)
	if err != nil {
		return nil, err
	}
	a, err := with(http.StatusCreated, redeliveryOf(run))
	if err != nil {
		return nil, err
	}
	return a.saidBefore(replayed), nil
}

// rangeOf is the sequence numbers that a request names.
func (s *Server) rangeOf(c *requestContext, request api.RedeliveryRequest) (from, to int64, err error) {
	if request.Entry != nil {
		sequence, err := c.tenant().SequenceOfEntry(c.ctx(), *request.Entry)
		return sequence, sequence, err
	}
	last, err := c.tenant().LastSequence(c.ctx())
	if err != nil {
		return 0, 0, err
	}
	if request.Sequences.To > last || request.Sequences.From > request.Sequences.To {
		return 0, 0, fault.New("sequences-unknown", "/sequences",
			"Write a range of sequence numbers from 1 to %d, the lower first.", last)
	}
	return request.Sequences.From, request.Sequences.To, nil
}

func redeliveryOf(r postgres.Redelivery) api.Redelivery {
	return api.Redelivery{
		Id: r.ID, From: r.From, To: r.To, NextSequence: r.NextSeq, FailedAttempts: int32(r.Attempts), EndedAt: r.EndedAt,
	}
}

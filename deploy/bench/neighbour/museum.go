package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"meniscus/deploy/bench/caller"
)

// pace is how often each of the steady museum's two callers asks.
const pace = 20 * time.Millisecond

// museum is the institution that sends requests at an even pace.
type museum struct {
	caller.Client
	specimen string // the specimen of the writes; lookups are of another one
}

func newMuseum(ctx context.Context, c caller.Client) (*museum, error) {
	id, err := c.Create(ctx, "/v1/specimens",
		caller.Object{"identifiers": caller.Array{caller.Object{"kind": "catalogue-number", "value": "LV.1987/0105"}}})
	if err != nil {
		return nil, err
	}
	_, err = c.Create(ctx, "/v1/specimens",
		caller.Object{"identifiers": caller.Array{caller.Object{"kind": "catalogue-number", "value": "LV.1987/0042"}}})
	return &museum{Client: c, specimen: id}, err
}

// measure looks up and records for some time, one request after the other.
func (m *museum) measure(ctx context.Context, span time.Duration, into *tally) {
	ctx, cancel := context.WithTimeout(ctx, span)
	defer cancel()
	var both sync.WaitGroup
	both.Go(func() {
		m.each(ctx, into, "lookup", http.StatusOK, func(ctx context.Context) (int, error) {
			return m.Send(ctx, http.MethodGet, "/v1/specimen-lookup?number=LV.1987/0042", nil, nil)
		})
	})
	both.Go(func() {
		m.each(ctx, into, "write", http.StatusCreated, func(ctx context.Context) (int, error) {
			return m.Send(ctx, http.MethodPost, "/v1/treatments", caller.Object{"id": uuid.NewString(), "statement": caller.Object{
				"specimen": caller.Object{"id": m.specimen}, "action": "examination", "areas": caller.Object{"paths": caller.Array{"skull"}},
				"dates":       caller.Object{"edtf": "2026-03"},
				"examination": caller.Object{"outcome": "none-found"}}}, nil)
		})
	})
	both.Wait()
}

func (m *museum) each(ctx context.Context, into *tally, what string, want int, ask func(context.Context) (int, error)) {
	tick := time.NewTicker(pace)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		began := time.Now()
		status, err := ask(context.WithoutCancel(ctx)) // the last request is measured to its end
		if err == nil && status != want {
			err = fmt.Errorf("a %s was answered %d", what, status)
		}
		into.add(what, time.Since(began), err)
	}
}

// at is a quantile of the times: the time within which a part of the requests was
// answered.
func (t *tally) at(what string, part float64) time.Duration {
	sorted := slices.Sorted(slices.Values(t.took[what]))
	if len(sorted) == 0 {
		t.failed = append(t.failed, errors.New("nothing was measured of each "+what))
		return 1
	}
	return sorted[min(len(sorted)-1, int(part*float64(len(sorted))))].Round(100 * time.Microsecond)
}

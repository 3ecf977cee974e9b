package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"sync"
	"sync/atomic"

	"github.com/google/uuid"

	"meniscus/deploy/bench/caller"
)

// layers is how many coats are on the flood's specimen.
const layers = 100

// flood is the institution that sends requests without pause and ignores Retry-After.
type flood struct {
	caller.Client
	paths []string
	cards atomic.Int64

	mu      sync.Mutex
	answers map[int]int
}

// newFlood records what makes its reads expensive.
func newFlood(ctx context.Context, c caller.Client) (*flood, error) {
	f := &flood{Client: c, answers: map[int]int{}}
	specimen, err := c.Create(ctx, "/v1/specimens",
		caller.Object{"identifiers": caller.Array{caller.Object{"kind": "catalogue-number", "value": "LV.1"}}})
	if err != nil {
		return nil, err
	}
	batch, err := c.Create(ctx, "/v1/batches", caller.Object{"code": "B-1", "kind": "solution", "inputs": caller.Array{
		caller.Object{"from": caller.Object{"material": caller.Object{"id": "shellac"}}, "part": "solute",
			"amount": caller.Object{"answer": "unknown"}},
		caller.Object{"from": caller.Object{"material": caller.Object{"id": "ethanol"}}, "part": "solvent",
			"amount": caller.Object{"answer": "unknown"}}}})
	if err != nil {
		return nil, err
	}
	for i := range layers {
		_, err := c.Create(ctx, "/v1/treatments", caller.Object{"specimen": caller.Object{"id": specimen}, "action": "coating",
			"dates":     caller.Object{"edtf": fmt.Sprint(1900 + i)},
			"areas":     caller.Object{"paths": caller.Array{fmt.Sprintf("skull/part-%d", i%7)}},
			"materials": caller.Array{caller.Object{"used": caller.Object{"batch": caller.Object{"id": batch}}}}})
		if err != nil {
			return nil, err
		}
	}
	at := "/v1/specimens/" + specimen
	f.paths = []string{at + "/removal-plan", at + "/present-state", at + "/suitability", at + "/sheet",
		at + "/timeline", at + "/treatments?limit=500",
		"/v1/reports/reversible-treatments", "/v1/reports/suitability", "/v1/reports/incomplete-records",
		"/v1/exports/records", at + "/package", "/v1/treatments?limit=500", "/v1/batches/" + batch + "/where-used",
		"/v1/batches/" + batch + "/label?copies=100"}
	return f, nil
}

// begin floods until end is called.
func (f *flood) begin(ctx context.Context, connections int) (end func()) {
	ctx, cancel := context.WithCancel(ctx)
	var all sync.WaitGroup
	all.Go(func() { f.importCards(ctx) })
	for i := range connections - 1 {
		all.Go(func() {
			for n := i; ctx.Err() == nil; n++ {
				path, accept := f.paths[n%len(f.paths)], "application/json"
				switch n % len(f.paths) {
				case 3:
					accept = "text/html"
				case 4:
					accept = "image/svg+xml"
				case 9, 10:
					accept = "application/x-ndjson"
				case 13:
					accept = "application/pdf"
				}
				status, _ := f.Send(ctx, http.MethodGet, path, nil, map[string]string{"Accept": accept})
				f.count(status)
			}
		})
	}
	return func() { cancel(); all.Wait() }
}

func (f *flood) count(status int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.answers[status]++
}

// answered counts the answers by status; 0 is for requests that were cut off at the
// end.
func (f *flood) answered() map[int]int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.answers
}

// importCards sends cards as fast as they are accepted.
func (f *flood) importCards(ctx context.Context) {
	request := caller.Object{"name": "flood", "dryRun": false, "mapping": caller.Object{"format": "csv", "dates": caller.Array{"edtf"},
		"columns": caller.Array{caller.Object{"name": "Card", "field": "card-id"}, caller.Object{"name": "Number", "field": "number"},
			caller.Object{"name": "Treatment", "field": "action"}, caller.Object{"name": "Date", "field": "date"}},
		"constants": caller.Array{caller.Object{"field": "collection", "value": "palaeontology"}},
		"actions":   caller.Array{caller.Object{"words": "cleaned", "action": "cleaning"}}}}
	var begun struct{ ID string }
	if _, err := f.Exchange(ctx, http.MethodPost, "/v1/imports", request,
		map[string]string{"Idempotency-Key": uuid.NewString()}, &begun); err != nil {
		return
	}
	out, in := io.Pipe()
	go func() {
		_, err := io.WriteString(in, "Card,Number,Treatment,Date\n")
		for n := 0; err == nil && ctx.Err() == nil; n++ {
			if _, err = fmt.Fprintf(in, "%d,LV.9/%d,cleaned,1934\n", n, n); err == nil {
				f.cards.Add(1)
			}
		}
		in.CloseWithError(context.Canceled)
	}()
	defer out.Close()
	status, _ := f.Stream(ctx, http.MethodPut, "/v1/imports/"+begun.ID+"/cards", "text/csv", out)
	f.count(status)
}

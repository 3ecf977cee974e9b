package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"sync"
	"sync/atomic"
	"time"
)

type object = map[string]any

// kept is a record that was acknowledged, and how many revisions of it were.
type kept struct {
	id        string
	revisions int
}

// writers are callers who record one thing after another, each until it is acknowledged.
type writers struct {
	key       string
	addresses [2]atomic.Pointer[string]
	again     atomic.Int64 // how many requests were sent again
	refused   atomic.Int64 // how many were answered that the database cannot take them
	entries   int          // of the feed, once it was judged

	lock   sync.Mutex
	kept   map[string]kept // by the source's id
	faults []string
}

func (w *writers) at(instance int, address string) { w.addresses[instance].Store(&address) }

func (w *writers) fault(format string, args ...any) {
	w.lock.Lock()
	defer w.lock.Unlock()
	if len(w.faults) < 20 {
		w.faults = append(w.faults, fmt.Sprintf(format, args...))
	}
}

// start starts callers; the function that it gives lets each end what it is at, and waits.
func (w *writers) start(ctx context.Context, callers int) (wait func()) {
	var all sync.WaitGroup
	var ending atomic.Bool
	for caller := range callers {
		all.Go(func() {
			for n := 0; !ending.Load() && ctx.Err() == nil; n++ {
				w.record(ctx, caller, n)
			}
		})
	}
	return func() { ending.Store(true); all.Wait() }
}

// record records a specimen's treatment under an id of the source, and amends every third.
func (w *writers) record(ctx context.Context, caller, n int) {
	name := fmt.Sprintf("%d-%d", caller, n)
	source := object{"system": "faults", "recordId": name}
	statement := object{"action": "cleaning", "areas": object{"paths": []string{"whole"}}, "dates": object{"edtf": "2026-03"},
		"specimen": object{"identifier": object{"kind": "catalogue-number", "value": "LV.FAULT/" + name, "collection": "faults"}}}
	made, id := w.until(ctx, caller, http.MethodPost, "/v1/treatments", object{"source": source, "statement": statement})
	if !made {
		return
	}
	k := kept{id, 1}
	if n%3 == 0 {
		statement["coats"] = 2
		if said, same := w.until(ctx, caller, http.MethodPut, "/v1/source-records?kind=treatment&system=faults&recordId="+name,
			object{"statement": statement}); said {
			k.revisions++
			if same != id {
				w.fault("%s: recorded as %s and amended as %s", name, id, same)
			}
		}
	}
	w.lock.Lock()
	w.kept[name] = k
	w.lock.Unlock()
}

// until sends a request, to one instance or the other, until it is acknowledged.
func (w *writers) until(ctx context.Context, caller int, method, path string, body object) (made bool, id string) {
	for try := caller; ctx.Err() == nil; try++ {
		status, wait, said := w.send(ctx, try%2, method, path, body)
		switch status {
		case http.StatusOK, http.StatusCreated:
			if record, of := said["record"].(object); of { // what came of a source's statement
				said = record
			}
			id, _ = said["id"].(string)
			return true, id
		case 0: // nobody answered
			wait = 50 * time.Millisecond
		case http.StatusConflict, http.StatusServiceUnavailable, http.StatusTooManyRequests:
			if wait == 0 {
				w.fault("%s %s: %d without Retry-After: %v", method, path, status, said)
				return false, ""
			}
		default:
			w.fault("%s %s: %d %v", method, path, status, said)
			return false, ""
		}
		if status == http.StatusServiceUnavailable {
			w.refused.Add(1)
		}
		w.again.Add(1)
		_ = sleep(ctx, min(wait, 200*time.Millisecond))
	}
	return false, ""
}

// send sends a request to an instance; the status is 0 where nobody answered it whole.
func (w *writers) send(ctx context.Context, instance int, method, path string, body any,
) (status int, wait time.Duration, said object) {
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	encoded, _ := json.Marshal(body) // texts and numbers always encode
	r, err := http.NewRequestWithContext(ctx, method, "http://"+*w.addresses[instance].Load()+path, bytes.NewReader(encoded))
	if err != nil {
		return 0, 0, nil
	}
	r.Header.Set("Authorization", "Bearer "+w.key)
	r.Header.Set("Content-Type", "application/json")
	if path == "/v1/webhooks" {
		r.Header.Set("Idempotency-Key", "faults")
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, 0, nil
	}
	defer func() { _ = answer.Body.Close() }()
	read, err := io.ReadAll(answer.Body)
	if err != nil {
		return 0, 0, nil
	}
	_ = json.Unmarshal(read, &said) // what is no object is told by its status
	if after, err := time.ParseDuration(answer.Header.Get("Retry-After") + "s"); err == nil {
		wait = max(after, time.Millisecond)
	}
	return answer.StatusCode, wait, said
}

// subscribe has every entry delivered to an address.
func (w *writers) subscribe(ctx context.Context, url string) error {
	status, _, said := w.send(ctx, 0, http.MethodPost, "/v1/webhooks", object{"url": url, "name": "faults", "startAfter": 0})
	if status != http.StatusCreated {
		return fmt.Errorf("making a webhook: %d %v", status, said)
	}
	return nil
}

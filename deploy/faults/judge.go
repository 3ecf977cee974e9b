package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os/exec"
	"sync"
	"sync/atomic"
	"time"

	"meniscus/deploy/running"
)

// hooks takes webhooks, and notes which messages came.
type hooks struct {
	url  string
	got  atomic.Int64
	lock sync.Mutex
	ids  map[string]int64 // the sequence number of each message, by its id
	bad  []string
}

func listen() (*hooks, error) {
	at, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	h := &hooks{url: "http://" + at.Addr().String() + "/", ids: map[string]int64{}}
	server := &http.Server{Handler: h, ReadHeaderTimeout: time.Minute}
	go func() { _ = server.Serve(at) }() // it ends with the process
	return h, nil
}

func (h *hooks) ServeHTTP(_ http.ResponseWriter, r *http.Request) {
	var event struct {
		Data struct{ Sequence int64 }
	}
	err := json.NewDecoder(r.Body).Decode(&event)
	id := r.Header.Get("Webhook-Id")
	h.lock.Lock()
	defer h.lock.Unlock()
	h.got.Add(1)
	if before, again := h.ids[id]; err != nil || id == "" || again && before != event.Data.Sequence {
		h.bad = append(h.bad, fmt.Sprintf("the message %q is of entry %d, and of %d: %v", id, event.Data.Sequence, before, err))
	}
	h.ids[id] = event.Data.Sequence
}

// told is how many messages tell of each entry.
func (h *hooks) told() map[int64]int {
	h.lock.Lock()
	defer h.lock.Unlock()
	times := map[int64]int{}
	for _, sequence := range h.ids {
		times[sequence]++
	}
	return times
}

// change is an entry of the feed.
type change struct {
	Sequence int64
	Entry    string
	Record   struct {
		ID         string
		Kind       string
		Revision   int
		RecordedAt time.Time
		Source     struct{ RecordID string }
	}
}

// judge gives what is not as it must be, once everything has its number.
func (w *writers) judge(ctx context.Context, s *running.Service, on string, h *hooks) (faults []string, err error) {
	fault := func(format string, args ...any) {
		if len(faults) < 20 {
			faults = append(faults, fmt.Sprintf(format, args...))
		}
	}
	feed, err := w.feed(ctx)
	if err != nil {
		return nil, err
	}
	w.entries = len(feed)
	if on == "clock" && !steppedBack(feed) {
		fault("the clock did not step back: nothing was tried")
	}
	if on == "disk" && w.refused.Load() == 0 {
		fault("no request met a full disk: nothing was tried")
	}
	revisions, sources := map[string]int{}, map[string]string{}
	for i, c := range feed {
		if c.Sequence != int64(i)+1 {
			fault("the feed has %d where %d belongs", c.Sequence, i+1)
			break
		}
		revisions[c.Record.ID]++
		if name := c.Record.Source.RecordID; name != "" {
			if before := sources[name]; before != "" && before != c.Record.ID {
				fault("%s is there twice: %s and %s", name, before, c.Record.ID)
			}
			sources[name] = c.Record.ID
		}
	}
	for name, k := range w.kept {
		if sources[name] != k.id || revisions[k.id] != k.revisions {
			fault("%s was acknowledged as %s with %d revisions, and is %q with %d", name, k.id, k.revisions, sources[name],
				revisions[k.id])
		}
	}
	for sequence, times := range w.delivered(ctx, h) {
		if times != 1 {
			fault("%d messages with ids of their own tell of entry %d", times, sequence)
		}
	}
	for _, bad := range h.bad {
		fault("%s", bad)
	}
	var ended *exec.ExitError
	switch err := s.Verify(ctx); {
	case errors.As(err, &ended) && ended.ExitCode() == 3: // nothing is wrong, and a killed worker's specimen waits
		fmt.Println("faults:", err)
	case err != nil:
		fault("%v", err)
	}
	return faults, nil
}

// steppedBack tells whether an entry was recorded half an hour before one that stands before it.
func steppedBack(feed []change) bool {
	var latest time.Time
	for _, c := range feed {
		if latest.Sub(c.Record.RecordedAt) > 30*time.Minute {
			return true
		}
		if c.Record.RecordedAt.After(latest) {
			latest = c.Record.RecordedAt
		}
	}
	return false
}

// feed is the whole feed, when it holds everything that was acknowledged.
func (w *writers) feed(ctx context.Context) (all []change, err error) {
	wanted := 0
	for _, k := range w.kept {
		wanted += k.revisions
	}
	for try := 0; ; try++ {
		all = nil
		for path := "/v1/changes?limit=500"; ; {
			var page struct {
				Items  []change
				Cursor string
			}
			status, _, said := w.send(ctx, 0, http.MethodGet, path, nil)
			if status != http.StatusOK {
				return nil, fmt.Errorf("reading the feed: %d %v", status, said)
			}
			encoded, _ := json.Marshal(said) // it was decoded
			if err := json.Unmarshal(encoded, &page); err != nil {
				return nil, fmt.Errorf("reading the feed: %w", err)
			}
			if len(page.Items) == 0 {
				break
			}
			all, path = append(all, page.Items...), "/v1/changes?limit=500&cursor="+page.Cursor
		}
		treated := 0
		for _, c := range all {
			if c.Record.Kind == "treatment" {
				treated++
			}
		}
		if treated >= wanted || try == 100 {
			return all, sleep(ctx, time.Second) // verify wants the rest sealed too
		}
		if err := sleep(ctx, 100*time.Millisecond); err != nil {
			return nil, err
		}
	}
}

// delivered is how many messages tell of each entry, when all have come or none has for two
// minutes: what a killed worker was delivering is another's when its lease has ended.
func (w *writers) delivered(ctx context.Context, h *hooks) map[int64]int {
	for last, quiet := int64(-1), 0; quiet < 1200 && sleep(ctx, 100*time.Millisecond) == nil; quiet++ {
		if got := h.got.Load(); got != last {
			last, quiet = got, 0
		}
		if len(h.told()) >= w.entries {
			break
		}
	}
	times := h.told()
	for sequence := int64(1); sequence <= int64(w.entries); sequence++ {
		times[sequence] += 0 // one that none tells of is there too
	}
	return times
}

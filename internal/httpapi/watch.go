package httpapi

import (
	"context"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// watch tells open streams when an institution's order has grown. One goroutine
// looks for all streams of this process, so that a thousand of them ask the
// database no more than one does; it runs only while there are any.
type watch struct {
	store *postgres.Store
	most  int           // streams at once, of all institutions
	nudge chan struct{} // a sealer of this process has sealed something

	mu    sync.Mutex
	open  int
	tails map[uuid.UUID]*tail
	stop  context.CancelFunc
}

// tail is the end of one institution's order, and how many streams wait there.
type tail struct {
	streams int
	last    int64
	grown   chan struct{} // closed when last grows, and replaced
	keys    map[uuid.UUID]*heldKey
}

// heldKey is a key with streams open.
type heldKey struct {
	streams int
	ended   chan struct{} // closed when the key is no longer valid
	over    bool
}

const (
	// lookEvery is how late a stream hears of what another process sealed.
	lookEvery = 100 * time.Millisecond
	// keysEvery is how many looks pass between checks of the keys: a key that another
	// process revoked, or that expired, ends its streams after a second.
	keysEvery = 10
	// streamShare is the part of all streams that one institution may hold.
	streamShare = 0.5
	// streamWait is what a caller is asked to wait when there is no room.
	streamWait = 10 * time.Second
)

func newWatch(store *postgres.Store, most int) *watch {
	return &watch{store: store, most: most, nudge: make(chan struct{}, 1), tails: map[uuid.UUID]*tail{}}
}

// join counts a stream in, or says that there is no room for it. ended is closed when the
// key is no longer valid.
func (w *watch) join(institution, key uuid.UUID) (ended <-chan struct{}, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.open >= w.most {
		return nil, &fault.Fault{Kind: fault.Unavailable, Code: "streams-full", Wait: streamWait,
			Detail: "No more streams can be opened here at the moment; try again later, or ask for /v1/changes."}
	}
	t := w.tails[institution]
	if t == nil {
		t = &tail{grown: make(chan struct{}), keys: map[uuid.UUID]*heldKey{}}
		w.tails[institution] = t
	}
	if float64(t.streams) >= max(1, streamShare*float64(w.most)) {
		return nil, &fault.Fault{Kind: fault.TooMany, Code: "streams-too-many", Wait: streamWait,
			Detail: "This institution holds as many open streams as it may; close one, or ask for /v1/changes."}
	}
	k := t.keys[key]
	if k == nil {
		k = &heldKey{ended: make(chan struct{})}
		t.keys[key] = k
	}
	k.streams++
	t.streams++
	w.open++
	if w.open == 1 {
		ctx, stop := context.WithCancel(context.Background())
		w.stop = stop
		go w.look(ctx)
	}
	return k.ended, nil
}

// leave counts a stream out.
func (w *watch) leave(institution, key uuid.UUID) {
	w.mu.Lock()
	defer w.mu.Unlock()
	t := w.tails[institution]
	if k := t.keys[key]; k.streams == 1 {
		delete(t.keys, key)
	} else {
		k.streams--
	}
	if t.streams--; t.streams == 0 {
		delete(w.tails, institution)
	}
	if w.open--; w.open == 0 {
		w.stop()
	}
}

// grown is closed when the institution's order grows after this call.
func (w *watch) grown(institution uuid.UUID) <-chan struct{} {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.tails[institution].grown
}

// look asks for the end of each followed order until the last stream has left.
func (w *watch) look(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for looks := 1; ; looks++ {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		case <-w.nudge:
		}
		for _, institution := range w.followed() {
			if looks%keysEvery == 0 {
				w.lookAtKeys(ctx, institution)
			}
			// While the database is unavailable there is nothing to tell; the streams
			// notice it when they read.
			if last, err := w.store.For(institution).LastSequence(ctx); err == nil {
				w.tell(institution, last)
			}
		}
	}
}

// lookAtKeys ends the streams of an institution's keys that are no longer valid. While
// the database is unavailable it ends none.
func (w *watch) lookAtKeys(ctx context.Context, institution uuid.UUID) {
	w.mu.Lock()
	var held []uuid.UUID
	if t := w.tails[institution]; t != nil {
		held = slices.Collect(maps.Keys(t.keys))
	}
	w.mu.Unlock()
	if ended, err := w.store.For(institution).EndedKeys(ctx, held); err == nil {
		w.end(institution, ended...)
	}
}

// end ends the streams of keys.
func (w *watch) end(institution uuid.UUID, keys ...uuid.UUID) {
	w.mu.Lock()
	defer w.mu.Unlock()
	t := w.tails[institution]
	if t == nil {
		return
	}
	for _, key := range keys {
		if k := t.keys[key]; k != nil && !k.over {
			k.over = true
			close(k.ended)
		}
	}
}

func (w *watch) followed() []uuid.UUID {
	w.mu.Lock()
	defer w.mu.Unlock()
	followed := make([]uuid.UUID, 0, len(w.tails))
	for institution := range w.tails {
		followed = append(followed, institution)
	}
	return followed
}

// tell wakes an institution's streams if its last sequence number has changed; after a
// restore it may be lower.
func (w *watch) tell(institution uuid.UUID, last int64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if t := w.tails[institution]; t != nil && t.last != last {
		t.last = last
		close(t.grown)
		t.grown = make(chan struct{})
	}
}

// sealed says that a sealer of this process has given new sequence numbers.
func (w *watch) sealed() {
	select {
	case w.nudge <- struct{}{}:
	default:
	}
}

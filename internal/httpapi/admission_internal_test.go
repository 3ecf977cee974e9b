package httpapi

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/httpapi/judge"
)

// hold admits work until none of its kind gets in without waiting.
func (a *admission) hold(t *testing.T, caller string, keyed bool, class string) (release func(), held int) {
	t.Helper()
	w, queue := classes[class], a.ownQueue
	a.ownQueue = 0
	defer func() { a.ownQueue = queue }()
	var leaves []func()
	for {
		leave, err := a.enter(t.Context(), caller, keyed, w, w.costs(0))
		if err != nil {
			if !fault.Is(err, fault.TooMany) {
				t.Fatalf("got %v, want the caller's own share full", err)
			}
			return func() {
				for _, leave := range leaves {
					leave()
				}
			}, len(leaves)
		}
		leaves = append(leaves, leave)
	}
}

// empty tells whether nothing is held or waits.
func (a *admission) empty() bool {
	for _, s := range []*share{a.all, a.keyless} {
		if s.waiting.Load() != 0 || !s.memory.TryAcquire(s.size) {
			return false
		}
		s.memory.Release(s.size)
		if !s.large.TryAcquire(s.most) {
			return false
		}
		s.large.Release(s.most)
	}
	return a.atWork() == 0
}

// However much a caller asks for, another's request begins at once; and what was
// held is given back.
func TestOneCallersShareIsNotAnothers(t *testing.T) {
	t.Parallel()
	for class, w := range classes {
		if w.turn == "" {
			continue // it is not admitted
		}
		a := newAdmission(0, 0)
		release, held := a.hold(t, "greedy", true, class)
		if most := times(turns[w.turn].own, a.processors); held < 1 || int64(held) > most {
			t.Errorf("%s: got %d at once, want 1 to %d", class, held, most)
		}
		for _, other := range classes {
			if other.turn == "" {
				continue
			}
			leave, err := a.enter(t.Context(), "another", true, other, other.costs(1<<20))
			if err != nil {
				t.Errorf("%s beside %s: %v", other.name, class, err)
				continue
			}
			leave()
		}
		release()
		if !a.empty() {
			t.Errorf("%s: something is still held", class)
		}
	}
}

// What many addresses ask without a key leaves room for those with one.
func TestWithoutAKeyThereIsRoomForThoseWithOne(t *testing.T) {
	t.Parallel()
	a := newAdmission(0, 0)
	a.all.queue, a.keyless.queue = 0, 0
	var releases []func()
	for address := 'a'; ; address++ {
		leave, err := a.enter(t.Context(), string(address), false, classes["compute"], 1)
		if fault.Is(err, fault.Unavailable) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		releases = append(releases, leave)
	}
	leave, err := a.enter(t.Context(), "museum", true, classes["compute"], 1)
	if err != nil {
		t.Fatalf("beside %d without a key: %v", len(releases), err)
	}
	for _, leave := range append(releases, leave) {
		leave()
	}
	if !a.empty() {
		t.Error("something is still held")
	}
}

// However much large work a caller has at work and waiting, what is small of its own
// begins, and the chunks of what is at work find their turns.
func TestLargeWorkLeavesRoomForWhatIsSmall(t *testing.T) {
	t.Parallel()
	for _, limit := range []int64{256 << 20, 512 << 20, 900 << 20, 4 << 30} {
		a := newAdmission(limit, 0)
		imports, _ := a.hold(t, "museum", true, "import")
		exports, _ := a.hold(t, "museum", true, "export")
		own, rest := a.shares["museum"], int64(0)
		own.queue = 3
		for own.large.TryAcquire(1) {
			rest++
		}
		ctx, cancel := context.WithCancel(t.Context())
		var group sync.WaitGroup
		for _, class := range []string{"bulk", "report", "read"} {
			group.Go(func() {
				if _, err := a.enter(ctx, "museum", true, classes[class], classes[class].costs(1<<20)); err == nil {
					t.Errorf("%d MiB: %s began", limit>>20, class)
				}
			})
		}
		for own.waiting.Load() < 3 {
			runtime.Gosched()
		}
		for _, class := range []string{"lookup", "page"} {
			leave, err := a.enter(t.Context(), "museum", true, classes[class], classes[class].costs(0))
			if err != nil {
				t.Fatalf("%d MiB: %s: %v", limit>>20, class, err)
			}
			leave()
		}
		if !own.turns["expensive"].TryAcquire(1) {
			t.Fatalf("%d MiB: what waits has the turn that a chunk needs", limit>>20)
		}
		own.turns["expensive"].Release(1)
		cancel()
		group.Wait()
		own.large.Release(rest)
		imports()
		exports()
		if !a.empty() {
			t.Errorf("%d MiB: something is still held", limit>>20)
		}
	}
}

// A request that is larger than the whole share has it alone, and does not wait
// for ever.
func TestALargeRequestHasTheShareAlone(t *testing.T) {
	t.Parallel()
	a := newAdmission(0, 0)
	leave, err := a.enter(t.Context(), "museum", true, classes["write"], 1<<40)
	if err != nil {
		t.Fatal(err)
	}
	a.ownQueue = 0
	leave()
	if !a.empty() {
		t.Error("something is still held")
	}
}

// Those who wait begin in turn; the wait of one who leaves ends, and takes
// nothing with it; the queue has an end.
func TestTheQueueHasAnEndAndIsLeft(t *testing.T) {
	t.Parallel()
	a := newAdmission(0, 0)
	w := classes["report"]
	release, held := a.hold(t, "museum", true, "report")
	a.shares["museum"].queue = 3
	ctx, cancel := context.WithCancel(t.Context())
	outcomes := make(chan error, 10)
	wait := func(ctx context.Context) {
		leave, err := a.enter(ctx, "museum", true, w, w.costs(0))
		if err == nil {
			leave()
		}
		outcomes <- err
	}
	go wait(ctx)
	for a.shares["museum"].waiting.Load() < 1 {
	}
	cancel()
	if err := <-outcomes; !errors.Is(err, context.Canceled) {
		t.Errorf("one who left: got %v", err)
	}
	var group sync.WaitGroup
	for range 3 {
		group.Go(func() { wait(t.Context()) })
	}
	for a.shares["museum"].waiting.Load() < 3 {
	}
	wait(t.Context())
	if err := <-outcomes; !fault.Is(err, fault.TooMany) {
		t.Errorf("beyond the queue: got %v, want too many", err)
	}
	release()
	group.Wait()
	for range 3 {
		if err := <-outcomes; err != nil {
			t.Errorf("one who waited: %v", err)
		}
	}
	if !a.empty() {
		t.Errorf("something is still held, of %d", held)
	}
}

// A full share is said as the contract documents it, with when to come again;
// probes are answered all the same.
func TestWhatAFullServiceSays(t *testing.T) {
	t.Parallel()
	s, err := New(Config{PublicURL: "https://meniscus.example"})
	if err != nil {
		t.Fatal(err)
	}
	h := judge.Handler(t, s)
	ask := func(method, path, body string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		r.RemoteAddr = "[2001:db8::1]:4711"
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	refused := func(what string, w *httptest.ResponseRecorder, status int, code string) {
		t.Helper()
		if w.Code != status || !strings.Contains(w.Body.String(), `"code":"`+code+`"`) || w.Header().Get("Retry-After") == "" {
			t.Errorf("%s: got %d, Retry-After %q: %s", what, w.Code, w.Header().Get("Retry-After"), w.Body)
		}
	}
	release, _ := s.admission.hold(t, "2001:db8::", false, "compute")
	s.admission.shares["2001:db8::"].queue = 0
	refused("its own share full", ask(http.MethodPost, "/v1/compute/make-up", "{}"), http.StatusTooManyRequests, "share-full")
	if w := ask(http.MethodGet, "/v1/materials/acetone", ""); w.Code != http.StatusOK {
		t.Errorf("work of another class: got %d: %s", w.Code, w.Body)
	}
	release()
	if w := ask(http.MethodPost, "/v1/compute/make-up", "{}"); w.Code != http.StatusUnprocessableEntity && w.Code != http.StatusBadRequest {
		t.Errorf("afterwards: got %d: %s", w.Code, w.Body)
	}
	s.admission.all.queue = 0
	for _, turns := range s.admission.all.turns {
		for turns.TryAcquire(1) {
		}
	}
	for id, op := range s.ops {
		if op.work.name != "probe" && op.keyless {
			refused(id, ask(op.method, strings.ReplaceAll(op.path, "{term}", "cleaning"), ""), http.StatusServiceUnavailable, "service-full")
		}
	}
	refused("a computation", ask(http.MethodPost, "/v1/compute/make-up", "{}"), http.StatusServiceUnavailable, "service-full")
	for _, probe := range []string{"/livez", "/readyz"} {
		if w := ask(http.MethodGet, probe, ""); w.Code != http.StatusOK {
			t.Errorf("%s: got %d", probe, w.Code)
		}
	}
}

// AtRest tells whether no request holds or waits for anything.
func (s *Server) AtRest() bool { return s.admission.empty() }

// Declared is what a request of a class with a body of so many bytes is reckoned
// with, in bytes.
func Declared(class string, body int64) int64 { return classes[class].costs(body) << 20 }

// TakeTurns takes the turns of a sort that a caller has left.
func (s *Server) TakeTurns(caller, turn string) (giveBack func()) {
	own, n := s.admission.join(caller, true), int64(0)
	for own.turns[turn].TryAcquire(1) {
		n++
	}
	return func() {
		own.turns[turn].Release(n)
		s.admission.depart(caller, nil, nil, 0)
	}
}

// Waiting is how many requests of a caller wait to begin.
func (s *Server) Waiting(caller string) int64 {
	own := s.admission.join(caller, true)
	defer s.admission.depart(caller, nil, nil, 0)
	return own.waiting.Load()
}

// atWork tells of how many callers there are requests.
func (a *admission) atWork() int {
	a.mu.Lock()
	defer a.mu.Unlock()
	return len(a.shares)
}

// With few connections and many processors, what holds one for long never takes more
// than half of them.
func TestLongWorkLeavesConnections(t *testing.T) {
	t.Parallel()
	for _, connections := range []int{4, 5, 16, 100, 500} {
		a := newAdmission(0, connections)
		a.processors = 64
		s := a.share(1, 0, func(_, all float64) float64 { return all })
		var long int
		for _, turn := range []string{"expensive", "import"} {
			for s.turns[turn].TryAcquire(1) {
				long++
			}
		}
		if long < 2 || long > connections/2 {
			t.Errorf("of %d connections: got %d for long work, want 2 to half", connections, long)
		}
	}
}

// Pages that no operation gives are admitted too.
func TestPagesAreAdmitted(t *testing.T) {
	t.Parallel()
	s, err := New(Config{PublicURL: "https://meniscus.example"})
	if err != nil {
		t.Fatal(err)
	}
	s.admission.ownQueue = 0
	get := func(path string) int {
		w := httptest.NewRecorder()
		r := httptest.NewRequest(http.MethodGet, path, nil)
		r.RemoteAddr = "192.0.2.7:4000"
		s.ServeHTTP(w, r)
		return w.Code
	}
	paths := []string{"/docs", "/problems/validation", "/openapi.yaml", "/.well-known/api-catalog"}
	for _, path := range paths {
		if got := get(path); got != http.StatusOK {
			t.Errorf("%s: got %d", path, got)
		}
	}
	release, _ := s.admission.hold(t, "192.0.2.7", false, "page")
	s.admission.shares["192.0.2.7"].queue = 0
	for _, path := range paths {
		if got := get(path); got != http.StatusTooManyRequests {
			t.Errorf("%s beside a full share: got %d, want 429", path, got)
		}
	}
	release()
	if !s.admission.empty() {
		t.Error("something is still held")
	}
}

package httpapi

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sync/semaphore"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// admission lets requests begin while those at work stay within bounds: the turns of each
// class, and the memory of all. Each caller has a share of its own, and all requests
// without a key have one together, so that no caller keeps the others waiting for long. A
// request that finds a share full waits in its queue, and is refused when the queue is
// full too.
type admission struct {
	budget      int64 // MiB of all requests together
	processors  int
	connections int // to the database, for requests; 0 is not known
	all         *share
	keyless     *share
	ownQueue    int64

	mu     sync.Mutex
	shares map[string]*share // of the callers with requests
	spare  map[int64]*share  // a share that no caller has, by its part of the memory
}

const (
	// restingPart divides the memory limit: requests get 1/restingPart. The rest is for
	// the program at rest, connections, waiting requests, and garbage between
	// collections.
	restingPart = 2
	// unlimited is the memory that is assumed when there is no limit.
	unlimited = 1 << 30
	// ownPart divides the memory: an institution gets 1/ownPart at most, an address half of
	// that.
	ownPart = 2
	// waitLimit is how long a request waits to begin.
	waitLimit = 15 * time.Second
	// callersQueue is how many requests of one caller wait at most, and allQueue how
	// many of all. One that waits holds its connection and some 30 KiB.
	callersQueue, allQueue = 200, 1000
)

// newAdmission shares out the memory that the process may take, and the connections
// that it has.
func newAdmission(limit int64, connections int) *admission {
	if limit <= 0 {
		limit = unlimited
	}
	a := &admission{
		budget: max(1, limit>>20/restingPart), processors: runtime.GOMAXPROCS(0), connections: connections,
		ownQueue: callersQueue, shares: map[string]*share{}, spare: map[int64]*share{},
	}
	everybody := func(_, all float64) float64 { return all }
	a.all = a.share(a.budget, allQueue, everybody)
	a.keyless = a.share(a.budget/ownPart, allQueue/2, func(own, all float64) float64 { return max(own, all/2) })
	return a
}

// share is a part of the memory and of the turns.
type share struct {
	size    int64 // of memory
	memory  *semaphore.Weighted
	most    int64 // of memory for large work, so that some is left for small work
	large   *semaphore.Weighted
	turns   map[string]*semaphore.Weighted
	queue   int64
	waiting atomic.Int64
	part    int64 // of a caller: of the memory
	here    int   // of a caller: its requests that wait or are at work
}

func (a *admission) share(size, queue int64, of func(own, all float64) float64) *share {
	s := &share{size: max(1, size), most: max(1, size*3/4), queue: queue, turns: map[string]*semaphore.Weighted{}}
	s.memory, s.large = semaphore.NewWeighted(s.size), semaphore.NewWeighted(s.most)
	for name, n := range turns {
		s.turns[name] = semaphore.NewWeighted(a.times(name, of(n.own, n.all)))
	}
	return s
}

// times is how many turns there are. Expensive work and imports hold a connection for
// long: each has a quarter of them at most, so that half are left for the rest.
func (a *admission) times(turn string, each float64) int64 {
	n := times(each, a.processors)
	if a.connections > 0 && (turn == "expensive" || turn == "import") {
		n = min(n, max(1, int64(a.connections/4)))
	}
	return n
}

// piece is an amount of one semaphore.
type piece struct {
	of *semaphore.Weighted
	n  int64
}

// pieces are what a request takes of a share, in this order. Large work takes its memory
// before its turn, because a running import holds memory and needs a turn for each of its
// chunks. A request larger than the share has it alone.
func (s *share) pieces(w *work, memory int64) []piece {
	if w.large() {
		memory = min(memory, s.most)
		return []piece{{s.large, memory}, {s.turns[w.turn], 1}, {s.memory, memory}}
	}
	return []piece{{s.turns[w.turn], 1}, {s.memory, min(memory, s.size)}}
}

// enter waits for what a request takes.
func (s *share) enter(ctx context.Context, w *work, memory int64) error {
	pieces := s.pieces(w, memory)
	begun := slices.IndexFunc(pieces, func(p piece) bool { return !p.of.TryAcquire(p.n) })
	if begun < 0 {
		return nil
	}
	giveBack(pieces[:begun])
	if s.waiting.Add(1) > s.queue {
		s.waiting.Add(-1)
		return errQueueFull
	}
	defer s.waiting.Add(-1)
	for i, p := range pieces {
		if err := p.of.Acquire(ctx, p.n); err != nil {
			giveBack(pieces[:i])
			return context.Cause(ctx)
		}
	}
	return nil
}

func (s *share) leave(w *work, memory int64) { giveBack(s.pieces(w, memory)) }

func giveBack(pieces []piece) {
	for _, p := range pieces {
		p.of.Release(p.n)
	}
}

// errQueueFull refuses a request; work.refused makes the caller's answer from it.
var errQueueFull = fault.Of(fault.Unavailable, "service-full", "The service has as much to do as it can.")

// enter lets a caller's request begin, or refuses it: with 429 when the caller's own
// share is full, else with 503. The wait ends with ctx.
func (a *admission) enter(
	ctx context.Context, caller string, keyed bool, w *work, memory int64,
) (leave func(), err error) {
	ctx, cancel := context.WithTimeoutCause(ctx, waitLimit, errQueueFull)
	defer cancel()
	own := a.join(caller, keyed)
	memory = min(memory, own.size)
	through := []*share{own}
	if !keyed {
		through = append(through, a.keyless)
	}
	through = append(through, a.all)
	for i, s := range through {
		if err := s.enter(ctx, w, memory); err != nil {
			a.depart(caller, through[:i], w, memory)
			return nil, w.refused(err, s == own)
		}
	}
	return sync.OnceFunc(func() { a.depart(caller, through, w, memory) }), nil
}

// refused is the fault that a request gets when it cannot begin.
func (w *work) refused(err error, own bool) error {
	switch {
	case err != error(errQueueFull):
		return err // its caller has gone
	case own:
		return &fault.Fault{Kind: fault.TooMany, Code: "share-full", Wait: w.retry,
			Detail: fmt.Sprintf(
				"As many requests of yours are at work (%s) as may be at once, and as many wait; send fewer at a time.", w.name)}
	}
	return &fault.Fault{
		Kind: fault.Unavailable, Code: errQueueFull.Code, Wait: w.retry,
		Detail: errQueueFull.Detail + " Nothing was done; send it again.",
	}
}

// turn does a page or a chunk of a request that was admitted already, in an expensive
// turn. The wait ends only with ctx, because a request that has begun is not refused.
func (a *admission) turn(ctx context.Context, caller string, keyed bool, work func() error) error {
	own := a.join(caller, keyed)
	defer a.depart(caller, nil, nil, 0)
	for _, s := range []*share{own, a.all} {
		if err := s.turns["expensive"].Acquire(ctx, 1); err != nil {
			return err
		}
		defer s.turns["expensive"].Release(1)
	}
	return work()
}

// join counts a request in, and gives its caller's share.
func (a *admission) join(caller string, keyed bool) *share {
	a.mu.Lock()
	defer a.mu.Unlock()
	s := a.shares[caller]
	if s == nil {
		part := int64(ownPart)
		if !keyed {
			part *= 2
		}
		if s = a.spare[part]; s == nil {
			s = a.share(a.budget/part, a.ownQueue, func(own, _ float64) float64 { return own })
			s.part = part
		}
		delete(a.spare, part)
		a.shares[caller] = s
	}
	s.here++
	return s
}

// depart gives back what a request held; a caller without requests is forgotten.
func (a *admission) depart(caller string, through []*share, w *work, memory int64) {
	for _, s := range through {
		s.leave(w, memory)
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if s := a.shares[caller]; s != nil {
		if s.here--; s.here == 0 {
			delete(a.shares, caller)
			a.spare[s.part] = s
		}
	}
}

// limitWork limits the time of each database statement of a request.
func (c *requestContext) limitWork() {
	r := c.echo.Request()
	c.echo.SetRequest(r.WithContext(postgres.Within(r.Context(), c.work().statement)))
}

// work is the class of work of the request: a page for people gathers what they want to know at once.
func (c *requestContext) work() *work {
	if c.op.session && c.forPeople() {
		return classes["read"]
	}
	return c.op.work
}

// admit waits until the request may begin. What it holds is given back by leave,
// after its answer was sent.
func (c *requestContext) admit() (err error) {
	if c.work().turn == "" { // a probe
		return nil
	}
	if err := c.inVain(); err != nil {
		return err
	}
	caller, keyed := c.payer()
	c.leave, err = c.server.admission.enter(c.ctx(), caller, keyed, c.work(), c.work().costs(c.bodySize()))
	if err != nil {
		if vain := c.inVain(); vain != nil { // since it began to wait
			return vain
		}
	}
	return err
}

// inVain says why a request need not wait for its turn.
func (c *requestContext) inVain() error {
	if asks := askedFirst[c.op.id]; asks != nil {
		return asks(c)
	}
	return nil
}

// inTurn does a page or a chunk of an export, an import or a stream.
func (c *requestContext) inTurn(ctx context.Context, work func() error) error {
	caller, keyed := c.payer()
	return c.server.admission.turn(ctx, caller, keyed, work)
}

// payer is whose share the request takes: the institution's, or without a key the
// address's.
func (c *requestContext) payer() (caller string, keyed bool) {
	if c.principal != nil && !c.open {
		return c.principal.Institution.String(), true
	}
	return blockOf(c.server.addressOf(c.echo.Request())), false
}

// blockOf is the address, or of IPv6 the block of 64 bits that one host has.
func blockOf(address string) string {
	ip := net.ParseIP(address)
	if ip == nil || ip.To4() != nil {
		return address
	}
	return ip.Mask(net.CIDRMask(64, 128)).String()
}

// bodySize is how many bytes of body to expect: as many as the request declares, or the
// most that are taken.
func (c *requestContext) bodySize() int64 {
	r := c.echo.Request()
	if r.Body == nil || r.Body == http.NoBody {
		return 0
	}
	if r.ContentLength < 0 {
		return c.server.maxBody
	}
	return min(r.ContentLength, c.server.maxBody)
}

package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"
)

// The limits of a single request.
const (
	mostCPU    = 2 * time.Second
	mostMemory = 256 << 20 // more than the service held before the request
)

// Limits after which the run ends a request, or the service, to protect the machine.
const (
	abandonAfter = 30 * time.Second
	killAbove    = 3 << 30
)

// A round is this many requests in institutions of its own, so that an institution's
// data does not grow with the length of the run, and a request can be reproduced by
// running its round alone.
const perRound = 500

// restEvery is how many rounds there are between two measurements at rest.
const restEvery = 4

// conductor sends the requests of a run and checks each answer against the contract.
type conductor struct {
	doc     *openapi3.T
	ops     []*operation
	byID    map[string]*operation
	seed    uint64
	service service
	report  *report
	only    int // the request that is shown in full; 0: none
	pool    *pool
	base    rest // what was held after the first round
	leaves  sync.WaitGroup
}

func newConductor(doc *openapi3.T, seed uint64, s service, r *report) *conductor {
	c := &conductor{doc: doc, ops: operations(doc), byID: map[string]*operation{}, seed: seed, service: s, report: r}
	for _, op := range c.ops {
		c.byID[op.id] = op
	}
	return c
}

// institutions are the ids of a round's own institution, of its neighbour and of
// an empty one, the same for the same seed.
func institutions(seed uint64, round int) (ids [3]uuid.UUID) {
	rng := rand.New(rand.NewPCG(seed, uint64(round)|1<<63))
	for i := range ids {
		ids[i] = uuid.MustParse(uuidOf(rng))
	}
	return ids
}

// run sends requests from number first+1 to last, a round at a time.
func (c *conductor) run(ctx context.Context, first, last int) error {
	for n := first; n < last && ctx.Err() == nil && c.report.failures < c.report.most; n += perRound {
		round := n / perRound
		if err := c.begin(ctx, round); err != nil {
			return err
		}
		c.round(ctx, n, min(n+perRound, last))
		if !c.service.Alive() {
			if err := c.service.Restart(); err != nil {
				return err
			}
			c.base = rest{}
		}
		if (round-first/perRound)%restEvery == 0 || n+perRound >= last {
			c.lookAtRest(ctx, min(n+perRound, last))
		}
		if n+perRound >= last {
			c.verify(ctx, last)
		}
	}
	return ctx.Err()
}

// gen makes the choices of one request; the same seed and number choose the
// same.
func (c *conductor) gen(n int) *gen {
	return &gen{rng: rand.New(rand.NewPCG(c.seed, uint64(n))), pool: c.pool, doc: c.doc, at: "http://127.0.0.1:9/hook"}
}

// round sends the requests first+1 to last. The service is reused by the next round if
// it is alive.
func (c *conductor) round(ctx context.Context, first, last int) {
	var pending script
	for n := first + 1; n <= last && ctx.Err() == nil && c.service.Alive() && c.report.failures < c.report.most; n++ {
		g := c.gen(n)
		switch {
		case len(pending) > 0:
		case g.oneIn(10):
			pending = c.life(g)
		case g.oneIn(60):
			pending = c.script(g)
		case g.oneIn(25):
			n += c.burst(ctx, n, min(g.between(4, 16), last-n+1)) - 1
			continue
		}
		if len(pending) > 0 {
			r := pending[0](g)
			pending = pending[1:]
			c.one(ctx, n, r)
			continue
		}
		c.one(ctx, n, c.single(g))
	}
	c.leaves.Wait()
}

// single is one request of any operation, or one that is in none.
func (c *conductor) single(g *gen) *request {
	switch g.below(60) {
	case 0:
		r := g.request(c.ops[g.below(len(c.ops))], hostile, nil)
		r.op, r.target = nil,
			g.pick([]string{"/", "/docs", "/docs/", "/problems/validation", "/.well-known/api-catalog", "/v1", "/v1/",
				"//v1/people", "/v1/people/", "/v1/people/../people", "/%", "*", "/v1/\x7f",
				"/v1/" + strings.Repeat("a/", 3000), "/debug/pprof/", "/metrics"})
		return r
	case 1:
		return &request{method: http.MethodGet, target: "/v1/changes/stream",
			header: [][2]string{{"Authorization", "Bearer " + g.pool.keys[0]}}, leave: true, class: wellFormed}
	}
	r := g.request(c.ops[g.below(len(c.ops))], g.class(), nil)
	r.leave = g.oneIn(60)
	return r
}

// one sends a request while nothing else is sent, and measures what it cost.
func (c *conductor) one(ctx context.Context, n int, r *request) {
	r.n = n
	if r.leave {
		c.leave(ctx, r)
		return
	}
	c.service.forgetPeak()
	held := c.service.memory("VmRSS")
	before, _ := c.service.cpu()
	a, err := c.ask(ctx, r)
	after, _ := c.service.cpu()
	peak := c.service.memory("VmHWM")
	c.settleAnswer(r, a, err)
	c.report.cost(r, after-before, peak-held)
	if spent := after - before; spent > mostCPU {
		spent = c.again(ctx, r, a, spent)
		if spent > mostCPU {
			c.report.fail(r, a, "cpu", fmt.Sprintf("took %v of processor time, more than %v", spent, mostCPU), c.service.Taken())
		}
	}
	if peak-held > mostMemory {
		c.report.fail(r, a, "memory", fmt.Sprintf("took %d MB of memory, more than %d", (peak-held)>>20,
			mostMemory>>20), c.service.Taken())
	}
	c.pool.learn(r, a)
	if r.n == c.only {
		c.report.show(r, a, err, after-before, peak-held)
	}
}

// again finds out whether a time over the limit was the request's own, because the
// workers may compute earlier records at the same time. A request that changed nothing
// is measured once more when they are at rest. For any other request the time is its
// own if the workers are at rest as soon as it is answered, and otherwise undecided.
func (c *conductor) again(ctx context.Context, r *request, a *reply, spent time.Duration) time.Duration {
	answered, _ := c.service.cpu()
	if !c.service.Alive() || c.service.settle(ctx) != nil {
		return spent
	}
	before, _ := c.service.cpu()
	if !r.op.safe() && (a == nil || a.status < http.StatusBadRequest) {
		if before-answered > 5*quiet {
			c.report.shared++
			return 0
		}
		return spent
	}
	_, _ = c.ask(ctx, r)
	after, _ := c.service.cpu()
	return min(spent, after-before)
}

// ask sends a request, and once more when the service asks for that, because the
// machine may really be too busy.
func (c *conductor) ask(ctx context.Context, r *request) (*reply, error) {
	a, err := c.watched(ctx, r)
	if err != nil || a.status != http.StatusServiceUnavailable && a.status != http.StatusTooManyRequests {
		return a, err
	}
	wait, err := strconv.Atoi(a.header.Get("Retry-After"))
	if err != nil || wait > 60 {
		return a, nil // checked like any other answer
	}
	c.report.waited++
	select {
	case <-ctx.Done():
	case <-time.After(time.Duration(wait) * time.Second):
	}
	return c.watched(ctx, r)
}

// watched sends a request, abandons it after abandonAfter, and ends the service when it
// uses too much memory.
func (c *conductor) watched(ctx context.Context, r *request) (*reply, error) {
	ctx, cancel := context.WithTimeout(ctx, abandonAfter)
	defer cancel()
	go func() {
		clock := time.NewTicker(50 * time.Millisecond)
		defer clock.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-clock.C:
				if held := c.service.memory("VmRSS"); held > killAbove {
					c.service.Kill(fmt.Sprintf("it held %d MB and was ended for the machine's sake", held>>20))
				}
			}
		}
	}()
	return send(ctx, c.service.Address, r)
}

// settleAnswer checks an answer, or a missing one.
func (c *conductor) settleAnswer(r *request, a *reply, err error) {
	if err != nil {
		c.noAnswer(r, err)
		return
	}
	if err := judged(c.doc, r, a); err != nil {
		c.report.fail(r, a, "answer", err.Error(), c.service.Taken())
	} else if a.status == http.StatusServiceUnavailable {
		c.report.fail(r, a, "overload", "is refused as too much, and again after the time that Retry-After gave",
			c.service.Taken())
	}
	if log := c.service.Taken(); len(log) > 0 {
		c.report.fail(r, a, "log", "an error is logged", log)
	}
	c.report.count(r, a)
}

// noAnswer reports a failure, except for a request that is too large or not HTTP: the
// service may close the connection while it is written.
func (c *conductor) noAnswer(r *request, err error) {
	if (len(r.body) > 256<<10 || r.parsed() == nil) && c.service.Alive() && strings.Contains(err.Error(), "reset") {
		c.report.cut++
		return
	}
	c.report.fail(r, nil, "no answer", err.Error(), c.service.Taken())
	if c.service.Alive() && strings.Contains(err.Error(), "closed") { // it was abandoned: does the work end?
		before, _ := c.service.cpu()
		time.Sleep(2 * time.Second)
		if after, _ := c.service.cpu(); after-before > time.Second {
			c.report.fail(r, nil, "goes on", "the work goes on after the caller has left", c.service.Taken())
			c.service.Kill("it did not stop working")
		}
	}
	if c.service.EndsSoon() {
		c.report.fail(r, nil, "ended", "the service has ended", c.service.Taken())
	}
}

// burst sends k single requests at once. Their cost is measured together.
func (c *conductor) burst(ctx context.Context, n, k int) int {
	requests, answers, errs := make([]*request, k), make([]*reply, k), make([]error, k)
	for i := range k {
		requests[i] = c.single(c.gen(n + i))
		requests[i].n, requests[i].leave = n+i, false
		if requests[i].target == "/v1/changes/stream" {
			requests[i].target = "/v1/changes"
		}
	}
	before, _ := c.service.cpu()
	var all sync.WaitGroup
	for i := range k {
		all.Go(func() { answers[i], errs[i] = c.watched(ctx, requests[i]) })
	}
	all.Wait()
	after, _ := c.service.cpu()
	for i, r := range requests {
		if errs[i] == nil && answers[i].status == http.StatusServiceUnavailable &&
			answers[i].header.Get("Retry-After") != "" {
			c.report.waited++ // the documented refusal of too many requests at once
			continue
		}
		c.settleAnswer(r, answers[i], errs[i])
		c.pool.learn(r, answers[i])
		if r.n == c.only {
			c.report.show(r, answers[i], errs[i], after-before, 0)
		}
	}
	if spent := after - before; spent > time.Duration(k)*mostCPU {
		c.report.fail(requests[0], answers[0], "cpu",
			fmt.Sprintf("and the %d after it at once took %v of processor time, more than %v each", k-1, spent,
				mostCPU), c.service.Taken())
	}
	return k
}

// leave sends a request and closes the connection before or during the answer.
func (c *conductor) leave(ctx context.Context, r *request) {
	c.report.left++
	patience := time.Duration(1+c.gen(r.n).below(40)) * time.Millisecond
	c.leaves.Go(func() {
		ctx, cancel := context.WithTimeout(ctx, patience)
		defer cancel()
		_, _ = send(ctx, c.service.Address, r)
	})
}

// How much more the idle service may hold than after the first round. A pool of
// connections may have opened one more, and its watcher with it; a heap holds caches of
// each institution, which are bounded, and freed pages.
const (
	moreGoroutines = 8
	moreHeap       = 48 << 20
)

// verify compares what is stored with the facts, when the workers are at rest.
func (c *conductor) verify(ctx context.Context, n int) {
	if err := c.service.Verify(ctx); err != nil && ctx.Err() == nil {
		c.report.fail(&request{n: n, method: "none", target: "at rest"}, nil, "verify", err.Error(), nil)
	}
}

// lookAtRest compares what the idle service holds with what it held after the first
// round.
func (c *conductor) lookAtRest(ctx context.Context, n int) {
	now, err := c.service.atRest(ctx)
	at := &request{n: n, method: "none", target: "at rest"}
	log := c.service.Taken()
	switch {
	case err != nil:
		c.report.fail(at, nil, "rest", err.Error(), log)
		return
	case len(log) > 0:
		c.report.fail(at, nil, "log", "an error is logged by the workers", log)
	}
	if c.base.goroutines == 0 {
		c.base = now
	}
	if now.goroutines > c.base.goroutines+moreGoroutines {
		c.report.fail(at, nil, "goroutines", fmt.Sprintf("%d goroutines are left, and there were %d\n%s",
			now.goroutines, c.base.goroutines, now.stacks), nil)
	}
	if now.heap > c.base.heap+moreHeap {
		c.report.fail(at, nil, "heap", fmt.Sprintf("%d MB are held, and there were %d", now.heap>>20, c.base.heap>>20), nil)
	}
	c.report.rested(n, now, c.service.memory("VmRSS"))
}

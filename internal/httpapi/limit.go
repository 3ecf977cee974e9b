package httpapi

import (
	"fmt"
	"math"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/fault"
)

// Limit is how many requests a key may send in a window; the zero Limit is none.
// Each process counts for itself. Requests without a key are counted by the
// address that they come from.
type Limit struct {
	Requests int
	Window   time.Duration
}

// limiter counts requests in fixed windows that begin with a caller's first.
type limiter struct {
	Limit
	now func() time.Time

	mu      sync.Mutex
	callers map[string]*spell
	swept   time.Time
}

// spell is one caller's window and what was used of it.
type spell struct {
	ends time.Time
	used int
}

func newLimiter(l Limit, now func() time.Time) *limiter {
	return &limiter{Limit: l, now: now, callers: map[string]*spell{}}
}

// count counts one request; ok is false when none was left. left and reset say how many
// remain, and when the window ends.
func (l *limiter) count(caller string) (left int, reset time.Duration, ok bool) {
	now := l.now()
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sweep(now)
	s := l.callers[caller]
	if s == nil || !now.Before(s.ends) {
		s = &spell{ends: now.Add(l.Window)}
		l.callers[caller] = s
	}
	if s.used >= l.Requests {
		return 0, s.ends.Sub(now), false
	}
	s.used++
	return l.Requests - s.used, s.ends.Sub(now), true
}

// sweep forgets the callers whose window is over; it runs once a window.
func (l *limiter) sweep(now time.Time) {
	if now.Sub(l.swept) < l.Window {
		return
	}
	l.swept = now
	for caller, s := range l.callers {
		if !now.Before(s.ends) {
			delete(l.callers, caller)
		}
	}
}

// uncounted are the paths that probes ask all the time.
var uncounted = []string{"/livez", "/readyz"}

// limited counts the request, and refuses it when none is left.
func (c *requestContext) limited() error {
	l := c.server.limiter
	if l == nil || slices.Contains(uncounted, c.op.path) {
		return nil
	}
	caller := "address " + c.server.addressOf(c.echo.Request())
	if c.principal != nil && !c.open {
		caller = "key " + c.principal.Key.String()
		if c.principal.Key == uuid.Nil {
			caller = "person " + c.principal.Person.String()
		}
	}
	left, reset, ok := l.count(caller)
	c.left, c.reset = left, reset
	if ok {
		return nil
	}
	return &fault.Fault{Kind: fault.TooMany, Code: "quota-exceeded", Wait: reset,
		Detail: fmt.Sprintf("%d requests in %v are the limit; Retry-After says when there are more.", l.Requests, l.Window)}
}

// mostProxies is how many proxies one behind the other are believed.
const mostProxies = 10

// addressOf is the address of a request's caller: the last that no proxy of the operator's has. What
// stands before it in X-Forwarded-For, anyone could have written.
func (s *Server) addressOf(r *http.Request) string {
	caller := addressOf(r.RemoteAddr)
	if !s.proxy(caller) {
		return caller
	}
	hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for i := range min(len(hops), mostProxies) {
		hop, err := netip.ParseAddr(strings.TrimSpace(hops[len(hops)-1-i]))
		if err != nil {
			break
		}
		if caller = hop.Unmap().WithZone("").String(); !s.proxy(caller) {
			break
		}
	}
	return caller
}

// proxy tells an address of a proxy of the operator's.
func (s *Server) proxy(address string) bool {
	addr, err := netip.ParseAddr(address)
	return err == nil && slices.ContainsFunc(s.proxies, func(p netip.Prefix) bool { return p.Contains(addr.Unmap().WithZone("")) })
}

func addressOf(remote string) string {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		return remote
	}
	return host
}

// sayLimit tells the caller how much is left (draft-ietf-httpapi-ratelimit-headers-11,
// experimental). An answer 304 is counted like any other, because the answer is made
// before it is compared with the caller's.
func (c *requestContext) sayLimit(a *answer) {
	l := c.server.limiter
	if l == nil || c.reset == 0 {
		return
	}
	a.setHeader("RateLimit-Policy", fmt.Sprintf(`"default";q=%d;w=%d`, l.Requests, int(l.Window.Seconds())))
	a.setHeader("RateLimit", fmt.Sprintf(`"default";r=%d;t=%d`, c.left, int(math.Ceil(c.reset.Seconds()))))
}

// Package httpapi speaks the contract: it mounts the contract's operations,
// reads and checks requests, and renders answers and problems.
//
// A handler is: decode, ask the core, ask the store, encode. Routes are mounted
// from the document by operationId; an operation without a handler, or a
// handler without an operation, fails at start. No SQL and no arithmetic here.
package httpapi

import (
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/identity"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
	"meniscus/internal/telemetry"
	"meniscus/internal/webhook"
)

// Config is what a server is made of.
type Config struct {
	// Store is the database; nil serves the computations and the contract alone.
	Store *postgres.Store
	// Log takes one line a request; nothing is logged when it is nil.
	Log *slog.Logger
	// PublicURL is where callers reach the service, without a slash at the end;
	// links and problem types begin with it.
	PublicURL string
	// Published are the institutions whose specimens and treatments any caller may read
	// without a key, the names in them included; none if empty.
	Published []uuid.UUID
	// MaxBody is the largest JSON body in bytes; 1 MiB if zero.
	MaxBody int64
	// BodyWithin is how long a JSON body may take to come; if zero, 30 s and what
	// the largest takes at 32 KiB/s.
	BodyWithin time.Duration
	// Streams bounds the streams of changes.
	Streams Streams
	// Keeper encrypts the secrets of webhooks; without it none can be made.
	Keeper *webhook.Keeper
	// LogKeys sign the heads of logs; without them none is signed.
	LogKeys ledger.Signers
	// Targets says where webhooks may lead.
	Targets webhook.Targets
	// Proxies are those whose word is taken for the address of a caller; none if empty.
	Proxies []netip.Prefix
	// Tokens reads access tokens of OpenID Connect; none is taken if nil.
	Tokens *identity.Tokens
	// SignIns has people sign in with a browser; nobody can if nil.
	SignIns *identity.SignIns
	// Origins are those whose pages may call the service from a browser; "*" is
	// all. Public documents may be read by any.
	Origins []string
	// Limit is how many requests a key may send.
	Limit Limit
	// Memory is how many bytes the process may take, of which requests get half; 1 GiB is
	// assumed if zero.
	Memory int64
	// Telemetry measures the requests; nothing if zero.
	Telemetry telemetry.Providers
	// Now is the machine's own clock when it is nil.
	Now func() time.Time
}

// Streams bounds the streams of changes; what is zero has its default.
type Streams struct {
	Most       int           // open at once in this process; 1,000
	KeepAlive  time.Duration // between comments, when nothing changes; 15 s
	WriteLimit time.Duration // for one event to be taken by its reader; 30 s
}

func (s Streams) orDefault() Streams {
	if s.Most == 0 {
		s.Most = 1000
	}
	if s.KeepAlive == 0 {
		s.KeepAlive = 15 * time.Second
	}
	if s.WriteLimit == 0 {
		s.WriteLimit = 30 * time.Second
	}
	return s
}

// Server answers the contract's operations.
type Server struct {
	store     *postgres.Store
	log       *slog.Logger
	library   recording.Library
	publicURL string
	published []uuid.UUID
	maxBody   int64
	within    time.Duration // for a JSON body
	streams   Streams
	keeper    *webhook.Keeper
	signers   ledger.Signers
	targets   webhook.Targets
	origins   []string
	limiter   *limiter // nil: no limit
	admission *admission
	sending   sync.Map // the imports whose cards are sent, or wait to be
	watch     *watch
	journal   *access.Journal
	tokens    *identity.Tokens
	signIns   *identity.SignIns
	origin    *http.CrossOriginProtection
	proxies   []netip.Prefix
	meters    *meters // nil: nothing is measured
	now       func() time.Time
	ops       map[string]*operation
	drained   chan struct{} // closed by Drain
	drain     sync.Once
	echo      *echo.Echo
	contract  func() servedContract // made once
}

// handler answers one operation.
type handler func(*Server, *requestContext) (*answer, error)

// New mounts every operation of the contract, or says which one lacks its
// handler.
func New(cfg Config) (*Server, error) {
	doc, err := api.Judged()
	if err != nil {
		return nil, err
	}
	return newServer(cfg, doc)
}

func newServer(cfg Config, doc *openapi3.T) (s *Server, err error) {
	s = &Server{
		store:     cfg.Store,
		log:       cfg.Log,
		publicURL: strings.TrimSuffix(cfg.PublicURL, "/"),
		published: cfg.Published,
		maxBody:   cfg.MaxBody,
		within:    cfg.BodyWithin,
		streams:   cfg.Streams.orDefault(),
		keeper:    cfg.Keeper,
		signers:   cfg.LogKeys,
		targets:   cfg.Targets,
		tokens:    cfg.Tokens,
		signIns:   cfg.SignIns,
		proxies:   cfg.Proxies,
		origins:   cfg.Origins,
		drained:   make(chan struct{}),
		echo:      echo.New(),
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	s.library = recording.NewLibrary(s.store, s.log)
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	s.now = cfg.Now
	s.journal = access.NewJournal(cfg.Now)
	if cfg.Limit.Requests > 0 {
		s.limiter = newLimiter(cfg.Limit, cfg.Now)
	}
	connections := 0
	if s.store != nil {
		connections = s.store.ForRequests()
	}
	s.admission = newAdmission(cfg.Memory, connections)
	s.watch = newWatch(s.store, s.streams.Most)
	if s.maxBody == 0 {
		s.maxBody = 1 << 20
	}
	if s.within == 0 {
		s.within = 30*time.Second + time.Duration(s.maxBody)*time.Second/(32<<10)
	}
	if s.meters, err = newMeters(cfg.Telemetry); err != nil {
		return nil, fmt.Errorf("measuring requests: %w", err)
	}
	if s.origin, err = ownOrigin(s.publicURL); err != nil {
		return nil, fmt.Errorf("reading the public address: %w", err)
	}
	s.contract = sync.OnceValue(func() servedContract { return contractAt(s.publicURL) })
	s.echo.HTTPErrorHandler = s.unrouted
	if err := s.mountPages(); err != nil {
		return nil, err
	}
	s.mountSignIn()
	return s, s.mount(doc)
}

// mount gives each operation of the document its handler.
func (s *Server) mount(doc *openapi3.T) error {
	ops, err := readOperations(doc)
	if err != nil {
		return err
	}
	s.ops = ops
	for id := range handlers {
		if ops[id] == nil {
			return fmt.Errorf("handler %s has no operation in the contract", id)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(ops)) {
		op, h := ops[id], handlers[id]
		if h == nil {
			return fmt.Errorf("operation %s of the contract has no handler", id)
		}
		if err := op.checkFilters(); err != nil {
			return err
		}
		s.echo.Add(op.method, op.route(), s.serve(op, h))
		if op.method == http.MethodGet {
			s.echo.Add(http.MethodHead, op.route(), s.serve(op, h))
		}
	}
	return nil
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	protect(w.Header(), r.TLS != nil)
	if !s.crossOrigin(w, r) {
		s.echo.ServeHTTP(w, r)
	}
}

// Drain makes /readyz answer 503, so that no new callers are sent here while
// the ones at work are served to their end; streams, which have no end, are
// ended.
func (s *Server) Drain() { s.drain.Do(func() { close(s.drained) }) }

// Sealed tells the streams that a sealer of this process has given new sequence numbers,
// so that they need not wait for their next look.
func (s *Server) Sealed() { s.watch.sealed() }

func (s *Server) draining() bool {
	select {
	case <-s.drained:
		return true
	default:
		return false
	}
}

// serve wraps a handler with what every operation does: a request id, the key,
// the checks of the contract, the problem on failure, and one line of log.
func (s *Server) serve(op *operation, h handler) echo.HandlerFunc {
	return func(ec echo.Context) error {
		started := time.Now()
		c := &requestContext{server: s, op: op, echo: ec, requestID: newRequestID()}
		defer func() {
			if c.leave != nil {
				c.leave()
			}
			if c.sent != nil {
				c.sent()
			}
		}()
		measured := s.meters.begin(c)
		c.limitWork()
		c.limitBody()
		a, err := s.answer(c, h)
		if err != nil {
			a = c.refused(err)
		}
		c.sayLimit(a)
		c.sayLifecycle(a)
		c.leaveBody()
		broken := c.send(a)
		took := time.Since(started)
		status := s.logRequest(c, a, err, broken, took)
		s.note(c, a, status)
		measured.end(c.ctx(), ec.Request().Method, status, took)
		if broken != nil {
			panic(http.ErrAbortHandler)
		}
		return nil
	}
}

// answer runs the checks and the handler; a panic becomes an internal error. Nothing is
// answered before the premises of the request are known to hold: where one does not, the
// caller is looked up and the handler runs once more, and nothing is taken from memory.
func (s *Server) answer(c *requestContext, h handler) (a *answer, err error) {
	defer recovered(&err)
	unprepared := c.prepare()
	if err = unprepared; err == nil {
		a, err = c.answered(h)
	}
	hold, asking := c.hold(err)
	if !hold || asking != nil {
		a.drop()
	}
	c.afresh = true
	if asking != nil {
		return nil, asking
	}
	if !hold {
		c.relyOn(nil)
		if err := c.authenticate(); err != nil {
			return nil, err
		}
		if unprepared == nil {
			a, err = c.answered(h)
		}
	}
	if unprepared != nil {
		return nil, unprepared
	}
	if err != nil {
		return nil, s.withRecord(c, err)
	}
	return a, c.finish(a)
}

// hold tells whether the premises of the request hold. An answer that the service has too much
// to do tells nothing, and is given without asking.
func (c *requestContext) hold(err error) (bool, error) {
	if c.premises == nil || fault.Is(err, fault.Unavailable) || fault.Is(err, fault.TooMany) {
		return true, nil
	}
	return c.server.store.PremisesHold(c.ctx(), c.premises)
}

// unrouted answers what no operation takes: unknown paths and methods.
func (s *Server) unrouted(err error, ec echo.Context) {
	if ec.Response().Committed {
		return
	}
	var he *echo.HTTPError
	if errors.As(err, &he) {
		err = routingFault(he.Code)
	}
	if ec.Request().Body != http.NoBody {
		readUntil(ec, time.Now()) // the body is not read
	}
	_ = s.problem(newRequestID(), err).write(ec) // only a stream can fail
}

func newRequestID() uuid.UUID { return uuid.Must(uuid.NewV7()) }

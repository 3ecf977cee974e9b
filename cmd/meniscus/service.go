package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"meniscus/internal/deliver"
	"meniscus/internal/edtf"
	"meniscus/internal/httpapi"
	"meniscus/internal/identity"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
)

// service is the parts of a running service, which end together.
type service struct {
	cfg      Config
	log      *slog.Logger
	store    *postgres.Store
	sealer   *postgres.Sealer // nil when this instance does not seal
	cursors  *postgres.Deliverer
	worker   *deliver.Worker   // nil when this instance does not deliver
	reporter *deliver.Reporter // likewise: makes scheduled reports
	watch    *postgres.Watch   // likewise: finds entries whose layers must be computed
	api      *httpapi.Server
	http     *http.Server
	listener net.Listener
	pause    func(time.Duration) // waits between /readyz saying no and closing the listener
	debug    *debugging          // nil without a DEBUG_ADDRESS
	measures *measuring
}

// maxHeader bounds a request's line and headers, and so every list in them: Accept,
// If-None-Match, Range, Prefer, and the query.
const maxHeader = 64 << 10

// newService connects, checks the schema and listens; nothing is served yet.
func newService(ctx context.Context, cfg Config, log *slog.Logger) (*service, error) {
	s := &service{cfg: cfg, log: log, pause: time.Sleep}
	if err := s.open(ctx); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *service) open(ctx context.Context) (err error) {
	if s.measures, err = openMeasuring(ctx, s.cfg.MetricsAddress, s.log); err != nil {
		return err
	}
	s.cfg.Connections.Telemetry = s.measures.Providers
	if s.store, err = postgres.OpenSized(ctx, s.cfg.DatabaseURL, s.cfg.Connections); err != nil {
		return err
	}
	if s.cfg.ReplicaURL != "" {
		standby, err := postgres.OpenSized(ctx, s.cfg.ReplicaURL, s.cfg.Connections)
		if err != nil {
			return fmt.Errorf("the standby: %w", err)
		}
		s.store.ReadAlsoFrom(standby)
	}
	if err = s.store.Ready(ctx); err != nil {
		return err
	}
	if s.cfg.Worker {
		if err = s.openWorkers(ctx); err != nil {
			return err
		}
		if s.watch, err = postgres.OpenWatch(ctx, s.cfg.WorkerDatabaseURL); err != nil {
			return err
		}
		if err = s.measures.measureBacklog(s.watch, s.log); err != nil {
			return err
		}
	}
	if s.listener, err = net.Listen("tcp", s.cfg.Address); err != nil {
		return fmt.Errorf("listening: %w", err)
	}
	if s.debug, err = openDebugging(s.cfg.DebugAddress, s.log); err != nil {
		return err
	}
	tokens := s.tokens()
	s.api, err = httpapi.New(httpapi.Config{Store: s.store, Log: s.log, PublicURL: s.cfg.PublicURL,
		Published: s.cfg.Published, MaxBody: s.cfg.MaxBody,
		Keeper: s.cfg.Keeper, LogKeys: s.cfg.LogKeys, Targets: s.cfg.Targets, Origins: s.cfg.Origins,
		Tokens: tokens, SignIns: identity.NewSignIns(tokens, deliver.Poster(s.cfg.IdentityTargets), s.cfg.PublicURL+httpapi.SignInBack),
		Proxies: s.cfg.Proxies, Limit: s.cfg.Limit, Memory: s.cfg.Memory,
		Telemetry: s.measures.Providers})
	if err != nil {
		return err
	}
	if s.cfg.Worker {
		s.reporter = deliver.NewReporter(deliver.ReporterConfig{Store: s.cursors, Write: s.api.WriteReport, Log: s.log})
	}
	encryption, err := s.encryption()
	if err != nil {
		return err
	}
	s.http = &http.Server{
		Handler:           s.api,
		ReadHeaderTimeout: 10 * time.Second,
		MaxHeaderBytes:    maxHeader,
		IdleTimeout:       2 * time.Minute,
		TLSConfig:         encryption,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
	return nil
}

// tokens reads access tokens of the providers that are set up; nil if there are none.
func (s *service) tokens() *identity.Tokens {
	if len(s.cfg.Identity) == 0 {
		return nil
	}
	return identity.NewTokens(s.cfg.Identity, deliver.Fetcher(s.cfg.IdentityTargets), time.Now)
}

// encryption is how connections are encrypted; nil where another does that.
func (s *service) encryption() (*tls.Config, error) {
	if s.cfg.Certificate == "" {
		return nil, nil
	}
	c, err := openCertificate(s.cfg.Certificate, s.cfg.CertificateOf, s.log)
	if err != nil {
		return nil, err
	}
	return c.config(), nil
}

// forgetEvery is how often it is looked for accesses that have been kept for long enough.
const forgetEvery = time.Hour

// forgetAccesses deletes who read and changed what when it has been kept for long enough.
func (s *service) forgetAccesses(ctx context.Context) {
	if s.cfg.AccessLogDays == 0 {
		return
	}
	tick := time.NewTicker(forgetEvery)
	defer tick.Stop()
	for {
		for n := 1; n > 0 && ctx.Err() == nil; {
			var err error
			if n, err = s.cursors.ForgetAccesses(ctx, time.Now().AddDate(0, 0, -s.cfg.AccessLogDays)); err != nil && ctx.Err() == nil {
				s.log.Error("old accesses were not forgotten", slog.Any("error", err))
			}
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

// openWorkers makes the sealer and, when there is a key for the secrets, the delivering
// worker.
func (s *service) openWorkers(ctx context.Context) (err error) {
	if s.sealer, err = postgres.OpenSealer(ctx, s.cfg.WorkerDatabaseURL, s.sealed); err != nil {
		return err
	}
	s.store.AfterEntries(s.sealer.Wake)
	if s.cursors, err = postgres.OpenDeliverer(ctx, s.cfg.WorkerDatabaseURL); err != nil || s.cfg.Keeper == nil {
		return err
	}
	s.worker = deliver.New(deliver.Config{Store: s.cursors, Keeper: s.cfg.Keeper, Targets: s.cfg.Targets,
		Change: httpapi.ChangeJSON, PublicURL: s.cfg.PublicURL, Log: s.log, Telemetry: s.measures.Providers})
	return nil
}

// sealed wakes the streams and the worker after entries were sequenced.
func (s *service) sealed() {
	s.api.Sealed()
	if s.worker != nil {
		s.worker.Sealed()
	}
}

// shutdownLimit is how long running requests may take to end.
const shutdownLimit = 20 * time.Second

// run serves until the context ends, then drains: /readyz says no, the listener closes,
// running requests end, the sealer stops, the pools close.
func (s *service) run(ctx context.Context) error {
	defer s.close()
	var workers sync.WaitGroup
	stopped, stop := context.WithCancel(postgres.AsWorker(context.WithoutCancel(ctx)))
	if s.sealer != nil {
		workers.Go(func() {
			s.sealer.Run(stopped, func(err error) { s.log.Error("sealing failed", slog.Any("error", err)) })
		})
		library := recording.NewLibrary(s.store, s.log)
		refresher := layers.Refresher{Store: s.store, Watch: s.watch, Knowledge: library.Of, Log: s.log,
			Today: func() edtf.Day { return edtf.DayOf(time.Now().UTC()) }}
		workers.Go(func() { refresher.Run(stopped) })
	}
	if s.cursors != nil {
		workers.Go(func() { s.forgetAccesses(stopped) })
	}
	if s.worker != nil {
		workers.Go(func() { s.worker.Run(stopped) })
	}
	if s.reporter != nil {
		workers.Go(func() { s.reporter.Run(stopped) })
	}
	workers.Go(func() { s.api.KeepJournal(stopped) })
	go s.debug.run()
	go s.measures.run()
	served := make(chan error, 1)
	go func() {
		if s.http.TLSConfig != nil {
			served <- s.http.ServeTLS(s.listener, "", "")
			return
		}
		served <- s.http.Serve(s.listener)
	}()
	var err error
	select {
	case err = <-served:
	case <-ctx.Done():
		err = s.drain(ctx)
	}
	stop()
	workers.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

func (s *service) drain(ctx context.Context) error {
	s.log.Info("shutting down")
	s.api.Drain()
	s.pause(s.cfg.DrainDelay)
	limited, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownLimit)
	defer cancel()
	if err := s.http.Shutdown(limited); err != nil {
		return fmt.Errorf("ending the requests at work: %w", err)
	}
	return nil
}

func (s *service) close() {
	s.debug.close()
	s.measures.close()
	if s.listener != nil {
		_ = s.listener.Close()
	}
	if s.sealer != nil {
		s.sealer.Close()
	}
	if s.cursors != nil {
		s.cursors.Close()
	}
	if s.watch != nil {
		s.watch.Close()
	}
	if s.store != nil {
		s.store.Close()
	}
}

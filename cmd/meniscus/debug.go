package main

import (
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/pprof"
	"time"
)

// debugging serves the runtime's profiles (goroutines, heap, CPU) to this machine
// alone. They contain data of requests, so they cannot be opened to a network.
type debugging struct {
	listener net.Listener
	http     *http.Server
}

// openDebugging listens at address; nil if address is empty.
func openDebugging(address string, log *slog.Logger) (*debugging, error) {
	if address == "" {
		return nil, nil
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("listening for profiles: %w", err)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("/debug/pprof/", pprof.Index)
	mux.HandleFunc("/debug/pprof/profile", pprof.Profile)
	mux.HandleFunc("/debug/pprof/trace", pprof.Trace)
	log.Info("profiles", slog.String("address", listener.Addr().String()))
	return &debugging{listener, &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second}}, nil
}

func (d *debugging) run() {
	if d != nil {
		_ = d.http.Serve(d.listener)
	}
}

// close ends the listener and the requests that are reading a profile.
func (d *debugging) close() {
	if d != nil {
		_ = d.http.Close()
		_ = d.listener.Close()
	}
}

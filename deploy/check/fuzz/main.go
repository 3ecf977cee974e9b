// Command fuzz sends the service requests that follow the contract, nearly follow it,
// and do not. It accepts only documented answers: no 5xx, none over two seconds of
// processor time; afterwards no goroutine may be left and memory must be released.
// deploy/check/fuzz.sh runs it.
//
//	go run ./deploy/check/fuzz                            5,000 requests
//	go run ./deploy/check/fuzz -requests 1000000          a million
//	go run ./deploy/check/fuzz -seed 7 -only 1234         up to that request, in its round alone, and show it
//
// All choices come from the seed and the number of the request, and from what
// earlier answers of its round gave.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
	"meniscus/deploy/running"
)

func main() {
	requests := flag.Int("requests", 5000, "how many requests")
	seed := flag.Uint64("seed", 1, "where all choices begin")
	only := flag.Int("only", 0, "run the round of this request alone, up to it, and show it with its answer")
	most := flag.Int("failures", 1000, "end after so many failures")
	trace := flag.String("trace", "", "a file for each request with its answer, in short")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	passed, err := run(ctx, *seed, *requests, *only, *most, *trace)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "fuzz:", err)
	}
	if err != nil || !passed {
		os.Exit(1)
	}
}

func run(ctx context.Context, seed uint64, requests, only, most int, trace string) (bool, error) {
	doc, err := api.Document()
	if err != nil {
		return false, err
	}
	first, last := 0, requests
	if only > 0 {
		first, last = (only-1)/perRound*perRound, only
	}
	s, err := startService(ctx, publishedOf(seed, first, last))
	if err != nil {
		return false, err
	}
	passed, err := sendAll(ctx, doc, s, plan{seed, first, last, only, most, trace})
	if err := errors.Join(err, s.Stop()); err != nil {
		return false, err
	}
	return passed, nil
}

// startService starts the service with every feature turned on, so that all are tested,
// and with a rate limit that the run does not reach.
func startService(ctx context.Context, published string) (service, error) {
	s, err := running.Start(ctx, "", "MENISCUS_DEBUG_ADDRESS=127.0.0.1:0", "MENISCUS_PUBLIC_URL=https://meniscus.example",
		"MENISCUS_PUBLISHED="+published, "MENISCUS_RATE_LIMIT=100000000/1m",
		"MENISCUS_LOG_KEY=AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=",
		"MENISCUS_SECRET_KEY=AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=", "MENISCUS_WEBHOOK_ALLOW_PRIVATE=127.0.0.0/8")
	return service{s}, err
}

// plan selects the requests that are sent.
type plan struct {
	seed              uint64
	first, last       int // from the one after first to last
	only, mostFailing int
	trace             string
}

func sendAll(ctx context.Context, doc *openapi3.T, s service, p plan) (bool, error) {
	began := time.Now()
	report := newReport(os.Stdout, p.seed, p.mostFailing, func() string { return "http://" + s.Address })
	if p.trace != "" {
		file, err := os.Create(p.trace)
		if err != nil {
			return false, err
		}
		defer file.Close()
		report.trace = file
	}
	c := newConductor(doc, p.seed, s, report)
	c.only = p.only
	if err := c.run(ctx, p.first, p.last); err != nil {
		return false, err
	}
	passed := report.finish(c.ops)
	fmt.Printf("fuzz: %d requests of seed %d in %d s: %d failures\n", p.last-p.first, p.seed,
		int(time.Since(began).Seconds()), report.failures)
	return passed, nil
}

// publishedOf are the institutions of every fourth round, which are public.
func publishedOf(seed uint64, first, last int) string {
	var ids []string
	for round := first / perRound; round*perRound < last; round++ {
		if round%4 == 3 {
			ids = append(ids, institutions(seed, round)[0].String())
		}
	}
	return strings.Join(ids, ",")
}

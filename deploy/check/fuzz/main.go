// Command fuzz sends the service requests that follow the contract, nearly
// follow it, and do not, and takes documented answers only: none of the 500s, none
// over two seconds of processor time, no goroutine left behind, memory back at
// rest. deploy/check/fuzz.sh runs it.
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
	"flag"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
)

func main() {
	requests := flag.Int("requests", 5000, "how many requests")
	seed := flag.Uint64("seed", 1, "where all choices begin")
	only := flag.Int("only", 0, "run the round of this request alone, up to it, and show it with its answer")
	most := flag.Int("failures", 1000, "end after so many failures")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	passed, err := run(ctx, *seed, *requests, *only, *most)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "fuzz:", err)
	}
	if err != nil || !passed {
		os.Exit(1)
	}
}

func run(ctx context.Context, seed uint64, requests, only, most int) (bool, error) {
	doc, err := api.Document()
	if err != nil {
		return false, err
	}
	first, last := 0, requests
	if only > 0 {
		first, last = (only-1)/perRound*perRound, only
	}
	folder, err := os.MkdirTemp("", "meniscus-fuzz-")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(folder)
	s, err := startService(ctx, folder, publishedOf(seed, first, last))
	if err != nil {
		return false, err
	}
	defer s.stop()
	began := time.Now()
	report := newReport(os.Stdout, seed, most, func() string { return "http://" + s.address })
	c := newConductor(doc, seed, s, report)
	c.only = only
	if err := c.run(ctx, first, last); err != nil {
		return false, err
	}
	passed := report.finish(c.ops)
	fmt.Printf("fuzz: %d requests of seed %d in %d s: %d failures\n", last-first, seed, int(time.Since(began).Seconds()), report.failures)
	return passed, nil
}

// publishedOf are the institutions of every fourth round: anybody may read them.
func publishedOf(seed uint64, first, last int) []uuid.UUID {
	var ids []uuid.UUID
	for round := first / perRound; round*perRound < last; round++ {
		if own, _ := institutions(seed, round); round%4 == 3 {
			ids = append(ids, own)
		}
	}
	return ids
}

// Neighbour measures what one institution's flood does to another: a museum looks
// up specimens and records treatments at an even pace, first alone, then while
// another museum floods the service over 128 connections with expensive reads,
// reports and an import, then alone again.
//
//	go run ./deploy/bench/neighbour
//
// The result is the ratio of the two in one run, and that none of the first museum's
// requests fails; the milliseconds depend on the machine. It makes a database and a
// service of its own, and uses only the loopback address.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"sync"
	"time"
)

func main() {
	program := flag.String("program", "", "the service to measure; if empty, it is built from this tree")
	span := flag.Duration("for", 15*time.Second, "how long the flood lasts, and the quiet before and after together")
	connections := flag.Int("connections", 128, "of the flood")
	most := flag.Float64("most", 2, "the ratio that is still good")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *program, *span, *connections, *most); err != nil {
		fmt.Fprintln(os.Stderr, "neighbour:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, program string, span time.Duration, connections int, most float64) (err error) {
	st, err := start(ctx, program)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Stop()) }()
	steady, err := newMuseum(ctx, st.steady)
	if err != nil {
		return err
	}
	flood, err := newFlood(ctx, st.greedy)
	if err != nil {
		return err
	}
	var quiet, loud tally
	steady.measure(ctx, span/2, &quiet)
	end := flood.begin(ctx, connections)
	steady.measure(ctx, span, &loud)
	end()
	steady.measure(ctx, span/2, &quiet)
	return report(&quiet, &loud, flood, most)
}

// report prints the figures, and returns an error if they miss their limits.
func report(quiet, loud *tally, flood *flood, most float64) error {
	var faults []error
	for _, what := range []string{"lookup", "write"} {
		q, l := quiet.at(what, 0.99), loud.at(what, 0.99)
		ratio := float64(l) / float64(q)
		fmt.Printf("%-7s alone: half within %v, 99 of 100 within %v; beside the flood: %v and %v; ratio of the "+
			"latter %.2f (%d and %d requests)\n",
			what, quiet.at(what, 0.5), q, loud.at(what, 0.5), l, ratio, len(quiet.took[what]), len(loud.took[what]))
		if ratio > most {
			faults = append(faults,
				fmt.Errorf("99 of 100 of each %s took %.2f times as long beside the flood, %.2f is good", what, ratio, most))
		}
	}
	fmt.Printf("flood   answers: %v; %d cards imported\n", flood.answered(), flood.cards.Load())
	for _, t := range []*tally{quiet, loud} {
		faults = append(faults, t.failed...)
	}
	return errors.Join(faults...)
}

// tally is the times of requests, and those that failed.
type tally struct {
	mu     sync.Mutex
	took   map[string][]time.Duration
	failed []error
}

func (t *tally) add(what string, took time.Duration, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.took == nil {
		t.took = map[string][]time.Duration{}
	}
	t.took[what] = append(t.took[what], took)
	if err != nil {
		t.failed = append(t.failed, err)
	}
}

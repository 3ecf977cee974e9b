// Bench measures the service on a museum of any size, a row in the same rounds as its baseline if it
// has one here, and prints a table with what it does not measure; medians of the rounds and their ratios are what counts, the
// milliseconds depend on the machine.
//
//	go run ./deploy/bench                                        10,000 treatments
//	go run ./deploy/bench -treatments 10000,100000 -json out.json
//	go run ./deploy/bench -treatments 100000 -disk               what a treatment takes
//
// It makes a database and a service of its own, flushes every commit, and uses only the loopback
// address.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

type options struct {
	treatments int
	verify     bool
	rounds     int
	span       time.Duration
	only       string
	profiles   string
	disk       bool
}

func main() {
	var o options
	sizes := flag.String("treatments", "10000", "how many the museum has; several sizes with commas between")
	flag.BoolVar(&o.verify, "verify", false, "verify what was seeded first")
	flag.IntVar(&o.rounds, "rounds", 5, "how often each row is measured")
	flag.DurationVar(&o.span, "span", time.Second, "how long a row is measured in a round")
	flag.StringVar(&o.only, "only", "", "rows whose names contain this")
	flag.StringVar(&o.profiles, "profiles", "", "a folder for a CPU profile of the service at each row, after the rounds")
	flag.BoolVar(&o.disk, "disk", false, "tell what a treatment takes on the disk, and measure nothing else")
	file := flag.String("json", "", "where the medians are written as JSON")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, o, strings.Split(*sizes, ","), *file); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

func logf(format string, args ...any) {
	fmt.Fprintf(os.Stderr, time.Now().Format(time.TimeOnly)+" "+format+"\n", args...)
}

// result is a row's medians at a size.
type result struct {
	Row        string
	Treatments int
	sample
	Ratios    map[string]float64 // to each baseline, by requests a second
	PerSecond map[string]float64 // of each baseline
	ReadyIn   time.Duration      `json:",omitempty"`
	Resident  int                `json:",omitempty"` // kB
}

func run(ctx context.Context, o options, sizes []string, file string) error {
	var results []result
	for _, size := range sizes {
		n, err := strconv.Atoi(size)
		if err != nil {
			return fmt.Errorf("-treatments: %w", err)
		}
		o.treatments = n
		found, err := measured(ctx, o)
		if err != nil {
			return err
		}
		results = append(results, found...)
	}
	if o.disk {
		return nil
	}
	fmt.Print(markdown(results))
	if file == "" {
		return nil
	}
	text, err := json.MarshalIndent(results, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(file, text, 0o644)
}

// measured measures all rows at one size.
func measured(ctx context.Context, o options) (results []result, err error) {
	st, err := newStage(ctx, o)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, st.Stop()) }()
	if o.disk {
		tables, err := st.disk(ctx)
		fmt.Println(diskTable(tables, st.size))
		return nil, err
	}
	rows := slices.DeleteFunc(st.rows(), func(r row) bool { return !strings.Contains(r.name, o.only) })
	samples := make([][]sample, len(rows))
	rates := make([]map[string][]float64, len(rows))
	for round := range o.rounds + 1 { // the first is to warm up
		for i, r := range rows {
			rate := map[string]float64{}
			for _, b := range r.baselines {
				if rate[b.name], err = st.pgbench(ctx, fmt.Sprintf("row%d", i), b.script, b.connections, o.span); err != nil {
					return nil, err
				}
			}
			s, err := st.ask(ctx, r, o.span)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", r.name, err)
			}
			if round == 0 {
				rates[i] = map[string][]float64{}
				continue
			}
			samples[i] = append(samples[i], s)
			for name, n := range rate {
				rates[i][name] = append(rates[i][name], n)
			}
		}
		logf("round %d of %d", round, o.rounds)
	}
	if o.profiles != "" {
		if err := st.profileRows(ctx, rows, o.profiles, o.span); err != nil {
			return nil, err
		}
	}
	for i, r := range rows {
		results = append(results, resultOf(r, o.treatments, samples[i], rates[i]))
	}
	rest := result{Row: "start to ready; at rest", Treatments: o.treatments}
	var ready []time.Duration
	var resident []int
	for range 3 {
		t, kB, err := st.startAndRest(st.key)
		if err != nil {
			return nil, err
		}
		ready, resident = append(ready, t), append(resident, kB)
	}
	rest.ReadyIn, rest.Resident = median(ready), median(resident)
	return append(results, rest), nil
}

func resultOf(r row, treatments int, samples []sample, rates map[string][]float64) result {
	of := func(get func(sample) float64) float64 {
		var all []float64
		for _, s := range samples {
			all = append(all, get(s))
		}
		return median(all)
	}
	span := func(get func(sample) time.Duration) time.Duration {
		return time.Duration(of(func(s sample) float64 { return float64(get(s)) }))
	}
	out := result{Row: r.name, Treatments: treatments, Ratios: map[string]float64{}, PerSecond: map[string]float64{}}
	out.sample = sample{PerSecond: of(func(s sample) float64 { return s.PerSecond }),
		Median: span(func(s sample) time.Duration { return s.Median }), P99: span(func(s sample) time.Duration { return s.P99 }),
		ServiceCPU:  span(func(s sample) time.Duration { return s.ServiceCPU }),
		PostgresCPU: span(func(s sample) time.Duration { return s.PostgresCPU }),
		Allocations: of(func(s sample) float64 { return s.Allocations }), Bytes: of(func(s sample) float64 { return s.Bytes })}
	for name, all := range rates { // a ratio is of one round
		var ratios []float64
		for i, n := range all {
			ratios = append(ratios, samples[i].PerSecond/n)
		}
		out.Ratios[name], out.PerSecond[name] = median(ratios), median(all)
	}
	return out
}

func median[T float64 | int | time.Duration](all []T) T {
	sorted := slices.Sorted(slices.Values(all))
	return sorted[len(sorted)/2]
}

// markdown is the table, with what was not run.
func markdown(results []result) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %d processors, `%s`\n\n", time.Now().Format(time.DateOnly), runtime.NumCPU(), strings.Join(os.Args[1:], " "))
	b.WriteString("| row | treatments | a second | median | p99 | CPU of service + Postgres | allocations | bytes | to its baseline |\n" +
		"| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n")
	ms := func(d time.Duration) string { return strconv.FormatFloat(float64(d)/1e6, 'f', 1, 64) }
	for _, r := range results {
		if r.Resident > 0 {
			fmt.Fprintf(&b, "| %s | %d | | %s ms; %d MB | | | | | |\n", r.Row, r.Treatments, ms(r.ReadyIn), r.Resident/1000)
			continue
		}
		var to []string
		for name, ratio := range r.Ratios {
			to = append(to, fmt.Sprintf("%.2f of %s (%.0f a second)", ratio, name, r.PerSecond[name]))
		}
		fmt.Fprintf(&b, "| %s | %d | %.0f | %s ms | %s ms | %s + %s ms | %.0f | %.0f | %s |\n", r.Row, r.Treatments, r.sample.PerSecond,
			ms(r.Median), ms(r.P99), ms(r.ServiceCPU), ms(r.PostgresCPU), r.Allocations, r.Bytes, strings.Join(to, "; "))
	}
	b.WriteString("\nNot run:\n\n")
	for _, what := range notRun {
		b.WriteString("- " + what + "\n")
	}
	return b.String()
}

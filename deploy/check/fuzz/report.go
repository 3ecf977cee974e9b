package main

import (
	"fmt"
	"io"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"time"
)

// report is the result of a run.
type report struct {
	out      io.Writer
	trace    io.Writer // each request with its answer; nil for none
	seed     uint64
	base     func() string // where the service listens, for the commands
	failures int
	most     int            // failures after which a run ends
	seen     map[string]int // failures by what is alike in them
	counts   map[class]map[int]int
	good     map[string]int            // successes by operation
	refused  map[string]map[string]int // reasons why valid requests of an operation were refused
	dear     []dear                    // the most expensive requests
	waited   int                       // answers that asked to try again
	cut      int                       // bodies that the service stopped reading
	left     int                       // callers who left
	shared   int                       // times over the limit to which the workers contributed
	largest  int                       // bytes of an answer
}

type dear struct {
	n      int
	op     string
	cpu    time.Duration
	memory int64
}

func newReport(out io.Writer, seed uint64, most int, base func() string) *report {
	return &report{out: out, seed: seed, base: base, most: most, seen: map[string]int{},
		counts: map[class]map[int]int{}, good: map[string]int{}, refused: map[string]map[string]int{}}
}

func (r *request) name() string {
	if r.op == nil {
		return "no operation"
	}
	return r.op.id
}

var varying = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}|[0-9]+`)

// fail reports a failure with all that is needed to reproduce it. One that is like an
// earlier one is counted and not shown.
func (p *report) fail(r *request, a *reply, kind, what string, log []string) {
	p.failures++
	what = clip([]byte(what), 3000)
	alike := kind + " " + r.name() + " " + varying.ReplaceAllString(what[:min(len(what), 120)], "N")
	if kind == "log" { // its request may be an earlier one, whose caller has left
		alike = kind + " " + loggedBy(log[0])
	}
	if p.seen[alike]++; p.seen[alike] > 1 {
		return
	}
	fmt.Fprintf(p.out, "\nfuzz: FAILED %s: request %d of seed %d, %s (%s), %s\n%s\n", kind, r.n, p.seed, r.name(),
		r.class, what, shortened(r.curl(p.base())))
	if a != nil {
		fmt.Fprintf(p.out, "answer: %d %v\n%s\n", a.status, a.header, clip(a.body, 1500))
	}
	for _, line := range log[:min(len(log), 5)] {
		fmt.Fprintf(p.out, "log: %s\n", clip([]byte(line), 2000))
	}
	fmt.Fprintf(p.out, "again: deploy/check/fuzz.sh -seed %d -only %d\n", p.seed, r.n)
}

// loggedBy is the place and the cause in a line of the log.
func loggedBy(line string) string {
	said, _ := parse([]byte(line)).(object)
	return varying.ReplaceAllString(clip(fmt.Appendf(nil, "%v %v %v", said.at("msg"), said.at("operation"),
		said.at("error")), 200), "N")
}

// show writes a request and its answer whole.
func (p *report) show(r *request, a *reply, err error, cpu time.Duration, memory int64) {
	fmt.Fprintf(p.out, "\nfuzz: request %d of seed %d, %s (%s): %v of processor time, %d MB\n%s\n", r.n, p.seed,
		r.name(), r.class, cpu, memory>>20, r.curl(p.base()))
	if err != nil {
		fmt.Fprintln(p.out, "no answer:", err)
		return
	}
	body, _ := a.plain()
	fmt.Fprintf(p.out, "answer: %d %v\n%s\n", a.status, a.header, body)
}

func (p *report) count(r *request, a *reply) {
	if p.trace != nil {
		fmt.Fprintf(p.trace, "%d %s (%s)\n%s\n%d %s\n\n", r.n, r.name(), r.class, shortened(r.curl(p.base())), a.status,
			clip(a.body, 1000))
	}
	if p.counts[r.class] == nil {
		p.counts[r.class] = map[int]int{}
	}
	p.counts[r.class][a.status]++
	if a.status < http.StatusBadRequest {
		p.good[r.name()]++
	} else if r.class == wellFormed {
		p.refuse(r, a)
	}
	p.largest = max(p.largest, len(a.body))
}

// refuse counts why a valid request was refused, by the problem's codes.
func (p *report) refuse(r *request, a *reply) {
	if p.refused[r.name()] == nil {
		p.refused[r.name()] = map[string]int{}
	}
	why := fmt.Sprint(a.status)
	problem, _ := parse(a.body).(object)
	faults, _ := problem.at("errors").(list)
	for _, f := range faults[:min(len(faults), 1)] {
		fault, _ := f.(object)
		why += fmt.Sprintf(" %v %v", fault.at("code"), fault.at("pointer"))
	}
	p.refused[r.name()][why]++
}

func (p *report) cost(r *request, cpu time.Duration, memory int64) {
	p.dear = append(p.dear, dear{r.n, r.name(), cpu, memory})
	slices.SortFunc(p.dear, func(a, b dear) int { return int(b.cpu - a.cpu) })
	p.dear = p.dear[:min(len(p.dear), 5)]
}

func (p *report) rested(n int, now rest, resident int64) {
	fmt.Fprintf(p.out, "fuzz: %d requests, %d failures; at rest %d goroutines, %d MB of heap, %d MB resident\n", n,
		p.failures, now.goroutines, now.heap>>20, resident>>20)
}

// finish prints a summary, and tells whether the run passed.
func (p *report) finish(ops []*operation) bool {
	for _, c := range []class{wellFormed, nearly, hostile} {
		var parts []string
		for _, status := range slices.Sorted(maps.Keys(p.counts[c])) {
			parts = append(parts, fmt.Sprintf("%d of %d", p.counts[c][status], status))
		}
		fmt.Fprintf(p.out, "fuzz: %s: %s\n", c, strings.Join(parts, ", "))
	}
	never := 0
	for _, op := range ops {
		if p.good[op.id] == 0 {
			never++
			fmt.Fprintf(p.out, "fuzz: %s never succeeded: %v\n", op.id, p.refused[op.id])
		}
	}
	fmt.Fprintf(p.out, "fuzz: %d of %d operations succeeded at least once\n", len(ops)-never, len(ops))
	for _, d := range p.dear {
		fmt.Fprintf(p.out, "fuzz: dearest: request %d, %s: %v of processor time, %d MB\n", d.n, d.op, d.cpu, d.memory>>20)
	}
	if p.shared > 0 {
		fmt.Fprintf(p.out,
			"fuzz: %d times a record was made while the workers were busy, and both took more than the limit\n", p.shared)
	}
	fmt.Fprintf(p.out,
		"fuzz: %d callers left early, %d were asked to come again, %d bodies were not read to their end, the largest "+
			"answer had %d bytes\n", p.left, p.waited, p.cut, p.largest)
	for _, alike := range slices.Sorted(maps.Keys(p.seen)) {
		fmt.Fprintf(p.out, "fuzz: failed %d times: %s\n", p.seen[alike], strings.ReplaceAll(alike, "\n", " "))
	}
	return p.failures == 0
}

func clip(b []byte, n int) string {
	if len(b) > n {
		return string(b[:n]) + "…"
	}
	return string(b)
}

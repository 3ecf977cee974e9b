package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// sample is what a span of requests cost.
type sample struct {
	PerSecond   float64 // requests
	Median      time.Duration
	P99         time.Duration
	ServiceCPU  time.Duration // a request
	PostgresCPU time.Duration // a request
	Allocations float64       // a request
	Bytes       float64       // of an answer
}

// ask sends the row's requests over so many connections for a span.
func (st *stage) ask(ctx context.Context, r row, span time.Duration) (sample, error) {
	var (
		all   sync.WaitGroup
		lock  sync.Mutex
		took  []time.Duration
		bytes atomic.Int64
		fault atomic.Pointer[error]
	)
	mallocs, err := st.mallocs()
	if err != nil {
		return sample{}, err
	}
	before, err := st.spent()
	if err != nil {
		return sample{}, err
	}
	began := time.Now()
	for range r.connections {
		all.Go(func() {
			var own []time.Duration
			for time.Since(began) < span && ctx.Err() == nil && fault.Load() == nil {
				asked := time.Now()
				n, err := st.once(ctx, r)
				if err != nil {
					fault.Store(&err)
				}
				own = append(own, time.Since(asked))
				bytes.Add(n)
			}
			lock.Lock()
			defer lock.Unlock()
			took = append(took, own...)
		})
	}
	all.Wait()
	elapsed := time.Since(began)
	if f := fault.Load(); f != nil {
		return sample{}, *f
	}
	if r.writes { // what it leaves to the worker is its own, and no other row's
		if err := st.museum.Settled(ctx); err != nil {
			return sample{}, err
		}
	}
	after, err := st.spent()
	if err != nil {
		return sample{}, err
	}
	allocated, err := st.allocatedSince(mallocs)
	if err != nil {
		return sample{}, err
	}
	slices.Sort(took)
	n := time.Duration(len(took))
	return sample{PerSecond: float64(n) / elapsed.Seconds(), Median: took[n/2], P99: took[n*99/100],
		ServiceCPU: (after.service - before.service) / n, PostgresCPU: (after.postgres - before.postgres) / n,
		Allocations: allocated / float64(n), Bytes: float64(bytes.Load()) / float64(n)}, nil
}

// once sends one request of a row, and gives the bytes of its answer.
func (st *stage) once(ctx context.Context, r row) (int64, error) {
	method, body := http.MethodGet, any(nil)
	if r.body != nil {
		method, body = http.MethodPost, r.body()
	}
	status, answer, err := st.museum.Client.Answered(ctx, method, r.path, body)
	if err == nil && status/100 != 2 {
		err = fmt.Errorf("%s was answered %d: %s", r.path, status, answer)
	}
	return int64(len(answer)), err
}

// cost is what the processes have spent so far.
type cost struct {
	service, postgres time.Duration
}

// tick is the unit of processor time in /proc.
const tick = 10 * time.Millisecond

func (st *stage) spent() (c cost, err error) {
	service, postmaster := st.PIDs()
	all, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		return c, err
	}
	for _, file := range all {
		text, err := os.ReadFile(file)
		if err != nil {
			continue // it has ended
		}
		fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
		number := func(i int) time.Duration { n, _ := strconv.Atoi(fields[i]); return time.Duration(n) }
		pid := filepath.Base(filepath.Dir(file))
		switch {
		case pid == strconv.Itoa(service):
			c.service = (number(11) + number(12)) * tick
		case pid == strconv.Itoa(postmaster):
			c.postgres += (number(11) + number(12) + number(13) + number(14)) * tick
		case fields[1] == strconv.Itoa(postmaster):
			c.postgres += (number(11) + number(12)) * tick
		}
	}
	return c, nil
}

// allocatedSince is how many objects the service has allocated since it told mallocs, without those that it takes
// to tell, of which there are as many each time.
func (st *stage) allocatedSince(mallocs float64) (float64, error) {
	after, err := st.mallocs()
	if err != nil {
		return 0, err
	}
	again, err := st.mallocs()
	return after - mallocs - (again - after), err
}

// mallocs is how many objects the service has allocated.
func (st *stage) mallocs() (float64, error) {
	response, err := http.Get("http://" + st.Debug + "/debug/pprof/heap?debug=1") // its own address
	if err != nil {
		return 0, err
	}
	defer response.Body.Close()
	for lines := bufio.NewScanner(response.Body); lines.Scan(); {
		if n, is := strings.CutPrefix(lines.Text(), "# Mallocs = "); is {
			return strconv.ParseFloat(n, 64)
		}
	}
	return 0, fmt.Errorf("the profile tells no allocations")
}

// profileRows asks each row once more, for at least five seconds, and keeps a CPU profile of the service meanwhile.
func (st *stage) profileRows(ctx context.Context, rows []row, folder string, span time.Duration) error {
	span = max(span, 5*time.Second)
	for _, r := range rows {
		file := filepath.Join(folder, regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(r.name, "-")+".pprof")
		profiled := make(chan error, 1)
		go func() { profiled <- st.profile(file, span) }()
		_, err := st.ask(ctx, r, span)
		if err := errors.Join(err, <-profiled); err != nil {
			return err
		}
	}
	return nil
}

// profile writes a CPU profile of the service over a span of whole seconds.
func (st *stage) profile(file string, span time.Duration) error {
	response, err := http.Get(fmt.Sprintf("http://%s/debug/pprof/profile?seconds=%d", st.Debug, int(span.Seconds())))
	if err != nil {
		return err
	}
	defer response.Body.Close()
	profile, err := io.ReadAll(response.Body)
	if err != nil {
		return err
	}
	return os.WriteFile(file, profile, 0o644)
}

var tps = regexp.MustCompile(`(?m)^tps = ([0-9.]+) `)

// pgbench runs a script as the application's role, and gives its transactions a second.
func (st *stage) pgbench(ctx context.Context, name, script string, connections int, span time.Duration) (float64, error) {
	file := filepath.Join(st.folder, name+".sql")
	if err := os.WriteFile(file, []byte(script), 0o644); err != nil {
		return 0, err
	}
	dsn := st.DSN("meniscus_app")
	out, err := exec.CommandContext(ctx, pgbenchProgram(), "-n", "-M", "prepared", "-c", strconv.Itoa(connections), "-j", "2",
		"-T", strconv.Itoa(max(1, int(span.Seconds()))), "-f", file, dsn).CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("pgbench: %w\n%s", err, out)
	}
	found := tps.FindSubmatch(out)
	if found == nil {
		return 0, fmt.Errorf("pgbench tells no rate:\n%s", out)
	}
	return strconv.ParseFloat(string(found[1]), 64)
}

func pgbenchProgram() string {
	for _, folder := range []string{"/usr/lib/postgresql/17/bin", "/usr/lib/postgresql/16/bin", "/usr/lib/postgresql/15/bin"} {
		if file := filepath.Join(folder, "pgbench"); exec.Command(file, "--version").Run() == nil {
			return file
		}
	}
	return "pgbench"
}

// startAndRest starts the service anew a few times: how long until it is ready, and what it holds
// resident after a while, in kB.
func (st *stage) startAndRest(key string) (ready time.Duration, resident int, err error) {
	began := time.Now()
	if err := st.restart(key); err != nil {
		return 0, 0, err
	}
	for {
		response, err := http.Get("http://" + st.Address + "/readyz")
		if err == nil {
			_ = response.Body.Close()
			if response.StatusCode == http.StatusOK {
				break
			}
		}
		time.Sleep(time.Millisecond)
	}
	ready = time.Since(began)
	time.Sleep(5 * time.Second)
	service, _ := st.PIDs()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", service))
	if err != nil {
		return 0, 0, err
	}
	for line := range strings.Lines(string(text)) {
		if n, is := strings.CutPrefix(line, "VmRSS:"); is {
			resident, err = strconv.Atoi(strings.Fields(n)[0])
		}
	}
	return ready, resident, err
}

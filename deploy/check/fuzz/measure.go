package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strconv"
	"strings"
	"time"

	"meniscus/deploy/running"
)

// tick is the unit in which the kernel counts processor time for programs
// (USER_HZ, 100 on every architecture that this runs on).
const tick = 10 * time.Millisecond

// stat reads the processor time of a process, and of its children that have
// ended, from /proc.
func stat(pid int) (own, ended time.Duration, err error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0, 0, err
	}
	fields := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
	if len(fields) < 15 {
		return 0, 0, errors.New("the kernel's account of a process is too short")
	}
	var n [4]int64 // utime, stime, cutime, cstime
	for i := range n {
		n[i], _ = strconv.ParseInt(fields[11+i], 10, 64)
	}
	return time.Duration(n[0]+n[1]) * tick, time.Duration(n[2]+n[3]) * tick, nil
}

// family is the processor time of a process and all of its children. A child that ends
// meanwhile would be missed or counted twice; then they are read again.
func family(pid int) (time.Duration, error) {
	for {
		_, ended, err := stat(pid)
		if err != nil {
			return 0, err
		}
		alive, err := living(pid)
		if err != nil {
			return 0, err
		}
		own, still, err := stat(pid)
		if err != nil || still == ended {
			return own + alive + still, err
		}
	}
}

// living is the processor time of a process's children that have not ended.
func living(pid int) (sum time.Duration, err error) {
	children, err := os.ReadFile(fmt.Sprintf("/proc/%d/task/%d/children", pid, pid))
	if err != nil {
		return 0, err
	}
	for child := range strings.FieldsSeq(string(children)) {
		id, _ := strconv.Atoi(child)
		if t, _, err := stat(id); err == nil { // it may have ended since
			sum += t
		}
	}
	return sum, nil
}

// service is the service under test.
type service struct{ *running.Service }

// cpu is the processor time of the service and of its database so far.
func (s service) cpu() (time.Duration, error) {
	serving, database := s.PIDs()
	own, _, err := stat(serving)
	if err != nil {
		return 0, err
	}
	all, err := family(database)
	return own + all, err
}

func (s service) proc(file string) string {
	serving, _ := s.PIDs()
	return fmt.Sprintf("/proc/%d/%s", serving, file)
}

// memory reads a line of the process's status in /proc, such as VmRSS, in bytes.
func (s service) memory(line string) int64 {
	text, err := os.ReadFile(s.proc("status"))
	if err != nil {
		return 0
	}
	for l := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(l, line+":"); ok {
			n, _ := strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
			return n << 10
		}
	}
	return 0
}

// forgetPeak resets the kernel's VmHWM (peak memory).
func (s service) forgetPeak() {
	_ = os.WriteFile(s.proc("clear_refs"), []byte("5"), 0)
}

// rest is what the service holds while it is idle.
type rest struct {
	goroutines int
	heap       int64 // in use after a collection
	stacks     string
}

// restLimit is how long the workers may take to process what was recorded.
const restLimit = 2 * time.Minute

// quiet is how much processor time the idle service and database may use in a second,
// in which the workers look for work a few times.
const quiet = 100 * time.Millisecond

// settle waits until the workers are done, by their processor time.
func (s service) settle(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, restLimit)
	defer cancel()
	clock := time.NewTicker(time.Second)
	defer clock.Stop()
	last, err := s.cpu()
	for err == nil {
		select {
		case <-ctx.Done():
			return fmt.Errorf("the workers are not at rest after %v", restLimit)
		case <-clock.C:
		}
		var now time.Duration
		if now, err = s.cpu(); now-last < quiet {
			return err
		}
		last = now
	}
	return err
}

// atRest waits until the service is idle, collects garbage and measures.
func (s service) atRest(ctx context.Context) (rest, error) {
	if err := s.settle(ctx); err != nil {
		return rest{}, err
	}
	var r rest
	for range 2 { // the second collection frees what finalizers released
		heap, err := s.profile(ctx, "heap?gc=1&debug=1")
		if err != nil {
			return rest{}, err
		}
		r.heap = figure(heap, "# HeapInuse = ")
	}
	stacks, err := s.profile(ctx, "goroutine?debug=1")
	r.goroutines, r.stacks = int(figure(stacks, "goroutine profile: total ")), string(stacks)
	return r, err
}

func (s service) profile(ctx context.Context, name string) ([]byte, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+s.Debug+"/debug/pprof/"+name, nil)
	if err != nil {
		return nil, err
	}
	r.Close = true // so that this connection is not counted as a leak
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		return nil, fmt.Errorf("reading a profile: %w", err)
	}
	defer response.Body.Close()
	return io.ReadAll(response.Body)
}

func figure(profile []byte, before string) int64 {
	lines := bufio.NewScanner(bytes.NewReader(profile))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		if rest, ok := strings.CutPrefix(lines.Text(), before); ok {
			n, _ := strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
			return n
		}
	}
	return 0
}

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"time"
)

// importCards sends a file of old treatment cards to a running service. It is a dry run
// unless it is told to record. Run again after an interruption, it continues where it
// stopped.
func importCards(ctx context.Context, args []string, out, errs io.Writer) error {
	flags := newFlags("import", errs)
	address := flags.String("url", "http://127.0.0.1:8080", "where the service is")
	mapping := flags.String("mapping", "", "a JSON file that says what the columns mean: the body of POST /v1/imports")
	record := flags.Bool("record", false,
		"record the cards; without it nothing is recorded, and you are told what would be")
	if err := flags.Parse(args); err != nil {
		return fmt.Errorf("%w: %w", errUsage, err)
	}
	if *mapping == "" || flags.NArg() != 1 {
		return fmt.Errorf("%w: MENISCUS_KEY=… meniscus import -mapping MAPPING.json [-record] CARDS.csv", errUsage)
	}
	reader := configReader{env: os.LookupEnv}
	c := client{base: strings.TrimSuffix(*address, "/"), key: reader.secret("KEY")}
	if err := errors.Join(reader.faults...); err != nil {
		return err
	}
	if c.key == "" {
		return fmt.Errorf("%w: put an access key with the scopes integrate and record into MENISCUS_KEY, or its "+
			"file's name into MENISCUS_KEY_FILE", errUsage)
	}
	request, err := importRequest(*mapping, !*record)
	if err != nil {
		return err
	}
	return c.importFile(ctx, request, flags.Arg(0), out, errs)
}

// importRequest is the mapping file, with dryRun from the command line.
func importRequest(path string, dryRun bool) (map[string]any, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("reading the mapping: %w", err)
	}
	var request map[string]any
	if err := json.Unmarshal(text, &request); err != nil {
		return nil, fmt.Errorf("reading the mapping %s: %w", path, err)
	}
	request["dryRun"] = dryRun
	return request, nil
}

// progress is an import in the service's answer.
type progress struct {
	ID     string
	State  string
	DryRun bool
	Format string
	Lines  struct{ Read, Taken, Replayed, Doubtful, Refused int64 }
}

// importFile begins the import, or finds the one begun with the same file and mapping,
// and sends the cards until the service says that all are done.
func (c client) importFile(ctx context.Context, request map[string]any, path string, out, errs io.Writer) error {
	key, err := importKey(request, path)
	if err != nil {
		return err
	}
	_, answer, err := c.send(ctx, http.MethodPost, "/v1/imports", request, map[string]string{"Idempotency-Key": key})
	if err != nil {
		return err
	}
	var p progress
	if err := json.Unmarshal(answer, &p); err != nil {
		return fmt.Errorf("reading the import: %w", err)
	}
	if p.State == "done" {
		fmt.Fprintln(out,
			"These cards were sent before with this mapping. What follows is what became of them then; nothing is done twice.")
	}
	stop := c.watchImport(ctx, p.ID, path, errs)
	p, err = c.sendFile(ctx, p, path)
	stop()
	if err != nil {
		return fmt.Errorf("the import stopped; run the same command again to go on: %w", err)
	}
	return c.tell(ctx, p, out)
}

// importKey is the same for the same cards and the same mapping, so that a command that
// is run again continues its import.
func importKey(request map[string]any, path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", fmt.Errorf("opening the cards: %w", err)
	}
	defer file.Close()
	digest := sha256.New()
	if err := json.NewEncoder(digest).Encode(request); err != nil {
		return "", fmt.Errorf("encoding the mapping: %w", err)
	}
	if _, err := io.Copy(digest, file); err != nil {
		return "", fmt.Errorf("reading the cards: %w", err)
	}
	return hex.EncodeToString(digest.Sum(nil)), nil
}

// atWork is a little longer than the lease that a crashed service leaves on an import.
const atWork = 150 * time.Second

// sendFile sends the cards; when the connection breaks it sends them again, a few
// times. While the import is leased to another sender, it waits.
func (c client) sendFile(ctx context.Context, p progress, path string) (progress, error) {
	began := time.Now()
	for try := 1; ; try++ {
		done, status, err := c.putCards(ctx, p, path)
		wait := time.Duration(try) * time.Second
		switch {
		case err == nil || ctx.Err() != nil:
			return done, err
		case status == http.StatusConflict && strings.Contains(err.Error(), "import-at-work"):
			if time.Since(began) > atWork {
				return done, err
			}
			try, wait = 0, 5*time.Second
		case try == 5 || status >= 400 && status < 500:
			return done, err
		}
		select {
		case <-ctx.Done():
			return p, ctx.Err()
		case <-time.After(wait):
		}
	}
}

func (c client) putCards(ctx context.Context, p progress, path string) (progress, int, error) {
	file, err := os.Open(path)
	if err != nil {
		return p, 0, fmt.Errorf("opening the cards: %w", err)
	}
	defer file.Close()
	r, err := http.NewRequestWithContext(ctx, http.MethodPut, c.base+"/v1/imports/"+p.ID+"/cards", file)
	if err != nil {
		return p, 0, fmt.Errorf("making a request: %w", err)
	}
	r.Header.Set("Authorization", "Bearer "+c.key)
	r.Header.Set("Content-Type", map[string]string{"csv": "text/csv", "ndjson": "application/x-ndjson"}[p.Format])
	response, err := http.DefaultClient.Do(r) // without a timeout: a large file takes long
	if err != nil {
		return p, 0, fmt.Errorf("sending the cards: %w", err)
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		return p, response.StatusCode, fmt.Errorf("reading the answer: %w", err)
	}
	if response.StatusCode != http.StatusOK {
		return p, response.StatusCode, fmt.Errorf("the service answered %d: %s", response.StatusCode, answer)
	}
	return p, response.StatusCode, json.Unmarshal(answer, &p)
}

// watchImport draws a bar while the cards are being sent; the last call of stop
// ends it.
func (c client) watchImport(ctx context.Context, id, path string, errs io.Writer) (stop func()) {
	total := countLines(path)
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(500 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				c.drawBar(ctx, id, total, errs)
			}
		}
	}()
	return func() {
		c.drawBar(ctx, id, total, errs)
		fmt.Fprintln(errs)
		cancel()
		<-done
	}
}

func (c client) drawBar(ctx context.Context, id string, total int64, errs io.Writer) {
	var p struct {
		progress
		Position int64
	}
	if _, answer, err := c.send(ctx, http.MethodGet, "/v1/imports/"+id, nil, nil); err != nil ||
		json.Unmarshal(answer, &p) != nil {
		return // the bar waits; sendFile reports the error
	}
	if p.State == "done" {
		p.Position = total
	}
	fmt.Fprintf(errs, "\r%s %d lines, %d refused", bar(p.Position, total), p.Lines.Read, p.Lines.Refused)
}

// bar is a bar of forty marks.
func bar(done, total int64) string {
	const width = 40
	full := 0
	if total > 0 {
		full = int(min(done, total) * width / total)
	}
	return "[" + strings.Repeat("#", full) + strings.Repeat(".", width-full) + "]"
}

func countLines(path string) int64 {
	file, err := os.Open(path)
	if err != nil {
		return 0
	}
	defer file.Close()
	var n int64
	buffer := make([]byte, 64<<10)
	for {
		read, err := file.Read(buffer)
		n += int64(bytes.Count(buffer[:read], []byte("\n")))
		if err != nil {
			return n
		}
	}
}

// tell prints what became of the cards, and lists those that a person must look at.
func (c client) tell(ctx context.Context, p progress, out io.Writer) error {
	verb := "recorded"
	if p.DryRun {
		verb = "would be recorded"
	}
	fmt.Fprintf(out, "%d cards read: %d %s (%d of them with a doubt), %d recorded before, %d refused.\n",
		p.Lines.Read, p.Lines.Taken, verb, p.Lines.Doubtful, p.Lines.Replayed, p.Lines.Refused)
	for path, cursor := "/v1/imports/"+p.ID+"/lines?limit=500", "-"; cursor != ""; {
		_, answer, err := c.send(ctx, http.MethodGet, path, nil, nil)
		if err != nil {
			return err
		}
		if cursor, err = tellLines(answer, out); err != nil {
			return err
		}
		path = "/v1/imports/" + p.ID + "/lines?limit=500&cursor=" + cursor
	}
	if p.DryRun {
		fmt.Fprintln(out, "Nothing was recorded: this was a dry run. Add -record to record the cards.")
	}
	return nil
}

// tellLines prints a page of lines, and gives the cursor of the next.
func tellLines(page []byte, out io.Writer) (next string, err error) {
	type reason struct{ Column, Pointer, Detail string }
	var list struct {
		Items []struct {
			Line            int64
			Outcome         string
			Reasons, Doubts []reason
		}
		Next struct{ Cursor string }
	}
	if err := json.Unmarshal(page, &list); err != nil {
		return "", fmt.Errorf("reading the lines: %w", err)
	}
	for _, line := range list.Items {
		fmt.Fprintf(out, "line %d, %s\n", line.Line, line.Outcome)
		for _, r := range append(line.Reasons, line.Doubts...) {
			where := r.Column + r.Pointer
			if where != "" {
				where += ": "
			}
			fmt.Fprintf(out, "    %s%s\n", where, r.Detail)
		}
	}
	return list.Next.Cursor, nil
}

package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"

	"github.com/google/uuid"
)

// exportFile writes everything that the key's institution recorded to a file. The file
// gets its name only when it is complete.
func exportFile(ctx context.Context, args []string, out, errs io.Writer) error {
	flags := newFlags("export", errs)
	c, path, err := callerWithFile(flags, args, "export EXPORT.ndjson", "export")
	if err != nil {
		return err
	}
	part := path + ".part"
	file, err := os.OpenFile(part, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return fmt.Errorf("opening the file: %w", err)
	}
	err = c.stream(ctx, http.MethodGet, "/v1/exports/records", nil, file)
	if err = errors.Join(err, file.Sync(), file.Close()); err == nil {
		err = os.Rename(part, path)
	}
	if err != nil {
		return fmt.Errorf("exporting: %w", errors.Join(err, os.Remove(part)))
	}
	fmt.Fprintf(out, "Everything is in %s, with the names of people in it: keep it as you keep the database.\n", path)
	return nil
}

// restoreFile restores an export into the key's institution, which must be empty.
func restoreFile(ctx context.Context, args []string, out, errs io.Writer) error {
	flags := newFlags("restore", errs)
	c, path, err := callerWithFile(flags, args, "restore EXPORT.ndjson", "administer")
	if err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("opening the export: %w", err)
	}
	defer file.Close()
	var answer strings.Builder
	if err := c.stream(ctx, http.MethodPost, "/v1/restorations", file, &answer); err != nil {
		return fmt.Errorf("restoring: %w", err)
	}
	fmt.Fprintln(out, "Restored:", answer.String())
	return nil
}

// callerWithFile reads a command line that names a running service and a file.
func callerWithFile(flags *flag.FlagSet, args []string, usage, scope string) (client, string, error) {
	address := flags.String("url", "http://127.0.0.1:8080", "where the service is")
	if err := flags.Parse(args); err != nil {
		return client{}, "", fmt.Errorf("%w: %w", errUsage, err)
	}
	if flags.NArg() != 1 {
		return client{}, "", fmt.Errorf("%w: MENISCUS_KEY=… meniscus %s", errUsage, usage)
	}
	reader := configReader{env: os.LookupEnv}
	c := client{base: strings.TrimSuffix(*address, "/"), key: reader.secret("KEY")}
	if err := errors.Join(reader.faults...); err != nil {
		return client{}, "", err
	}
	if c.key == "" {
		return client{}, "",
			fmt.Errorf("%w: put an access key with the scope %s into MENISCUS_KEY, or its file's name into "+
				"MENISCUS_KEY_FILE", errUsage, scope)
	}
	return c, flags.Arg(0), nil
}

// stream sends lines, if there are any, and copies the answer as it arrives.
func (c client) stream(ctx context.Context, method, path string, body io.Reader, into io.Writer) error {
	r, err := http.NewRequestWithContext(ctx, method, c.base+path, body)
	if err != nil {
		return fmt.Errorf("making a request: %w", err)
	}
	r.Header.Set("Authorization", "Bearer "+c.key)
	if body != nil {
		r.Header.Set("Content-Type", "application/x-ndjson")
	}
	response, err := http.DefaultClient.Do(r) // without a timeout: a large export takes long
	if err != nil {
		return fmt.Errorf("sending a request: %w", err)
	}
	defer response.Body.Close()
	if response.StatusCode >= http.StatusBadRequest {
		problem, _ := io.ReadAll(io.LimitReader(response.Body, 1<<16)) // if reading fails, the status is enough
		return fmt.Errorf("the service answered %d: %s", response.StatusCode, problem)
	}
	if _, err := io.Copy(into, response.Body); err != nil {
		return fmt.Errorf("the answer broke off: %w", err)
	}
	return nil
}

// whoRecordedFirst gives the person who recorded the first entry of an export.
func whoRecordedFirst(path string) (uuid.UUID, error) {
	file, err := os.Open(path)
	if err != nil {
		return uuid.Nil, fmt.Errorf("opening the export: %w", err)
	}
	defer file.Close()
	var first struct{ RecordedBy uuid.UUID }
	if err := json.NewDecoder(bufio.NewReader(file)).Decode(&first); err != nil || first.RecordedBy == uuid.Nil {
		return uuid.Nil, fmt.Errorf("%s is no export, or one without an entry", path)
	}
	return first.RecordedBy, nil
}

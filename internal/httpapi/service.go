package httpapi

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"slices"
	"time"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/migrations"
)

func checkLive(*Server, *requestContext) (*answer, error) {
	a, err := ok(api.Health{Status: "up"})
	if err == nil {
		a.noStore = true
	}
	return a, err
}

// readyWithin is how long the database may take to answer.
const readyWithin = time.Second

// checkReady asks whether requests can be served: 200, or a 503 problem that
// says what is missing.
func checkReady(s *Server, c *requestContext) (*answer, error) {
	if s.draining() {
		return nil, fault.Of(fault.Unavailable, "shutting-down", "The service is shutting down.")
	}
	if s.store != nil {
		ctx, cancel := context.WithTimeout(c.ctx(), readyWithin)
		defer cancel()
		if err := s.store.Ready(ctx); err != nil {
			if gone := c.ctx().Err(); gone != nil { // the caller left; the database may be ready
				return nil, gone
			}
			return nil, notReady(err)
		}
	}
	return checkLive(s, c)
}

func notReady(err error) error {
	for _, schema := range []error{migrations.ErrOld, migrations.ErrNew} {
		if errors.Is(err, schema) {
			return fault.Of(fault.Unavailable, "schema-version", "%s", schema.Error())
		}
	}
	return fault.Of(fault.Unavailable, "database-unavailable", "The database does not answer.")
}

func readContract(s *Server, _ *requestContext) (*answer, error) {
	said := s.contract()
	a := &answer{body: said.plain, packed: said.packed}
	a.setHeader("Cache-Control", "public, max-age=300")
	return a, nil
}

// servedContract is the contract as JSON, plain and compressed.
type servedContract struct{ plain, packed []byte }

// contractAt is the contract with this service's own address.
func contractAt(publicURL string) servedContract {
	said := servedContract{plain: api.Served}
	if before, after, found := bytes.Cut(api.Served, []byte(`"servers":`)); found && publicURL != "" {
		rest := json.NewDecoder(bytes.NewReader(after))
		var elsewhere json.RawMessage
		_ = rest.Decode(&elsewhere) // the contract is JSON: a test reads it
		here, _ := json.Marshal(openapi3.Servers{{URL: publicURL, Description: "This service."}})
		said.plain = slices.Concat(before, []byte(`"servers":`), here, after[rest.InputOffset():])
	}
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is valid
	_, _ = z.Write(said.plain)
	_ = z.Close() // writing to a buffer never fails
	said.packed = b.Bytes()
	return said
}

// mayWrite is a fault unless the key may record this kind. Operations on records of any
// kind need the scope of the record's own.
func (c *requestContext) mayWrite(kind record.Kind) error {
	if c.principal.May(recording.ScopeOf[kind]) {
		return nil
	}
	return fault.Of(fault.Forbidden, "scope-missing",
		"Changing a record of this kind needs a key with the scope %q.", string(recording.ScopeOf[kind]))
}

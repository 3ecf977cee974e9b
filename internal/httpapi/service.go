package httpapi

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
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
			if gone := c.ctx().Err(); gone != nil { // who asked did not wait; that says nothing of the database
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
	body, err := s.contract()
	if err != nil {
		return nil, err
	}
	a := &answer{body: body}
	a.setHeader("Cache-Control", "public, max-age=300")
	return a, nil
}

// contractAt is the contract as JSON, with this service's own address.
func contractAt(doc *openapi3.T, publicURL string) ([]byte, error) {
	copied := *doc
	if publicURL != "" {
		copied.Servers = openapi3.Servers{{URL: publicURL, Description: "This service."}}
	}
	b, err := json.Marshal(&copied)
	if err != nil {
		return nil, fmt.Errorf("rendering the contract: %w", err)
	}
	return b, nil
}

// mayWrite tells whether the key may record this kind: the operations on any
// record are open to whoever may record its kind.
func (c *requestContext) mayWrite(kind record.Kind) error {
	if c.principal.May(recording.ScopeOf[kind]) {
		return nil
	}
	return fault.Of(fault.Forbidden, "scope-missing",
		"Changing a record of this kind needs a key with the scope %q.", string(recording.ScopeOf[kind]))
}

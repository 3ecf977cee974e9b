package httpapi

import (
	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/record"
)

// openOperations are those that a caller without a key may use for the records
// of an institution that the operator publishes, with the kind of record that
// their path names.
var openOperations = map[string]struct {
	kind  record.Kind
	param string
}{
	"readSpecimen":            {record.KindSpecimen, "specimenId"},
	"readSpecimenProvenance":  {record.KindSpecimen, "specimenId"},
	"summarizeSpecimen":       {record.KindSpecimen, "specimenId"},
	"readTreatment":           {record.KindTreatment, "treatmentId"},
	"readTreatmentProvenance": {record.KindTreatment, "treatmentId"},
}

// openly is the principal of a caller without a key: a reader of the published
// institution that holds the record of the path, or nil. A record that does not exist and
// one that is not published are answered alike.
func (c *requestContext) openly() (*access.Principal, error) {
	open, ok := openOperations[c.op.id]
	if !ok || c.server.store == nil {
		return nil, nil
	}
	id, err := uuid.Parse(c.echo.Param(open.param))
	if err != nil {
		return nil, nil
	}
	for _, institution := range c.server.published {
		known, err := c.server.store.For(institution).Exists(c.ctx(), open.kind, id)
		if err != nil {
			return nil, err
		}
		if known {
			return &access.Principal{Institution: institution, Scopes: []access.Scope{access.Read}}, nil
		}
	}
	return nil, nil
}

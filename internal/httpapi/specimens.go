package httpapi

import (
	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// mustExist is a fault unless the record exists; the list of an existing one may be
// empty.
func (s *Server) mustExist(c *requestContext, kind record.Kind, id uuid.UUID) error {
	known, err := c.tenant().Exists(c.ctx(), kind, id)
	if err == nil && !known {
		err = unknown(kind)
	}
	return err
}

func unknown(kind record.Kind) error {
	return fault.Of(fault.NotFound, string(kind)+"-unknown", "There is no such %s in this institution.", string(kind))
}

package httpapi

import (
	"maps"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// withRecord adds to a fault about a record (its id is the fault's `record`) the record's
// address and its ETag now, so that a caller can read or change it without another
// request.
func (s *Server) withRecord(c *requestContext, err error) error {
	found := fault.From(err)
	if len(found) != 1 {
		return err
	}
	id, speaks := found[0].Extra["record"].(uuid.UUID)
	if !speaks {
		return err
	}
	row, failed := c.tenant().Current(c.ctx(), id)
	if failed != nil {
		return failed
	}
	told := *found[0]
	told.Extra = maps.Clone(told.Extra)
	told.Extra["record"] = s.standsAt(row)
	return &told
}

// standsAt says which record it is, where it is, and its ETag.
func (s *Server) standsAt(row postgres.Row) api.RecordAddress {
	return api.RecordAddress{Id: row.Record, Kind: api.RecordKind(row.Kind), Revision: int32(row.Revision),
		Href: s.publicURL + recordPath(row), Etag: recordTag(row)}
}

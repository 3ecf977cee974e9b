package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

func readSupplyStatement(s *Server, c *call, _ uuid.UUID, raw []byte) (draft, error) {
	var refs references
	st, err := understand[api.SupplyStatement](s, c, raw, &refs)
	if err != nil {
		return draft{}, err
	}
	supply := record.Supply{
		Code:     st.Code,
		Material: st.Material.Id,
		Received: refs.date(st.Received, "/received"),
		Expiry:   refs.date(st.Expiry, "/expiry"),
	}
	refs.date(st.Opened, "/opened")
	if err := refs.faults.Err(); err != nil {
		return draft{}, err
	}
	statement, err := refs.statement(raw)
	return draft{statement: statement, project: func(p *postgres.Projector) { p.Supply(supply) }}, err
}

package httpapi

import (
	"meniscus/api"
	"meniscus/internal/material"
)

// listHazardStatements gives the statements word for word.
func listHazardStatements(s *Server, c *requestContext) (*answer, error) {
	b := material.Builtin()
	code := c.text("code")
	list := api.HazardStatementList{
		Items: []api.HazardStatement{}, SmallPackages: []api.SmallPackage{}, Cautions: []string{material.SheetFirst},
	}
	for _, st := range b.Statements() {
		if code == "" || st.Code == code {
			list.Items = append(list.Items, hazardStatement(b, st))
		}
	}
	if code == "" {
		list.SmallPackages = each(b.SmallPackages(), smallPackage)
	}
	a, err := ok(list)
	return c.shared(a, err)
}

func hazardStatement(b *material.Base, st material.Statement) api.HazardStatement {
	out := api.HazardStatement{
		Code: st.Code, Kind: api.HazardStatementKind(st.Kind), Text: st.Text(),
		Template: st.Template, Classes: said(st.Classes), Wording: "current",
		Assigned: []api.PrecautionAssigned{}, Source: attribution(st.Evidence),
	}
	if st.Older {
		out.Wording = "older"
		return out
	}
	for _, p := range b.PrecautionsByCode(st.Code) {
		out.Assigned = append(out.Assigned, api.PrecautionAssigned{
			Class: p.Class, Phase: api.PrecautionAssignedPhase(p.Phase),
		})
	}
	return out
}

func smallPackage(p material.SmallPackage) api.SmallPackage {
	return api.SmallPackage{
		Class: p.Class, Omitted: api.SmallPackageOmitted(p.Omitted), Public: p.Public, Source: attribution(p.Evidence),
	}
}

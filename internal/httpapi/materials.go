package httpapi

import (
	"math"
	"slices"
	"strconv"
	"time"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/plain"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/views"
)

// listMaterials pages through the materials, or through what words may mean.
func listMaterials(s *Server, c *requestContext) (*answer, error) {
	b, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	filter := material.Filter{Text: c.text("text")}
	if kind := c.text("kind"); kind != "" {
		filter.Kinds = []material.Kind{material.Kind(kind)}
	}
	items := each(b.Materials(filter), materialSummary)
	if words := c.text("words"); words != "" {
		items = meant(items, b.Resolve(words))
	}
	if from := c.text("origin"); from != "" {
		items = slices.DeleteFunc(items, func(m api.MaterialSummary) bool { return string(m.Origin) != from })
	}
	since, err := c.instant("recordedSince")
	if err != nil {
		return nil, err
	}
	var next *api.Next
	if since == nil {
		items, next, err = textPage(c, items, func(m api.MaterialSummary) string { return m.Id })
	} else {
		items, next, err = s.ownSince(c, items, *since)
	}
	if err != nil {
		return nil, err
	}
	a, err := ok(api.MaterialList{Items: items, Next: next})
	a, err = linked(a, err, next)
	return c.shared(a, err)
}

// ownSince cuts a page out of the institution's own materials, in the order in
// which their latest revisions were recorded.
func (s *Server) ownSince(
	c *requestContext, all []api.MaterialSummary, since time.Time,
) ([]api.MaterialSummary, *api.Next, error) {
	after, err := c.sequenceCursor()
	if err != nil || c.principal == nil {
		return []api.MaterialSummary{}, nil, err
	}
	rows, more, err := c.tenant().ListSince(
		c.ctx(), postgres.Filter{Kind: record.KindMaterial}, since, after, c.number("limit"))
	if err != nil {
		return nil, nil, err
	}
	page := []api.MaterialSummary{}
	for _, row := range rows {
		if i := slices.IndexFunc(all, func(m api.MaterialSummary) bool { return m.Id == row.Record.String() }); i >= 0 {
			page = append(page, all[i])
		}
	}
	if !more {
		return page, nil, nil
	}
	n := c.next(sequenceCursor(*rows[len(rows)-1].Sequence))
	return page, &api.Next{Cursor: n.cursor, Href: n.href}, nil
}

// meant keeps the materials that words may mean, with the grade that they name.
func meant(all []api.MaterialSummary, r material.Resolution) []api.MaterialSummary {
	kept := []api.MaterialSummary{}
	for _, m := range all {
		i := slices.IndexFunc(r.Candidates, func(c material.Candidate) bool { return c.Material == m.Id })
		if i >= 0 {
			m.Grade = said(r.Candidates[i].Grade)
			kept = append(kept, m)
		}
	}
	return kept
}

func materialSummary(m material.Material) api.MaterialSummary {
	return api.MaterialSummary{
		Id: m.ID, Name: m.Name, Kind: api.MaterialKind(m.Kind), Mixing: api.Mixing(m.Kind.Mixing()),
		Family: m.Family, Origin: origin(m), Note: said(m.Note),
	}
}

func origin(m material.Material) api.Origin {
	if m.Own() {
		return "own"
	}
	return "built-in"
}

// readMaterial tells everything that is known of one material.
func readMaterial(s *Server, c *requestContext) (*answer, error) {
	b, m, err := s.materialAsked(c)
	if err != nil {
		return nil, err
	}
	a, err := ok(materialInFull(b, m))
	return c.shared(a, err)
}

// readStrengths tells at what strengths practice uses a material.
func readStrengths(s *Server, c *requestContext) (*answer, error) {
	b, m, err := s.materialAsked(c)
	if err != nil {
		return nil, err
	}
	asked := views.StrengthsAsked{Role: material.AnyRole, Body: c.text("body"), Solvent: c.text("solvent")}
	if role := c.text("role"); role != "" {
		asked.Role = material.Role(role)
	}
	if liquid, found := b.Material(asked.Solvent); asked.Solvent != "" &&
		(!found || liquid.Kind.Mixing() != material.Liquid) {
		return nil, &fault.Fault{Kind: fault.Invalid, Code: "solvent-unknown", Parameter: "solvent",
			Detail: "No liquid with this id is known here; /v1/materials?kind=solvent lists them."}
	}
	told := views.Strengths(b, m, asked, c.detail())
	a, err := c.tell(told, func() plain.Text { return views.StrengthsText(told) })
	return c.shared(a, err)
}

// materialAsked is the material of the path, and what is known of materials.
func (s *Server) materialAsked(c *requestContext) (*material.Base, material.Material, error) {
	b, err := s.knowledge(c)
	if err != nil {
		return nil, material.Material{}, err
	}
	m, found := b.Material(c.echo.Param("materialId"))
	if !found {
		return nil, material.Material{}, fault.Of(fault.NotFound, "material-unknown",
			"No material with this id is known here; /v1/materials lists them, and with a key the institution's own too.")
	}
	return b, m, nil
}

func materialInFull(b *material.Base, m material.Material) api.Material {
	return api.Material{
		Id: m.ID, Name: m.Name, Kind: api.MaterialKind(m.Kind), Mixing: api.Mixing(m.Kind.Mixing()), Family: m.Family,
		Origin: origin(m), Like: said(m.Like), LikeGrade: said(m.LikeGrade), Broader: said(m.Broader), Note: said(m.Note),
		Source:     attribution(m.Evidence),
		OtherNames: otherNames(b.Names(m.ID)),
		Grades:     each(m.Grades, materialGrade),
		Components: each(m.Components, materialComponent),
		Properties: each(b.Properties(m.ID), func(p material.Property) api.MaterialProperty {
			return materialProperty(b, m.ID, p)
		}),
		Solubility:      each(b.SolubilityRows(m.ID), observedSolubility),
		Strengths:       each(b.Strengths(m.ID, material.AnyRole), customaryStrength),
		Reversibility:   each(b.ReversibilityStatements(m.ID), reversibilityEvidence),
		AnalysisEffects: each(b.AnalysisEffects(m.ID, material.UnknownRole, ""), effectOnAnalysis),
		Hazards:         each(b.Hazards(m.ID), func(h material.Hazard) api.HazardElement { return hazardElement(b, h) }),
		ExposureLimits:  each(b.ExposureLimits(m.ID), exposureLimit),
		Containers:      ratingsOf(b, "", m.ID),
		Cautions:        materialCautions(b, m),
	}
}

// materialCautions says of what stands in a bottle that its hazards are not known, where they are not.
func materialCautions(b *material.Base, m material.Material) []string {
	switch m.Kind {
	case material.SolventClass, material.MaterialClass, material.Exposure, material.Scale, material.Object:
		return []string{material.SheetFirst}
	}
	if len(b.ClassifiedBy(m.ID)) > 0 {
		return []string{material.SheetFirst}
	}
	return []string{material.SheetFirst, material.UnknownHazards(m.Name)}
}

func otherNames(names []material.Name) []api.MaterialName {
	out := []api.MaterialName{}
	for _, n := range names {
		if n.Kind != material.GenericName {
			out = append(out, api.MaterialName{Name: n.Text, Kind: api.MaterialNameKind(n.Kind), Note: said(n.Note)})
		}
	}
	return out
}

func materialGrade(g material.Grade) api.MaterialGrade {
	return api.MaterialGrade{Grade: g.Name, Within: said(g.Within), Note: said(g.Note)}
}

func materialComponent(x material.Component) api.MaterialComponent {
	out := api.MaterialComponent{
		Material: x.Material, Basis: api.MaterialComponentBasis(x.Basis), Note: said(x.Note), Source: attribution(x.Evidence),
	}
	if x.Amount.Numeric {
		amount := statedValue(x.Amount, "%")
		out.Amount = &amount
	}
	return out
}

// materialProperty lists every value of a property, of every grade, and marks
// those that contradict the preferred one of their grade.
func materialProperty(b *material.Base, id string, p material.Property) api.MaterialProperty {
	def, _ := p.Definition()
	out := api.MaterialProperty{Property: string(p), Label: def.Label, Values: []api.PropertyValue{}}
	facts := b.Property(id, p, material.AnyGrade)
	if len(facts.Grades) > 1 {
		out.GradeNeeded = &facts.Grades
	}
	for _, grade := range b.GradesOf(id, p) {
		facts := b.Property(id, p, grade)
		apart := facts.Disagreements()
		for _, f := range facts.All {
			if f.Grade == grade {
				out.Values = append(out.Values, propertyValue(f, apart))
			}
		}
	}
	return out
}

func propertyValue(f material.Fact, apart []material.Disagreement) api.PropertyValue {
	v := statedValue(f.Value, f.Unit)
	out := api.PropertyValue{
		Value: v.Value, Low: v.Low, High: v.High, Words: v.Words, None: v.None, Unit: v.Unit,
		With: said(f.With), Rank: api.PropertyValueRank(f.Rank), Remark: said(f.Remark), Source: attribution(f.Evidence),
	}
	if f.Grade != material.AnyGrade {
		out.Grade = said(f.Grade)
	}
	if !math.IsNaN(f.At) {
		out.At = &api.Quantity{Value: *decimal(strconv.FormatFloat(f.At, 'f', -1, 64)), Unit: "Cel"}
	}
	for _, d := range apart {
		if d.Fact.Same(f) {
			yes := true
			out.Disagreement = &yes
			if !math.IsNaN(d.Relative) {
				out.Relative = &d.Relative
			}
		}
	}
	return out
}

func observedSolubility(r material.SolubilityRow) api.ObservedSolubility {
	return api.ObservedSolubility{
		Grade: gradeSaid(r.Grade), Solvent: r.Solvent, Age: api.FilmAge(r.Age), Contact: api.ObservedSolubilityContact(r.How),
		Observed: api.Observed(r.Observed), Remark: said(r.Remark), Source: attribution(r.Evidence),
	}
}

func gradeSaid(grade string) *string {
	if grade == material.AnyGrade {
		return nil
	}
	return said(grade)
}

func customaryStrength(x material.Strength) api.CustomaryStrength {
	return api.CustomaryStrength{
		Role: api.LayerRole(x.Role), Solvent: said(x.Solvent), Low: *decimal(x.Written[0]), High: *decimal(x.Written[1]),
		Unit: x.Unit, Basis: api.StrengthBasis(x.Basis), Remark: said(x.Remark), Source: attribution(x.Evidence),
	}
}

func reversibilityEvidence(r material.ReversibilityRow) api.ReversibilityEvidence {
	out := api.ReversibilityEvidence{
		Grade: gradeSaid(r.Grade), Role: api.ReversibilityEvidenceRole(r.Role), Age: api.FilmAge(r.Age),
		Redissolvable: api.YesPartlyNo(r.Redissolvable), Removable: api.YesPartlyNo(r.Removable),
		Retreatable: api.YesPartlyNo(r.Retreatable), Reason: r.Reason, Source: attribution(r.Evidence),
	}
	if r.Condition != material.BarrierUnknown {
		condition := api.ReversibilityEvidenceCondition(r.Condition)
		out.Condition = &condition
	}
	return out
}

func effectOnAnalysis(e material.AnalysisEffect) api.EffectOnAnalysis {
	return api.EffectOnAnalysis{
		Subject: e.Subject, Analysis: e.Analysis, Effect: e.Effect, Size: said(e.Size),
		Condition: said(e.Condition), Source: attribution(e.Evidence),
	}
}

func hazardElement(b *material.Base, h material.Hazard) api.HazardElement {
	out := api.HazardElement{
		Kind: api.HazardElementKind(h.Kind), Value: h.Value, OnLabel: h.OnLabel,
		Remark: said(h.Remark), Source: attribution(h.Evidence),
	}
	if st, known := b.Statement(h.Value); known {
		out.Text = said(st.Text())
	}
	return out
}

func exposureLimit(l material.ExposureLimit) api.ExposureLimit {
	out := api.ExposureLimit{
		Body: api.ExposureLimitBody(l.Body), Jurisdiction: material.Lists[l.Body].Jurisdiction,
		Kind: api.ExposureLimitKind(l.Kind), Unit: said(l.Unit),
		Period: said(l.Period), Remark: said(l.Remark), Source: attribution(l.Evidence),
	}
	if l.Value.Numeric {
		out.Value, _, _ = figures(l.Value.Written)
		out.ConvertedAt = new(calculation.Quantity(material.Lists[l.Body].Celsius, quantity.Celsius))
	} else {
		words := api.ExposureLimitWords(l.Value.Written)
		out.Words = &words
	}
	return out
}

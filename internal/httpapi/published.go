package httpapi

import (
	"fmt"
	"io"
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/stack"
)

// Media types of what is published beside JSON.
const (
	linkedDataType = publish.LinkedDataType
	htmlType       = "text/html"
	plainType      = "text/plain"
)

// htmlAnswer answers with a page or fragment for people.
func htmlAnswer(body []byte, err error) (*answer, error) {
	if err != nil {
		return nil, err
	}
	a := &answer{mediaType: publish.PageType, body: body}
	a.setHeader("Content-Security-Policy", publish.PagePolicy)
	a.setHeader("Referrer-Policy", "no-referrer")
	return a, nil
}

func documentAnswer(mediaType string, body []byte, err error) (*answer, error) {
	if err != nil {
		return nil, err
	}
	return &answer{mediaType: mediaType, body: body}, nil
}

// readSpecimenAs gives a specimen as JSON, as linked data or as a page.
func readSpecimenAs(s *Server, c *call) (*answer, error) {
	if c.mediaType == jsonType {
		return readSpecimen(s, c)
	}
	specimen, _, err := s.publishedSpecimen(c)
	if err != nil {
		return nil, err
	}
	if c.mediaType == htmlType {
		if specimen.Present, err = s.publishedPresent(c, specimen); err != nil {
			return nil, err
		}
		return htmlAnswer(publish.SpecimenPage(specimen))
	}
	body, err := publish.SpecimenCRM(c.address(), specimen)
	return documentAnswer(publish.LinkedArtType, body, err)
}

// readTreatmentAs gives a treatment as JSON, as linked data or as a page.
func readTreatmentAs(s *Server, c *call) (*answer, error) {
	if c.mediaType == jsonType {
		return read(record.KindTreatment, "treatmentId")(s, c)
	}
	t, of, err := s.publishedTreatment(c)
	if err != nil {
		return nil, err
	}
	if c.mediaType == htmlType {
		return htmlAnswer(publish.TreatmentPage(t, of.Institution))
	}
	body, err := publish.TreatmentCRM(c.address(), t, of)
	return documentAnswer(publish.LinkedArtType, body, err)
}

func readSpecimenProvenance(s *Server, c *call) (*answer, error) {
	specimen, _, err := s.publishedSpecimen(c)
	if err != nil {
		return nil, err
	}
	body, err := publish.SpecimenProvenance(c.address(), specimen, c.states())
	return documentAnswer(linkedDataType, body, err)
}

func readTreatmentProvenance(s *Server, c *call) (*answer, error) {
	t, _, err := s.publishedTreatment(c)
	if err != nil {
		return nil, err
	}
	body, err := publish.TreatmentProvenance(c.address(), t, c.states())
	return documentAnswer(linkedDataType, body, err)
}

// states tells whether the caller wants states of specimens.
func (c *call) states() publish.States {
	wanted, _ := c.query["states"].(bool)
	return publish.States(wanted)
}

func readSpecimenSheet(s *Server, c *call) (*answer, error) {
	specimen, _, err := s.publishedSpecimen(c)
	if err != nil {
		return nil, err
	}
	if specimen.Present, err = s.publishedPresent(c, specimen); err != nil {
		return nil, err
	}
	return htmlAnswer(publish.Sheet(specimen))
}

// summarizeSpecimen gives what a catalogue shows on its own record page.
func summarizeSpecimen(s *Server, c *call) (*answer, error) {
	specimen, about, err := s.publishedSpecimen(c)
	if err != nil {
		return nil, err
	}
	summary := publish.Summarize(specimen)
	switch c.mediaType {
	case htmlType:
		return htmlAnswer(summary.Fragment())
	case svgType:
		a, err := documentAnswer(publish.BadgeType, summary.Badge(), nil)
		a.setHeader("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		return a, err
	case plainType:
		return documentAnswer(plainType+"; charset=utf-8", []byte(specimen.Preparations()), nil)
	}
	return ok(summaryOf(summary, aboutOf(about)))
}

func summaryOf(sum publish.Summary, about aboutSpecimen) api.SpecimenSummary {
	out := api.SpecimenSummary{
		Specimen: sum.Specimen.IRI, Number: sum.Specimen.Title, Answer: "recorded", Treatments: int64(sum.Total),
		Preparations: sum.Specimen.Preparations(), Latest: said(sum.LatestEDTF), Items: []api.SummaryItem{},
		Hazards: about.hazards, PassedOn: about.passedOn, Cautions: listOrNone(about.notices),
	}
	if sum.Total == 0 {
		out.Answer = "registered-nothing-recorded"
	}
	if into := sum.Specimen.MergedInto; into != nil {
		out.MergedInto = &into.IRI
	}
	for _, t := range sum.Treatments {
		out.Items = append(out.Items, api.SummaryItem{
			Treatment: t.IRI, Action: api.Action(t.Action), Sentence: t.Sentence(), Date: said(t.Date.String()),
			Areas: append([]string{}, t.Areas...), Materials: said(t.MaterialsSaid()), Result: said(t.Result()),
		})
	}
	return out
}

// publishedSpecimen is the specimen of the path with all that it needs to be
// published. Of a record that was merged it has the record's own words, and what
// is on record of the specimen.
func (s *Server) publishedSpecimen(c *call) (publish.Specimen, *stack.Specimen, error) {
	id := c.id("specimenId")
	if err := s.mustExist(c, record.KindSpecimen, id); err != nil {
		return publish.Specimen{}, nil, err
	}
	survivor, err := c.tenant().Survivor(c.ctx(), id)
	if err != nil {
		return publish.Specimen{}, nil, err
	}
	found, about, err := s.publishedSpecimens(c, []uuid.UUID{id, survivor})
	if err != nil || survivor == id {
		return found[0], about[0], err
	}
	about[1].AskedAs = id.String()
	out, stands := found[0], found[1]
	out.Treatments, out.Notices = stands.Treatments, about[1].Notices()
	return out, about[1], nil
}

// publishedSpecimens are specimens with their treatments, in the order asked, and
// what every view says of each.
func (s *Server) publishedSpecimens(c *call, ids []uuid.UUID) ([]publish.Specimen, []*stack.Specimen, error) {
	none, nothing := make([]publish.Specimen, len(ids)), make([]*stack.Specimen, len(ids))
	d, err := s.newDossier(c)
	if err != nil {
		return none, nothing, err
	}
	g, err := s.gather(c, ids)
	if err != nil {
		return none, nothing, err
	}
	for _, records := range g.merged {
		d.wanted = append(d.wanted, records...)
	}
	if err := d.add(s, c, g.all()); err != nil {
		return none, nothing, err
	}
	list, about := d.specimens(ids, g)
	return list, about, nil
}

// gathered are the rows of specimens that are to be published.
type gathered struct {
	own        map[uuid.UUID]postgres.Row
	treatments []postgres.OnSpecimen
	merged     map[uuid.UUID][]uuid.UUID
	families   map[uuid.UUID][]postgres.Kin
}

func (s *Server) gather(c *call, ids []uuid.UUID) (g gathered, err error) {
	ctx, institution := c.ctx(), c.principal.Institution
	if g.own, err = s.store.For(institution).InForceOf(ctx, ids); err != nil {
		return g, err
	}
	if g.treatments, err = s.store.For(institution).TreatmentsOfSpecimens(ctx, ids); err != nil {
		return g, err
	}
	if g.merged, err = s.store.For(institution).StandingFor(ctx, ids); err != nil {
		return g, err
	}
	g.families, err = s.store.For(institution).FamiliesOf(ctx, ids)
	return g, err
}

func (g *gathered) all() []postgres.Row {
	var rows []postgres.Row
	for _, t := range g.treatments {
		rows = append(rows, t.Row)
	}
	for _, row := range g.own {
		rows = append(rows, row)
	}
	return rows
}

// specimens puts each treatment under the specimens whose it is.
func (d *dossier) specimens(ids []uuid.UUID, g gathered) ([]publish.Specimen, []*stack.Specimen) {
	of, told, unread := map[uuid.UUID][]publish.Treatment{}, map[uuid.UUID]map[uuid.UUID]bool{}, map[uuid.UUID][]uuid.UUID{}
	for _, row := range g.treatments {
		if told[row.Specimen] == nil {
			told[row.Specimen] = map[uuid.UUID]bool{}
		}
		if _, ok := d.statements[row.Record].(*record.Treatment); ok {
			of[row.Specimen] = append(of[row.Specimen], d.treatmentOn(row, told[row.Specimen]))
		} else {
			unread[row.Specimen] = append(unread[row.Specimen], row.Record)
		}
	}
	list, about := make([]publish.Specimen, len(ids)), make([]*stack.Specimen, len(ids))
	for i, id := range ids {
		sp := layers.SpecimenOf(id, []postgres.Row{g.own[id]}, g.families[id])
		stock := slices.SortedFunc(maps.Keys(told[id]), func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
		for _, named := range slices.Concat(unread[id], stock) {
			if kind, cannot := d.torn[named]; cannot {
				sp.Unread = append(sp.Unread, stack.Unread{Kind: string(kind), ID: named.String()})
			}
		}
		list[i], about[i] = d.specimen(id), &sp
		list[i].Treatments, list[i].Notices = of[id], sp.Notices()
		for _, record := range g.merged[id] {
			list[i].Merged = append(list[i].Merged, publish.Merged{Link: d.specimenLink(record), Identifiers: d.specimen(record).Identifiers})
		}
	}
	return list, about
}

// treatmentOn is a treatment as it is listed under a specimen: one that was
// stated about a record merged into it is a treatment of it, one that is
// inherited was carried out on the whole.
func (d *dossier) treatmentOn(row postgres.OnSpecimen, told map[uuid.UUID]bool) publish.Treatment {
	t := d.treatment(row.Row, told)
	if row.From == nil || row.Because == nil {
		return t
	}
	t.Origin = &publish.Origin{Link: d.specimenLink(*row.From), Because: *row.Because, Certain: row.Certain}
	if *row.Because == "merged" && t.Specimen.IRI == t.Origin.IRI {
		t.Specimen = d.specimenLink(row.Specimen)
	}
	return t
}

// publishedTreatment is the treatment of the path, and its specimen without the
// others.
func (s *Server) publishedTreatment(c *call) (publish.Treatment, publish.Specimen, error) {
	id := c.id("treatmentId")
	specimens, err := c.tenant().SpecimensOfTreatment(c.ctx(), id)
	if err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	if len(specimens) == 0 {
		return publish.Treatment{}, publish.Specimen{}, fault.Of(fault.NotFound, "treatment-unknown", "There is no such treatment in this institution.")
	}
	d, err := s.newDossier(c)
	if err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	found, err := c.tenant().InForceOf(c.ctx(), append(specimens, id))
	if err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	var rows []postgres.Row
	for _, row := range found {
		rows = append(rows, row)
	}
	if err := d.add(s, c, rows); err != nil {
		return publish.Treatment{}, publish.Specimen{}, err
	}
	t, of := d.treatment(d.rows[id], map[uuid.UUID]bool{}), d.specimen(specimens[0])
	t.Specimen = publish.Link{IRI: of.IRI, Label: of.Title}
	return t, of, nil
}

// specimensAtOnce is how many specimens of an export are read together.
const specimensAtOnce = 100

// exportDarwinCore streams a collection as a Darwin Core archive.
func exportDarwinCore(s *Server, c *call) (*answer, error) {
	collection, by := c.text("collection"), publish.CoreID(c.text("coreId"))
	first, err := c.tenant().SpecimensIn(c.ctx(), collection, uuid.Nil, specimensAtOnce)
	if err != nil {
		return nil, err
	}
	if len(first) == 0 && collection != "" {
		return nil, fault.Of(fault.NotFound, "collection-unknown", "No specimen of this collection is registered here.")
	}
	a := &answer{mediaType: publish.ArchiveType, stream: func(w io.Writer) error { return s.writeArchive(c, w, first, collection, by) }}
	a.setHeader("Content-Disposition", `attachment; filename="treatments.zip"`)
	return a, nil
}

func (s *Server) writeArchive(c *call, w io.Writer, rows []postgres.Row, collection string, by publish.CoreID) error {
	archive, err := publish.NewArchive(w, c.address(), by)
	if err != nil {
		return err
	}
	for len(rows) > 0 {
		ids := make([]uuid.UUID, len(rows))
		for i, row := range rows {
			ids[i] = row.Record
		}
		found, _, err := s.publishedSpecimens(c, ids)
		if err != nil {
			return fmt.Errorf("reading specimens to export: %w", err)
		}
		for _, specimen := range found {
			if err := archive.Add(specimen); err != nil {
				return err
			}
		}
		if rows, err = c.tenant().SpecimensIn(c.ctx(), collection, ids[len(ids)-1], specimensAtOnce); err != nil {
			return err
		}
	}
	return archive.Close()
}

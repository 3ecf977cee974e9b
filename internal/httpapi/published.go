package httpapi

import (
	"errors"
	"fmt"
	"io"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/dossier"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/views"
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
func readSpecimenAs(s *Server, c *requestContext) (*answer, error) {
	if c.mediaType == jsonType {
		return readSpecimen(s, c)
	}
	specimen, _, err := s.publishedSpecimen(c)
	if err != nil {
		return nil, err
	}
	if c.mediaType == htmlType {
		if specimen, err = s.withPresent(c, specimen); err != nil {
			return nil, err
		}
		return htmlAnswer(publish.SpecimenPage(specimen))
	}
	body, err := publish.SpecimenCRM(c.address(), specimen)
	return documentAnswer(publish.LinkedArtType, body, err)
}

// readTreatmentAs gives a treatment as JSON, as linked data or as a page.
func readTreatmentAs(s *Server, c *requestContext) (*answer, error) {
	if c.mediaType == jsonType {
		return read(record.KindTreatment, "treatmentId")(s, c)
	}
	t, of, err := s.publishedTreatment(c)
	if err != nil {
		return nil, err
	}
	if c.mediaType == htmlType {
		return htmlAnswer(publish.TreatmentPage(t, of))
	}
	body, err := publish.TreatmentCRM(c.address(), t, of)
	return documentAnswer(publish.LinkedArtType, body, err)
}

func readSpecimenProvenance(s *Server, c *requestContext) (*answer, error) {
	specimen, _, err := s.publishedSpecimen(c)
	if err != nil {
		return nil, err
	}
	body, err := publish.SpecimenProvenance(c.address(), specimen, c.states())
	return documentAnswer(linkedDataType, body, err)
}

func readTreatmentProvenance(s *Server, c *requestContext) (*answer, error) {
	t, _, err := s.publishedTreatment(c)
	if err != nil {
		return nil, err
	}
	body, err := publish.TreatmentProvenance(c.address(), t, c.states())
	return documentAnswer(linkedDataType, body, err)
}

// states tells whether the caller wants states of specimens.
func (c *requestContext) states() publish.States {
	wanted, _ := c.query["states"].(bool)
	return publish.States(wanted)
}

// readSpecimenSheet is the treatment record as a page, at its old address.
func readSpecimenSheet(s *Server, c *requestContext) (*answer, error) {
	made, err := treatmentRecord(s, c)
	if err != nil {
		return nil, err
	}
	return printed(c, made)
}

// summarizeSpecimen gives what a catalogue shows on its own record page.
func summarizeSpecimen(s *Server, c *requestContext) (*answer, error) {
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
		return a, err
	case plainType:
		return documentAnswer(plainType+"; charset=utf-8", []byte(summary.Text()), nil)
	}
	view := views.Summary(summary, about)
	if c.detail() == api.Brief {
		view = views.BriefSummary(view)
	}
	return ok(view)
}

// publishedSpecimen is the specimen of the path with all that it needs to be published. A
// merged record has its own words, and the treatments of the record that stands for the
// specimen.
func (s *Server) publishedSpecimen(c *requestContext) (publish.Specimen, *stack.Specimen, error) {
	id := c.id("specimenId")
	if err := s.mustExist(c, record.KindSpecimen, id); err != nil {
		return publish.Specimen{}, nil, err
	}
	survivor, err := c.tenant().Survivor(c.ctx(), id)
	if err != nil {
		return publish.Specimen{}, nil, err
	}
	found, about, err := s.publishedSpecimens(c, []uuid.UUID{id, survivor})
	if err != nil {
		return publish.Specimen{}, nil, err
	}
	if survivor == id {
		return found[0], about[0], nil
	}
	about[1].AskedAs = id.String()
	out, stands := found[0], found[1]
	out.Treatments, out.MoreTreatments = stands.Treatments, stands.MoreTreatments
	out.Notices, out.Open, out.HazardTag = about[1].Notices(), stands.Open, stands.HazardTag
	out.MergedInto = &publish.Link{IRI: stands.IRI, Label: stands.Title} // the survivor of all merges
	return out, about[1], nil
}

// withPresent adds what is on the specimen of the path today. Where that cannot be worked
// out, the page says so and shows the rest.
func (s *Server) withPresent(c *requestContext, of publish.Specimen) (publish.Specimen, error) {
	st, _, err := s.stackOf(c)
	if found := fault.From(err); len(found) > 0 && !fault.Is(err, fault.Unavailable) {
		of.Present = &publish.PresentState{Unknown: found[0].Detail}
		return of, nil
	}
	if err != nil {
		return of, err
	}
	of.Present = dossier.Present(c.address(), of, st)
	return of, st.Err()
}

// specimensAtOnce is how many specimens of an export are read together.
const specimensAtOnce = 100

// exportDarwinCore streams a collection as a Darwin Core archive.
func exportDarwinCore(s *Server, c *requestContext) (*answer, error) {
	collection, by := c.text("collection"), publish.CoreID(c.text("coreId"))
	first, err := c.tenant().SpecimensIn(c.ctx(), collection, uuid.Nil, specimensAtOnce)
	if err != nil {
		return nil, err
	}
	if len(first) == 0 && collection != "" {
		return nil, fault.Of(fault.NotFound, "collection-unknown", "No specimen of this collection is registered here.")
	}
	a := &answer{mediaType: publish.ArchiveType, stream: func(w io.Writer) error {
		return s.writeArchive(c, w, first, collection, by)
	}}
	a.setHeader("Content-Disposition", `attachment; filename="treatments.zip"`)
	return a, nil
}

func (s *Server) writeArchive(
	c *requestContext, w io.Writer, ids []uuid.UUID, collection string, by publish.CoreID,
) error {
	archive, err := publish.NewArchive(w, c.address(), by)
	if err != nil {
		return err
	}
	for len(ids) > 0 {
		if err := s.archived(c, archive, ids); err != nil {
			return err
		}
		if ids, err = c.tenant().SpecimensIn(c.ctx(), collection, ids[len(ids)-1], specimensAtOnce); err != nil {
			return err
		}
	}
	return archive.Close()
}

// archived adds specimens to an archive, in halves where they are too large together.
func (s *Server) archived(c *requestContext, archive *publish.Archive, ids []uuid.UUID) error {
	found, _, err := s.publishedSpecimens(c, ids)
	if errors.Is(err, postgres.ErrTooMuch) && len(ids) > 1 {
		half := len(ids) / 2
		if err := s.archived(c, archive, ids[:half]); err != nil {
			return err
		}
		return s.archived(c, archive, ids[half:])
	}
	if err != nil {
		return fmt.Errorf("reading specimens to export: %w", err)
	}
	for _, specimen := range found {
		if err := archive.Add(specimen); err != nil {
			return err
		}
	}
	return nil
}

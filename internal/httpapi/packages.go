package httpapi

import (
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/exchange"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/views"
)

// packSpecimen streams a specimen's record with its history, for another
// institution.
func packSpecimen(s *Server, c *requestContext) (*answer, error) {
	specimen := c.id("specimenId")
	if err := s.mustExist(c, record.KindSpecimen, specimen); err != nil {
		return nil, err
	}
	standing, err := c.tenant().StandingOf(c.ctx(), []uuid.UUID{specimen})
	if err != nil {
		return nil, err
	}
	if standing[specimen].MergedInto != nil {
		return nil, recording.MergedAlready(standing[specimen])
	}
	about, err := c.about(specimen)
	if err != nil {
		return nil, err
	}
	if len(s.signers) > 0 { // they are on record before they sign
		if _, _, err := s.logKeys(c); err != nil {
			return nil, err
		}
	}
	packed, err := exchange.Pack(c.ctx(), c.tenant(), specimen, about[specimen].ReadHazards().Said(), s.signers, c.pace())
	if err != nil {
		return nil, err
	}
	a := c.file("specimen.ndjson", packed.Write)
	a.mediaType = ndjsonType
	return a, nil
}

// receiveSpecimen records a specimen that another institution passed on.
func receiveSpecimen(_ *Server, c *requestContext) (*answer, error) {
	key := strings.ReplaceAll(c.text("verifier"), " ", "+") // a plus that was not encoded in the query
	made, err := exchange.Receive(c.ctx(), c.author(), c.lines(), key, c.pace())
	if err != nil {
		return nil, err
	}
	about, err := c.about(made.Specimen)
	if err != nil {
		return nil, err
	}
	of := about[made.Specimen]
	cautions := of.Notices()
	for _, said := range made.Hazards { // it may know of treatments that did not come with it
		if !slices.Contains(cautions, said) {
			cautions = append(cautions, "The package says: "+said)
		}
	}
	return with(http.StatusCreated, api.SpecimenReceipt{
		Specimen: api.Ref(made.Specimen), Institution: made.Institution, Name: made.Name, Proved: made.Proved,
		Entries: made.Entries, Authorisations: made.Authorisations, HereAlready: made.HereAlready,
		Hazards: views.Hazards(of), Cautions: cautions[:min(len(cautions), mostBeside)]})
}

// transferSpecimen states a specimen anew, saying to whom it was passed on and
// when.
func transferSpecimen(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.TransferRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matchedKind(c, record.KindSpecimen, c.id("specimenId"))
	if err != nil {
		return nil, err
	}
	if err := recording.MustStandAlone(c.ctx(), c.tenant(), row.Kind, row.Record); err != nil {
		return nil, err
	}
	to := api.PassedOn{To: request.To, Ror: request.Ror, Date: request.Date}
	d, err := exchange.PassOn(c.ctx(), c.author(), row, to)
	if err != nil {
		return nil, err
	}
	about, err := c.about(row.Record)
	if err != nil {
		return nil, err
	}
	return s.amend(c, row, amendment{Reason: request.Reason, before: row.Body, goes: about[row.Record]}, d)
}

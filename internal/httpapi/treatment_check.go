package httpapi

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stack"
	"meniscus/internal/views"
	"meniscus/internal/wire"
)

// proposedID stands for a treatment that has no record yet.
var proposedID = uuid.Nil.String()

// checkTreatment looks at a proposed treatment; nothing is stored.
func checkTreatment(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.TreatmentCheckRequest](c)
	if err != nil {
		return nil, err
	}
	words, err := wire.Encode(request.Treatment)
	if err != nil {
		return nil, err
	}
	d, err := c.author().Propose(c.ctx(), record.KindTreatment, uuid.Nil, words)
	if err != nil {
		return nil, under("/treatment", err)
	}
	proposed := d.Value.(*record.Treatment)
	known := !registers(d.Implied, proposed.Specimen)
	checked, about, err := s.check(c, &request, proposed, known)
	if err != nil {
		return nil, err
	}
	asked := record.Plan{Treatment: *proposed}
	if known { // the record that stands for the specimen, whichever was asked about
		asked.Treatment.Specimen = uuid.MustParse(about.ID)
	}
	if asked.Treatment.Date.Value.IsZero() { // it is meant for now
		asked.Treatment.Date = record.Give(edtf.MustParse(s.asOf(&request).String()))
	}
	odd, err := c.author().Odd(c.ctx(), s.today(), recording.Saying{Value: &asked, Words: d.Words, Numbers: d.Numbers})
	if err != nil {
		return nil, err
	}
	var specimen *uuid.UUID
	if known {
		specimen = &proposed.Specimen
	}
	out := views.TreatmentCheck(specimen, about, checked, slices.Concat(recording.Unregistered(d.Numbers), odd[0]))
	return tellCheck.answer(c, out)
}

// asOf is the day that a check is about.
func (s *Server) asOf(request *api.TreatmentCheckRequest) edtf.Day {
	if request.At != nil {
		return edtf.DayOf(request.At.Time)
	}
	return s.today()
}

// registers tells whether the specimen is only implied: not on record yet.
func registers(implied []postgres.Entry, id uuid.UUID) bool {
	return slices.ContainsFunc(implied, func(e postgres.Entry) bool { return e.Record == id })
}

// check loads the specimen's history, and checks the treatment against its layers.
func (s *Server) check(
	c *requestContext, request *api.TreatmentCheckRequest, treatment *record.Treatment, known bool,
) (checked stack.Checked, about *stack.Specimen, err error) {
	base, err := s.knowledge(c)
	if err != nil {
		return checked, about, err
	}
	at := s.asOf(request)
	config := stack.Config{Context: c.ctx(), Knowledge: base, At: at}
	if known {
		if config, _, err = s.history(c, treatment.Specimen, base, at); err != nil {
			return checked, about, err
		}
	}
	about = &config.Specimen
	proposed, err := layers.Proposed(c.ctx(), c.tenant(), proposedID, treatment, base, at)
	if err != nil {
		return checked, about, err
	}
	st, err := stack.New(config)
	if err != nil {
		return checked, about, err
	}
	tuning, err := layers.TuningOf(c.ctx(), c.tenant())
	if err != nil {
		return checked, about, err
	}
	overrides := each(deref(request.Overrides), func(o api.BlockOverride) stack.Override {
		return stack.Override{Rule: string(o.Rule), Reason: strings.TrimSpace(o.Reason)}
	})
	how := stack.CheckConfig{Tuning: tuning, Overrides: overrides}
	if checked, err = st.Check(proposed, how); err != nil || about.Withheld == 0 || !postgres.Withholds(c.ctx()) {
		return checked, about, err
	}
	var whole stack.Checked
	err = c.seeing(func() error {
		config, _, err := s.history(c, treatment.Specimen, base, at)
		if err != nil {
			return err
		}
		if st, err = stack.New(config); err == nil {
			whole, err = st.Check(proposed, how)
		}
		return err
	})
	checked.Findings = append(blocked(whole.Findings, checked.Findings), checked.Findings...)
	return checked, about, err
}

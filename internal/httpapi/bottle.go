package httpapi

import (
	"html/template"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/label"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/views"
)

// readBatchAs gives a batch as JSON, or as the page that the code on its label opens.
func readBatchAs(s *Server, c *requestContext) (*answer, error) {
	if c.mediaType == jsonType {
		return read(record.KindBatch, "batchId")(s, c)
	}
	page, err := s.bottle(c, c.id("batchId"), func(*bottleDesk) {})
	if err != nil {
		return nil, err
	}
	return personalPage(publish.BottlePage(page))
}

// bottle gathers what the page of a batch tells; fill puts into its forms what was typed.
func (s *Server) bottle(c *requestContext, id uuid.UUID, fill func(*bottleDesk)) (publish.Bottle, error) {
	page := publish.Bottle{}
	if err := s.mustExist(c, record.KindBatch, id); err != nil {
		return page, err
	}
	g, facts, err := s.labelFacts(c, id)
	if err != nil {
		return page, err
	}
	page = publish.Bottle{Title: facts.Code, IRI: facts.Address, Institution: facts.Owner}
	if page.Title == "" {
		page.Title = "Code not known"
	}
	sayBottle(&page, label.New(facts, g.known, usualCapacity))
	page.Facts = append(page.Facts, publish.Field{Label: "Age", Value: age(facts.Made, edtf.DayOf(s.now()))})
	book, err := s.book(c, []uuid.UUID{id})
	if err != nil {
		return page, err
	}
	page.Facts = append(page.Facts, publish.Field{Label: "What is left", Value: views.LeftIn(id, book)})
	odd := book.Shelf().Account(id.String()).Findings
	for _, f := range odd[:min(len(odd), mostOdd)] {
		page.Odd = append(page.Odd, f.Sentence)
	}
	if page.Uses, page.MoreUses, err = s.usesOf(c, id); err != nil {
		return page, err
	}
	if book.UsesWithheld {
		page.Notices = append(page.Notices, usesWithheld)
	}
	if page.Signed, err = s.signed(c, g); err != nil || page.Signed == nil {
		return page, err
	}
	desk, err := c.newDesk(id, book)
	if err != nil {
		return page, err
	}
	fill(desk)
	page.Forms = desk.forms()
	return page, nil
}

// sayBottle puts what a full label says where the page has it.
func sayBottle(page *publish.Bottle, made label.Label) {
	content := made.Pieces[len(made.Pieces)-1].Content
	for _, code := range content.Pictograms {
		page.Pictograms = append(page.Pictograms, template.HTML(label.PictogramSVG(code)))
	}
	for _, s := range content.Says {
		switch s.Element {
		case label.Notice:
			page.Notices = append(page.Notices, s.Text)
		case label.SignalText:
			page.Signal = s.Text
		case label.HazardText, label.SupplierHazard, label.HazardsUnknown, label.ClassWarned:
			page.Hazards = append(page.Hazards, s.Text)
		case label.PrecautionText, label.Completing:
			page.Precautions = append(page.Precautions, s.Text)
		case label.Deference:
			page.Deference = s.Text
		case label.Name:
			page.Name = s.Text
		case label.StrengthWords:
			page.Strength = s.Text
		case label.StrengthNow:
			page.Beside = append(page.Beside, "As made: "+page.Strength)
			page.Strength = s.Text
		case label.SolventShares:
			page.Beside = append(page.Beside, s.Text)
		case label.ExpiresWords, label.MadeWords, label.CheckWords, label.MadeFrom:
			name, value, _ := strings.Cut(s.Text, ": ")
			page.Facts = append(page.Facts, publish.Field{Label: name, Value: value})
		}
	}
}

// mostOdd is how many findings about a batch's amounts its page has.
const mostOdd = 5

// mostUses is how many uses the page of a batch lists.
const mostUses = 20

// usesOf are the latest treatments that a batch was used in. They have addresses where anyone may open them.
func (s *Server) usesOf(c *requestContext, batch uuid.UUID) (uses []publish.BottleUse, more bool, err error) {
	latest, err := c.tenant().LatestUses(c.ctx(), batch, mostUses+1)
	if err != nil || len(latest) == 0 {
		return nil, false, err
	}
	if more = len(latest) > mostUses; more {
		latest = latest[:mostUses]
	}
	touched, err := c.touched(latest)
	if err != nil {
		return nil, false, err
	}
	open := slices.Contains(s.published, c.principal.Institution)
	for _, id := range latest {
		t := touched[id]
		use := publish.BottleUse{When: t.Date.Value.Words(), What: publish.TermLabel("action", t.Action)}
		if t.Date.Value.IsZero() {
			use.When = "Date " + string(t.Date.Answer)
		}
		use.Specimen.Label = deref(t.Number)
		if use.Specimen.Label == "" {
			use.Specimen.Label = t.Specimen.String()
		}
		if open {
			use.Treatment, use.Specimen.IRI = c.address().Treatment(id), c.address().Specimen(t.Specimen)
		}
		uses = append(uses, use)
	}
	return uses, more, nil
}

// signed is who signed in; nil for a caller with a key.
func (s *Server) signed(c *requestContext, g gathering) (*publish.Signed, error) {
	if c.session.ID == uuid.Nil {
		return nil, nil
	}
	rows, err := c.tenant().InForceOf(c.ctx(), []uuid.UUID{c.principal.Person})
	if err == nil {
		err = g.add(slices.Collect(maps.Values(rows)))
	}
	return &publish.Signed{Name: g.PersonName(c.principal.Person), Token: c.session.FormToken(), Out: s.publicURL + "/sign-out"}, err
}

// age is how old on a day is what was made on a date, as exactly as that is known.
func age(made edtf.Date, today edtf.Day) string {
	first, known := made.Earliest()
	last, bounded := made.Latest()
	if !known || !bounded || first.Compare(today) > 0 {
		return "not known"
	}
	least, most := span(last.DaysUntil(today)), span(first.DaysUntil(today))
	if least == most {
		return most
	}
	return least + " to " + most
}

// span is a number of days in words, rounded down.
func span(days int) string {
	for _, step := range []struct {
		days, from int
		name       string
	}{{365, 2 * 365, "years"}, {30, 60, "months"}, {7, 14, "weeks"}} {
		if days >= step.from {
			return strconv.Itoa(days/step.days) + " " + step.name
		}
	}
	if days == 1 {
		return "1 day"
	}
	return strconv.Itoa(max(0, days)) + " days"
}

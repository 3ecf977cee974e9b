package httpapi

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/views"
)

// lookUpSpecimen answers what is known here of one number, and of near spellings where it
// is unknown.
func lookUpSpecimen(s *Server, c *requestContext) (*answer, error) {
	asked := api.LookupAsked{Number: c.text("number")}
	if kind := c.text("kind"); kind != "" {
		asked.Kind = &kind
	}
	if collection := c.text("collection"); collection != "" {
		asked.Collection = &collection
	}
	answers, err := s.lookUp(c, []api.LookupAsked{asked})
	if err != nil {
		return nil, err
	}
	return ok(answers[0])
}

// lookUpSpecimens answers what is known here of many numbers, in their order.
func lookUpSpecimens(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.LookupRequest](c)
	if err != nil {
		return nil, err
	}
	answers, err := s.lookUp(c, request.Numbers)
	if err != nil {
		return nil, err
	}
	out := api.LookupAnswers{Items: answers}
	for _, a := range answers {
		switch a.Answer {
		case api.Recorded:
			out.Counts.Recorded++
		case api.RegisteredNothingRecorded:
			out.Counts.RegisteredNothingRecorded++
		default:
			out.Counts.NotKnownHere++
		}
	}
	return ok(out)
}

// lookUp takes four round trips, however many numbers there are: the numbers
// themselves, near spellings of those that are not known, conflicts of those that
// are, and what is recorded of everything found.
func (s *Server) lookUp(c *requestContext, asked []api.LookupAsked) ([]api.LookupAnswer, error) {
	numbers := make([]string, len(asked))
	for i, a := range asked {
		numbers[i] = a.Number
	}
	found, err := c.tenant().ByNumbers(c.ctx(), numbers)
	if err != nil {
		return nil, err
	}
	answers := make([]api.LookupAnswer, len(asked))
	exact := byAsked(found)
	for i, a := range asked {
		answers[i] = sortHits(a, exact[a.Number])
	}
	if err := s.addNear(c, answers); err != nil {
		return nil, err
	}
	if err := s.addClashes(c, answers); err != nil {
		return nil, err
	}
	return answers, s.addRecorded(c, answers)
}

func byAsked(found []postgres.Numbered) map[string][]postgres.Numbered {
	by := map[string][]postgres.Numbered{}
	for _, n := range found {
		by[n.Asked] = append(by[n.Asked], n)
	}
	return by
}

// sortHits separates the specimens that were asked for from those with the same number in
// another collection.
func sortHits(asked api.LookupAsked, exact []postgres.Numbered) api.LookupAnswer {
	a := api.LookupAnswer{
		Asked: asked, Specimens: []api.LookupHit{}, NearSpellings: []api.LookupHit{}, Elsewhere: []api.LookupHit{},
	}
	for _, n := range exact {
		switch {
		case asked.Kind != nil && n.Kind != *asked.Kind:
		case asked.Collection != nil && deref(n.Collection) != *asked.Collection:
			a.Elsewhere = append(a.Elsewhere, hitOf(n))
		case !slices.ContainsFunc(a.Specimens, func(h api.LookupHit) bool { return sameHit(h, hitOf(n)) }):
			a.Specimens = append(a.Specimens, hitOf(n))
		}
	}
	a.Specimens = a.Specimens[:min(len(a.Specimens), 100)]
	a.Elsewhere = a.Elsewhere[:min(len(a.Elsewhere), record.MaxNear)]
	return a
}

// addNear lists near spellings where the number itself is not known here.
func (s *Server) addNear(c *requestContext, answers []api.LookupAnswer) error {
	var unknown []string
	seen := map[string]bool{}
	for _, a := range answers {
		if len(a.Specimens) == 0 && !seen[a.Asked.Number] {
			unknown, seen[a.Asked.Number] = append(unknown, a.Asked.Number), true
		}
	}
	if len(unknown) == 0 {
		return nil
	}
	found, err := c.tenant().NearNumbers(c.ctx(), unknown)
	if err != nil {
		return err
	}
	near := map[string][]record.Spelling[postgres.Numbered]{}
	for _, n := range found {
		near[n.Asked] = append(near[n.Asked], record.Spelling[postgres.Numbered]{
			Number: n.Number, Likeness: n.Likeness, Of: n.Numbered,
		})
	}
	for i := range answers {
		a := &answers[i]
		if len(a.Specimens) > 0 {
			continue
		}
		for _, spelling := range record.Nearest(a.Asked.Number, near[a.Asked.Number], record.MaxNear) {
			a.NearSpellings = append(a.NearSpellings, hitOf(spelling.Of))
		}
	}
	return nil
}

// addRecorded adds how much is recorded of each specimen, and sets the answer.
func (s *Server) addRecorded(c *requestContext, answers []api.LookupAnswer) error {
	var ids []uuid.UUID
	for _, a := range answers {
		for _, hit := range eachHit(a) {
			ids = append(ids, hit.Specimen.Id)
		}
	}
	recorded, err := c.tenant().RecordedOf(c.ctx(), ids)
	if err != nil {
		return err
	}
	withheld, err := c.tenant().WithheldAmong(c.ctx(), ids)
	if err != nil {
		return err
	}
	for i := range answers {
		for _, hit := range eachHit(answers[i]) {
			of := recorded[hit.Specimen.Id]
			hit.Treatments, hit.LastRecorded = of.Treatments, of.LastRecorded
			if read, err := statement.OfEntry(record.KindSpecimen, of.Left); of.Left != nil && err == nil {
				hit.PassedOn = views.WentTo(layers.PassedOn(read.Value.(*record.Specimen)))
			}
			if withheld[hit.Specimen.Id] {
				hit.Withheld = new(true)
			}
		}
		answers[i].Answer = answerOf(answers[i].Specimens)
	}
	return nil
}

func eachHit(a api.LookupAnswer) []*api.LookupHit {
	var hits []*api.LookupHit
	for _, list := range [][]api.LookupHit{a.Specimens, a.NearSpellings, a.Elsewhere} {
		for i := range list {
			hits = append(hits, &list[i])
		}
	}
	return hits
}

func answerOf(hits []api.LookupHit) api.LookupAnswerAnswer {
	if len(hits) == 0 {
		return api.NotKnownHere
	}
	for _, h := range hits {
		if h.Treatments > 0 {
			return api.Recorded
		}
	}
	return api.RegisteredNothingRecorded
}

func hitOf(n postgres.Numbered) api.LookupHit {
	hit := api.LookupHit{Specimen: api.Ref(n.Specimen), Kind: n.Kind, Number: n.Number, Collection: n.Collection}
	if n.Registered != n.Specimen {
		hit.MergedFrom = new(api.Ref(n.Registered))
	}
	return hit
}

// sameHit tells whether two hits are one specimen, merged from records with the same
// number; it is listed once.
func sameHit(a, b api.LookupHit) bool {
	return a.Specimen == b.Specimen && a.Kind == b.Kind && deref(a.Collection) == deref(b.Collection)
}

// addClashes tells which of the numbers that were asked for other specimens of
// the collection carry too, in whatever spelling.
func (s *Server) addClashes(c *requestContext, answers []api.LookupAnswer) error {
	var ids []uuid.UUID
	for _, a := range answers {
		for _, hit := range a.Specimens {
			ids = append(ids, hit.Specimen.Id)
		}
	}
	conflicts, err := c.tenant().ConflictsOf(c.ctx(), ids)
	if err != nil {
		return err
	}
	for i := range answers {
		var found []api.Finding
		told := map[[2]string]bool{}
		for _, hit := range answers[i].Specimens {
			group := [2]string{hit.Kind, deref(hit.Collection)}
			of := slices.DeleteFunc(slices.Clone(conflicts[hit.Specimen.Id]), func(k postgres.NumberConflict) bool {
				return k.Kind != hit.Kind || k.Number != hit.Number || deref(k.Collection) != deref(hit.Collection)
			})
			if len(of) > 0 && !told[group] { // the first specimen names all others
				found, told[group] = append(found, conflictFindings(of)...), true
			}
		}
		answers[i].Findings = listOrNone(found[:min(len(found), record.MaxNear)])
	}
	return nil
}

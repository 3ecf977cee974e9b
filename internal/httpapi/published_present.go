package httpapi

import (
	"slices"

	"meniscus/internal/fault"
	"meniscus/internal/publish"
	"meniscus/internal/stack"
)

// publishedPresent is what is on the specimen of the path today. Where the
// record cannot be made sense of, the page says so and shows the rest.
func (s *Server) publishedPresent(c *call, of publish.Specimen) (*publish.PresentState, error) {
	st, _, err := s.stackOf(c)
	if found := fault.From(err); len(found) > 0 && !fault.Is(err, fault.Unavailable) {
		return &publish.PresentState{Unknown: found[0].Detail}, nil
	}
	if err != nil {
		return nil, err
	}
	w := presentWriter{base: c.address(), materials: map[layerKey]string{}, reversals: map[layerKey]stack.Reversal{}}
	for _, t := range of.Treatments {
		for i, use := range t.Uses {
			w.materials[layerKey{t.IRI, i}] = use.Said()
		}
	}
	for _, r := range st.Reversibility() {
		w.reversals[layerKey{r.Treatment, r.Index}] = r
	}
	present := st.Present()
	out := &publish.PresentState{Day: st.At().String(), Areas: each(present.Areas, w.area),
		Unplaced: each(present.Unplaced, w.here)}
	for _, x := range present.Contradictions {
		c := publish.Contradiction{Sentence: x.Sentence}
		for _, id := range x.Treatments {
			c.Treatments = append(c.Treatments, w.base.Treatment(wireID(id)))
		}
		out.Contradictions = append(out.Contradictions, c)
	}
	out.MoreContradictions = present.MoreContradictions
	return out, st.Err()
}

type presentWriter struct {
	base      publish.Base
	materials map[layerKey]string // by treatment and position, in words
	reversals map[layerKey]stack.Reversal
}

func (w presentWriter) area(a stack.AreaState) publish.AreaNow {
	out := publish.AreaNow{Area: string(a.Area), Status: string(a.Status), Through: wireAreas(a.Through),
		Layers: each(a.Layers, w.here)}
	for _, t := range a.Other {
		if action := string(t.Action); !slices.Contains(out.Actions, action) {
			out.Actions = append(out.Actions, action)
		}
	}
	if a.Examined != nil {
		out.Examined = a.Examined.How
	}
	return out
}

func (w presentWriter) here(here stack.LayerHere) publish.LayerNow {
	l := here.Layer
	iri := w.base.Treatment(wireID(l.Treatment))
	out := publish.LayerNow{Treatment: iri, Material: w.materials[layerKey{iri, l.Index}], State: string(here.State)}
	if event := here.Event; event != nil {
		out.Method, out.Limit = event.Method, event.Limit
	}
	if r, ok := w.reversals[layerKey{l.Treatment, l.Index}]; ok {
		out.Redissolvable, out.Removable, out.Retreatable = r.Redissolvable.Answer.String(), r.Removable.Answer.String(), r.Retreatable.Answer.String()
	}
	return out
}

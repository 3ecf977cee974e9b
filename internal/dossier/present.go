package dossier

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/publish"
	"meniscus/internal/stack"
)

// Present is what is on a specimen on the day of its layers.
func Present(base publish.Base, of publish.Specimen, st *stack.Stack) *publish.PresentState {
	w := presentWriter{base: base, materials: map[layer]string{}, reversals: map[layer]stack.Reversal{}}
	for _, t := range of.Treatments {
		for i, use := range t.Uses {
			w.materials[layer{t.IRI, i}] = use.Said()
		}
	}
	for _, r := range st.Reversibility() {
		w.reversals[layer{r.Treatment, r.Index}] = r
	}
	present := st.Present()
	out := &publish.PresentState{Day: st.At().String(), Areas: each(present.Areas, w.area), MoreLayers: present.MoreLayers,
		Unplaced: each(present.Unplaced, w.here)}
	for _, x := range present.Contradictions {
		c := publish.Contradiction{Sentence: x.Sentence}
		for _, id := range x.Treatments {
			c.Treatments = append(c.Treatments, w.base.Treatment(uuid.MustParse(id)))
		}
		out.Contradictions = append(out.Contradictions, c)
	}
	out.MoreContradictions = present.MoreContradictions
	return out
}

// layer is which layer of which treatment.
type layer struct {
	treatment string
	index     int
}

type presentWriter struct {
	base      publish.Base
	materials map[layer]string // by treatment and position, in words
	reversals map[layer]stack.Reversal
}

func (w presentWriter) area(a stack.AreaState) publish.AreaNow {
	out := publish.AreaNow{Area: string(a.Area), Status: string(a.Status), Layers: each(a.Layers, w.here)}
	for _, around := range a.Through {
		out.Through = append(out.Through, string(around))
	}
	for _, t := range a.Other {
		if action := string(t.Action); !slices.Contains(out.Actions, action) {
			out.Actions = append(out.Actions, action)
		}
	}
	if a.Examined != nil {
		out.Examined = stack.LookedBy(a.Examined.How, a.Examined.Limit)
	}
	return out
}

func (w presentWriter) here(here stack.LayerHere) publish.LayerNow {
	l := here.Layer
	iri := w.base.Treatment(uuid.MustParse(l.Treatment))
	out := publish.LayerNow{Treatment: iri, Material: w.materials[layer{iri, l.Index}], State: string(here.State)}
	if event := here.Event; event != nil && here.State == stack.NotDetected {
		out.How = stack.LookedBy(event.Method, event.Limit)
	} else if event != nil {
		out.How = strings.ReplaceAll(event.Damage, "-", " ")
	}
	if r, ok := w.reversals[layer{l.Treatment, l.Index}]; ok {
		out.Redissolvable, out.Removable = r.Redissolvable.Answer.String(), r.Removable.Answer.String()
		out.Retreatable = r.Retreatable.Answer.String()
	}
	return out
}

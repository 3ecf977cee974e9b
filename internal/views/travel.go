package views

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/stack"
)

// TravelTemperature tells how warm a specimen may travel or stand.
func TravelTemperature(asked uuid.UUID, st *stack.Stack, known stack.Knowledge) api.TravelTemperature {
	t, of, cut := st.Travel(), aboutOf(st.Specimen()), false
	out := api.TravelTemperature{
		Specimen: asked, MergedInto: of.mergedInto, Hazards: of.hazards, PassedOn: of.passedOn, At: Day(st.At()),
		Known: t.Known, AtMost: degrees(t.AtMost), AtLeast: degrees(t.AtLeast), Sentence: t.Sentence,
		Layers: each(listed(&cut, t.Layers, mostListed), func(l stack.TravelLayer) api.TravelLayer {
			return travelLayer(l, known)
		}),
	}
	out.Cautions = of.cautions(cut, t.Cautions...)
	return out
}

func travelLayer(l stack.TravelLayer, known stack.Knowledge) api.TravelLayer {
	return api.TravelLayer{
		Treatment: idOf(l.Layer.Treatment), Position: int32(l.Layer.Index), Role: api.LayerRole(l.Layer.Role),
		Material:  stack.Describe(known, l.Layer.Identity),
		Certainty: certainty(l.Layer.Identity.Certainty), Highest: degrees(l.Limit.Highest), Lowest: degrees(l.Limit.Lowest),
		Evidence: evidence(l.Limit.Evidence), MoreEvidence: count(l.Limit.MoreEvidence),
		Cautions: append([]string{}, l.Limit.Cautions...),
	}
}

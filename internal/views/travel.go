package views

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/stack"
)

// TravelTemperature tells how warm a specimen may travel or stand.
func TravelTemperature(asked uuid.UUID, st *stack.Stack, known stack.Knowledge) api.TravelTemperature {
	t, of, cut := st.Travel(), aboutOf(st.Specimen()), false
	var c cited
	out := api.TravelTemperature{
		Specimen: api.Ref(asked), MergedInto: of.mergedInto, Hazards: of.hazards, PassedOn: of.passedOn, At: Day(st.At()),
		Known: t.Known, AtMost: degrees(t.AtMost), AtLeast: degrees(t.AtLeast), Answer: t.Sentence,
		Layers: each(listed(&cut, t.Layers, mostListed), func(l stack.TravelLayer) api.TravelLayer {
			return c.travelLayer(l, known)
		}),
	}
	all := slices.Clone(t.Cautions)
	for _, l := range out.Layers {
		for _, caution := range *l.Cautions {
			if !slices.Contains(all, caution) {
				all = append(all, caution)
			}
		}
	}
	out.Cautions, out.Sources = of.cautions(cut, all...), c.texts()
	return out
}

func (c *cited) travelLayer(l stack.TravelLayer, known stack.Knowledge) api.TravelLayer {
	return api.TravelLayer{
		Treatment: refOf(l.Layer.Treatment), Position: int32(l.Layer.Index), Role: api.LayerRole(l.Layer.Role),
		Material:  stack.Describe(known, l.Layer.Identity),
		Certainty: certainty(l.Layer.Identity.Certainty), Highest: degrees(l.Limit.Highest), Lowest: degrees(l.Limit.Lowest),
		Evidence: new(c.rests(l.Limit.Evidence)), MoreEvidence: count(l.Limit.MoreEvidence),
		Cautions: new(append([]string{}, l.Limit.Cautions...)),
	}
}

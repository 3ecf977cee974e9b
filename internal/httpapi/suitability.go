package httpapi

import (
	"meniscus/api"
	"meniscus/internal/stack"
)

// assessSuitability tells what bears on samples for analysis.
func assessSuitability(s *Server, c *requestContext) (*answer, error) {
	st, _, err := s.stackOf(c)
	if err != nil {
		return nil, err
	}
	var only []string
	if kind := c.text("analysis"); kind != "" {
		only = []string{kind}
	}
	about := aboutOf(st.Specimen())
	found, cut := wireSuitability(st.Suitability(only...))
	return whole(st, api.Suitability{
		Specimen: c.id("specimenId"), MergedInto: about.mergedInto, Hazards: about.hazards, PassedOn: about.passedOn, At: wireDay(st.At()),
		Analyses: found.Analyses, Exposures: found.Exposures, Unrecorded: found.Unrecorded,
		References: found.References, Cautions: about.cautions(cut, suitabilityCautions...),
	})
}

var suitabilityCautions = []string{
	unrecordedCaution, "Nothing on record is not the same as nothing done; flag every sample of a treated specimen, even after cleaning.",
}

// wireSuitability renders all but whose it is, and tells whether a list was cut.
func wireSuitability(found stack.Suitability) (out api.SpecimenSuitability, cut bool) {
	cut = found.MoreExposures > 0
	out = api.SpecimenSuitability{
		Analyses: each(found.Analyses, wireForAnalysis),
		Exposures: each(listed(&cut, found.Exposures, mostListed), func(x stack.ExposureTotal) api.ExposureTotal {
			return api.ExposureTotal{
				Area: string(x.Area), Solvent: x.Solvent, Hours: x.Hours, Unknown: int32(x.Unknown), Treatments: wireIDs(x.Treatments),
				Count: countBeyond(x.Count, len(x.Treatments)),
			}
		}),
		Unrecorded: each(listed(&cut, found.Unrecorded, mostListed), func(u stack.UnrecordedArea) api.UnrecordedArea {
			return api.UnrecordedArea{Area: string(u.Area), Sure: api.UnrecordedAreaSure(u.Sure), Examined: wireExamined(u.Examined), PossiblyReached: u.PossiblyReached}
		}),
		References: each(listed(&cut, found.References, mostListed), wireReference),
	}
	return out, cut
}

func wireForAnalysis(a stack.ForAnalysis) api.ForAnalysis {
	return api.ForAnalysis{
		Analysis: api.AnalysisKind(a.Analysis), Verdict: api.SuitabilityVerdict(a.Verdict), Sentence: a.Sentence, Open: each(a.Open, wireBearing),
		Bearing: each(a.Bearing, func(b stack.Bearing) api.AnalysisBearing {
			return api.AnalysisBearing{
				On: wireBearing(b.BearingLayers), Effect: b.Effect, Size: said(b.Size), Condition: said(b.Condition),
				Applies: api.AnalysisBearingApplies(b.Applies.String()), Disturbs: api.AnalysisBearingDisturbs(b.Disturbs.String()),
				Evidence: wireEvidence([]stack.Evidence{b.Evidence})[0],
			}
		}),
	}
}

func wireBearing(b stack.BearingLayers) api.BearingLayers {
	out := api.BearingLayers{
		Subject: b.Subject, Layers: wireIDs(b.Layers), Count: int32(b.Count), Areas: wireAreas(b.Areas), AreaCount: countBeyond(b.AreaCount, len(b.Areas)),
	}
	out.Certainty = certainty(b.Certainty)
	if b.Role != "" {
		role := api.LayerRole(b.Role)
		out.Role = &role
	}
	return out
}

// certainty is how sure an identification is, where there is one.
func certainty(c stack.Certainty) *api.Certainty {
	return (*api.Certainty)(said(string(c)))
}

func wireReference(r stack.ReferenceSample) api.ReferenceSample {
	out := api.ReferenceSample{Treatment: wireID(r.Treatment), Where: r.Where}
	if r.Batch != "" {
		id := wireID(r.Batch)
		out.Batch = &id
	}
	return out
}

package views

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// Suitability tells what bears on samples for analysis, for some kinds of it or all.
func Suitability(asked uuid.UUID, st *stack.Stack, only ...string) api.Suitability {
	of := aboutOf(st.Specimen())
	var c cited
	worked := st.Suitability(only...)
	found, cut := c.suitability(worked)
	return api.Suitability{
		Answer: suitabilityAnswer(worked), Reasons: listOrNone(suitabilityReasons(worked)),
		Specimen: api.Ref(asked), MergedInto: of.mergedInto, Hazards: of.hazards, PassedOn: of.passedOn, At: Day(st.At()),
		Analyses: found.Analyses, Exposures: found.Exposures, Unrecorded: found.Unrecorded,
		References: found.References, Cautions: of.cautions(cut, suitabilityCautions...),
		Sources: c.texts(),
	}
}

var suitabilityCautions = []string{
	unrecordedCaution,
	"Nothing on record is not the same as nothing done; flag every sample of a treated specimen, even after cleaning.",
}

// SuitabilityCautions stand beside the report of many specimens.
func SuitabilityCautions(cut bool) []string {
	return cautions(cut, append([]string{material.SheetFirst}, suitabilityCautions...)...)
}

// Suitabilities are those of many specimens, which name their sources together.
type Suitabilities struct{ cited cited }

// Sources are the texts of all that was named.
func (s *Suitabilities) Sources() *[]api.BibliographyEntry { return s.cited.texts() }

// One is what bears on samples of one specimen of many, without its id and number; cut
// says that a list was cut.
func (s *Suitabilities) One(sp *stack.Specimen, found stack.Suitability) (out api.SpecimenSuitability, cut bool) {
	of := aboutOf(sp)
	out, cut = s.cited.suitability(found)
	out.Hazards, out.PassedOn = of.hazards, of.passedOn
	if sp.Withheld > 0 {
		out.Withheld = new(api.Count(sp.Withheld))
	}
	return out, cut
}

// SuitabilitySetAside says of a specimen of many that it cannot be worked out.
func SuitabilitySetAside(analyses []string) api.SpecimenSuitability {
	out, _ := new(cited).suitability(stack.Suitability{})
	out.SetAside = yes(true)
	out.Analyses = each(analyses, func(kind string) api.ForAnalysis {
		return api.ForAnalysis{
			Analysis: api.AnalysisKind(kind), Verdict: api.SuitabilityVerdict(stack.MayBear),
			Bearing: &[]api.AnalysisBearing{}, Open: &[]api.BearingLayers{}, Sentence: new(setAsideSentence),
		}
	})
	return out
}

const setAsideSentence = "This specimen could not be worked out, so that nothing can be said of it; " +
	"those who run the service find why in its log."

// suitability renders all but the specimen's id and number, and tells whether a list was
// cut.
func (c *cited) suitability(found stack.Suitability) (out api.SpecimenSuitability, cut bool) {
	cut = found.MoreExposures > 0
	out = api.SpecimenSuitability{
		Analyses:   each(found.Analyses, c.forAnalysis),
		Exposures:  each(listed(&cut, found.Exposures, mostListed), exposure),
		Unrecorded: each(listed(&cut, found.Unrecorded, mostListed), unrecorded),
		References: each(listed(&cut, found.References, mostListed), referenceSample),
	}
	return out, cut
}

func exposure(x stack.ExposureTotal) api.ExposureTotal {
	return api.ExposureTotal{
		Area: string(x.Area), Solvent: x.Solvent, Hours: x.Hours, Unknown: int32(x.Unknown),
		Treatments: refsOf(x.Treatments), Count: countBeyond(x.Count, len(x.Treatments)),
	}
}

func unrecorded(u stack.UnrecordedArea) api.UnrecordedArea {
	return api.UnrecordedArea{
		Area: string(u.Area), Sure: api.UnrecordedAreaSure(u.Sure), Examined: examined(u.Examined),
		PossiblyReached: u.PossiblyReached,
	}
}

func (c *cited) forAnalysis(a stack.ForAnalysis) api.ForAnalysis {
	return api.ForAnalysis{
		Analysis: api.AnalysisKind(a.Analysis), Verdict: api.SuitabilityVerdict(a.Verdict), Sentence: &a.Sentence,
		Open: new(each(a.Open, bearing)),
		Bearing: new(each(a.Bearing, func(b stack.Bearing) api.AnalysisBearing {
			return api.AnalysisBearing{
				On: bearing(b.BearingLayers), Effect: b.Effect, Size: said(b.Size), Condition: said(b.Condition),
				Applies: api.AnalysisBearingApplies(b.Applies.String()), Disturbs: api.AnalysisBearingDisturbs(b.Disturbs.String()),
				Evidence: c.one(b.Evidence),
			}
		})),
	}
}

func bearing(b stack.BearingLayers) api.BearingLayers {
	return api.BearingLayers{
		Subject: b.Subject, Layers: refsOf(b.Layers), Count: int32(b.Count), Areas: areaNames(b.Areas),
		AreaCount: countBeyond(b.AreaCount, len(b.Areas)), Certainty: certainty(b.Certainty),
		Role: (*api.LayerRole)(said(b.Role)),
	}
}

// certainty is how sure an identification is, where there is one.
func certainty(c stack.Certainty) *api.Certainty {
	return (*api.Certainty)(said(string(c)))
}

func referenceSample(r stack.ReferenceSample) api.ReferenceSample {
	out := api.ReferenceSample{Treatment: refOf(r.Treatment), Where: r.Where}
	if r.Batch != "" {
		out.Batch = new(refOf(r.Batch))
	}
	return out
}

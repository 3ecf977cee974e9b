package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Mixture renders all that is said of a mixture.
func Mixture(m solution.Mixture) api.ComputedMixture {
	return api.ComputedMixture{
		Parts:         each(m.Parts, mixturePart),
		Mass:          weighed(m.Mass),
		Volume:        sized(m.Volume, quantity.Millilitre),
		SolventVolume: sized(m.SolventVolume, quantity.Millilitre),
		Density:       sized(m.Density, quantity.GramsPerML),
		Strengths:     each(m.Strengths, writer{full: true}.strength),
		VolumeModels:  each(m.Models, volumeModel),
	}
}

func mixturePart(p solution.Part) api.MixturePart {
	return api.MixturePart{
		Material: materialID(p.ID), Name: p.Name, Phase: api.Phase(p.Phase), Dissolved: p.Dissolved,
		Mass: some(p.Grams, quantity.Gram),
	}
}

// strength renders a strength on one basis, in the form of that basis.
func (w writer) strength(v solution.View) api.ComputedStrength {
	out := api.ComputedStrength{Basis: api.StrengthBasis(v.Basis)}
	if !v.Answered() {
		out.Unanswered = &v.Unanswered
		return out
	}
	x := figure(v.Value)
	switch v.Basis {
	case solution.PartsByMass, solution.PartsByVolume:
		out.Parts = &[]float64{1, x}
	case solution.OneIn:
		out.In, out.Unit = &x, said(v.Unit)
	default:
		out.Value, out.Unit = &x, said(v.Unit)
	}
	out.Uncertainty, out.Said, out.Range = uncertaintyOf(v.Measured), said(v.Said), said(v.Range)
	if w.full && len(v.Budget) > 0 {
		out.Budget = new(each(v.Budget, budgetLine))
	}
	return out
}

// Strength renders a strength on a basis on which it is a number in a unit.
func Strength(basis solution.Basis, m quantity.Measured, unit quantity.Unit) api.ComputedStrength {
	return api.ComputedStrength{
		Basis: api.StrengthBasis(basis), Value: new(figure(m.Value)), Unit: said(unit), Uncertainty: uncertaintyOf(m),
	}
}

func volumeModel(m solution.VolumeModel) api.VolumeModel {
	return api.VolumeModel{
		Model: m.Name, Sentence: m.Sentence, LargestError: figure(m.LargestError), Source: m.Source.ID,
	}
}

// reading renders what a number could mean.
func reading(r solution.Reading) api.StrengthReading {
	return api.StrengthReading{
		Basis: api.StrengthBasis(r.Strength.Basis), Said: r.Said, Unanswered: said(r.Unanswered),
		In100mL: some(r.GramsPer100mL, quantity.Gram), To100mLSolvent: some(r.GramsToSolvent, quantity.Gram),
		MassFraction: some(r.MassPercent, quantity.Percent),
	}
}

// reach renders a range of strengths.
func reach(r *solution.Reach) *api.StrengthReach {
	if r == nil {
		return nil
	}
	return &api.StrengthReach{
		Basis: api.StrengthBasis(r.Basis), Lowest: Quantity(r.Lowest, r.Unit), Highest: Quantity(r.Highest, r.Unit),
	}
}

// basisOf gives a basis, or nil for none.
func basisOf(b solution.Basis) *api.StrengthBasis {
	if b == "" {
		return nil
	}
	return new(api.StrengthBasis(b))
}

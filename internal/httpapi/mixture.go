package httpapi

import (
	"math"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// figure rounds a computed number, once, to ten significant digits: far below any
// balance, and without the dust of binary fractions.
func figure(x float64) float64 { return quantity.Significant(x, 10) }

// computed renders a number with its unit.
func computed(x float64, unit quantity.Unit) api.ComputedQuantity {
	return api.ComputedQuantity{Value: figure(x), Unit: string(unit)}
}

// some renders a number that 0 leaves out.
func some(x float64, unit quantity.Unit) *api.ComputedQuantity {
	if x == 0 {
		return nil
	}
	q := computed(x, unit)
	return &q
}

// measured renders a number with its uncertainty, where it has one.
func measured(m quantity.Measured, unit quantity.Unit) api.ComputedQuantity {
	q := computed(m.Value, unit)
	q.Uncertainty = uncertaintyOf(m)
	return q
}

func uncertaintyOf(m quantity.Measured) *api.ComputedUncertainty {
	if m.Standard == 0 {
		return nil
	}
	return &api.ComputedUncertainty{Standard: figure(m.Standard), Expanded: figure(m.Expanded()), K: quantity.Coverage}
}

// sized renders a size, or why there is none.
func sized(z solution.Size, unit quantity.Unit) api.ComputedSize {
	if !z.Answered() {
		return api.ComputedSize{Unanswered: &z.Unanswered}
	}
	q := measured(z.Measured, unit)
	return api.ComputedSize{Quantity: &q}
}

// weighed renders a mass, and leaves it out where it cannot be said.
func weighed(z solution.Size) *api.ComputedQuantity {
	if !z.Answered() {
		return nil
	}
	q := measured(z.Measured, quantity.Gram)
	return &q
}

// mixture renders a mixture.
func mixture(m solution.Mixture) api.ComputedMixture {
	return api.ComputedMixture{
		Parts:         each(m.Parts, mixturePart),
		Mass:          weighed(m.Mass),
		Volume:        sized(m.Volume, quantity.Millilitre),
		SolventVolume: sized(m.SolventVolume, quantity.Millilitre),
		Density:       sized(m.Density, quantity.GramsPerML),
		Strengths:     each(m.Strengths, computedStrength),
		VolumeModels:  each(m.Models, volumeModel),
	}
}

func mixturePart(p solution.Part) api.MixturePart {
	return api.MixturePart{Material: materialID(p.ID), Name: p.Name, Phase: api.Phase(p.Phase), Dissolved: p.Dissolved, Mass: some(p.Grams, quantity.Gram)}
}

// computedStrength renders a strength on one basis, in the form of that basis.
func computedStrength(v solution.View) api.ComputedStrength {
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
	if len(v.Budget) > 0 {
		lines := each(v.Budget, budgetLine)
		out.Budget = &lines
	}
	return out
}

func budgetLine(c quantity.Contribution) api.BudgetLine {
	return api.BudgetLine{Input: c.Name, Standard: figure(c.Standard), Sensitivity: figure(c.Sensitivity), Amount: figure(c.Amount), Share: figure(math.Min(1, c.Share))}
}

func volumeModel(m solution.VolumeModel) api.VolumeModel {
	return api.VolumeModel{Model: m.Name, Sentence: m.Sentence, LargestError: figure(m.LargestError), Source: cited(m.Source)}
}

func cited(s solution.Source) api.Attribution {
	return api.Attribution{Citation: s.Citation, Status: api.ValueStatus(s.Status)}
}

// advice renders what goes with an answer.
func advice(a solution.Advice) api.ComputeAdvice {
	return api.ComputeAdvice{
		Warnings: each(a.Warnings, func(w solution.Warning) api.ComputeWarning {
			return api.ComputeWarning{Code: w.Code, Severity: api.ComputeWarningSeverity(w.Severity), Sentence: w.Sentence, Source: cited(w.Source)}
		}),
		Cautions: each(a.Cautions, func(c solution.Caution) api.ComputeCaution {
			return api.ComputeCaution{Sentence: c.Sentence, Source: cited(c.Source)}
		}),
		Sources: each(a.Sources, cited),
	}
}

// steps renders the steps; a list without any stays a list.
func steps(all []string) []string { return append([]string{}, all...) }

// computedProblem gives the faults of a computation, with the readings and the reach
// that they carry in the words of the contract.
func computedProblem(err error) error {
	list := fault.From(err)
	for i, f := range list {
		if f.Extra == nil {
			continue
		}
		g := f.At("")
		g.Extra = map[string]any{}
		for name, value := range f.Extra {
			switch v := value.(type) {
			case []solution.Reading:
				g.Extra[name] = each(v, reading)
			case solution.Reach:
				g.Extra[name] = *reach(&v)
			}
		}
		list[i] = g
	}
	if len(list) == 0 {
		return err
	}
	return list
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
	return &api.StrengthReach{Basis: api.StrengthBasis(r.Basis), Lowest: computed(r.Lowest, r.Unit), Highest: computed(r.Highest, r.Unit)}
}

// basisOf gives a basis, or nil for none.
func basisOf(b solution.Basis) *api.StrengthBasis {
	if b == "" {
		return nil
	}
	out := api.StrengthBasis(b)
	return &out
}

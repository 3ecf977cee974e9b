package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// EthanolWater answers questions on ethanol and water by OIML R 22, and on other solutions in water by their densities.
var EthanolWater = computation((*reader).ethanolWater, solution.ComputeEthanolWater, writer.ethanolWater)

func (r *reader) ethanolWater(q api.EthanolWaterRequest) solution.EthanolWater {
	var out solution.EthanolWater
	switch {
	case q.Properties != nil:
		out.Properties = r.spiritProperties(*q.Properties)
		out.Reference = r.quantity("/properties/referenceTemperature", q.Properties.ReferenceTemperature)
	case q.Mixing != nil:
		out.Mixing = r.spiritMixing(*q.Mixing)
		out.Reference = r.quantity("/mixing/referenceTemperature", q.Mixing.ReferenceTemperature)
	case q.Dilution != nil:
		out.Dilution = r.spiritDilution(*q.Dilution)
		out.Reference = r.quantity("/dilution/referenceTemperature", q.Dilution.ReferenceTemperature)
	case q.Solution != nil:
		out.Solution = r.waterSolution(*q.Solution)
	}
	return out
}

func (r *reader) waterSolution(s api.WaterSolution) *solution.WaterSolution {
	const at = "/solution"
	q := &solution.WaterSolution{
		Solute:      string(s.Solute),
		Density:     r.measured(at+"/density", s.Density),
		Temperature: r.measured(at+"/temperature", &s.Temperature),
		Volume:      r.quantity(at+"/volume", s.Volume),
		Cautions:    r.CautionsOf(string(s.Solute)),
	}
	if s.Strength != nil {
		q.Strength = new(r.strength(at+"/strength", s.Strength))
	}
	return q
}

func (r *reader) spiritProperties(p api.SpiritProperties) *solution.SpiritProperties {
	const at = "/properties"
	q := &solution.SpiritProperties{
		Density:     r.measured(at+"/density", p.Density),
		Temperature: r.measured(at+"/temperature", p.Temperature),
		Volume:      r.quantity(at+"/volume", p.Volume),
	}
	if p.Strength != nil {
		q.Strength = new(r.strength(at+"/strength", p.Strength))
	}
	if p.Reading != nil {
		q.Reading = new(r.strength(at+"/reading", p.Reading))
	}
	return q
}

func (r *reader) spiritMixing(m api.SpiritMixing) *solution.SpiritMixing {
	const at = "/mixing"
	q := &solution.SpiritMixing{
		Temperature: r.quantity(at+"/temperature", m.Temperature), Instruments: r.instruments(at+"/instruments", m.Instruments),
	}
	for i, p := range m.Parts {
		part := solution.SpiritPart{Amount: r.quantity(item(at+"/parts", i)+"/amount", &p.Amount)}
		if p.Strength != nil {
			part.Strength = new(r.strength(item(at+"/parts", i)+"/strength", p.Strength))
		}
		q.Parts = append(q.Parts, part)
	}
	return q
}

func (r *reader) spiritDilution(d api.SpiritDilution) *solution.SpiritDilution {
	const at = "/dilution"
	return &solution.SpiritDilution{
		Stock: r.strength(at+"/stock", &d.Stock), Target: r.strength(at+"/target", &d.Target),
		StockAmount: r.quantity(at+"/amount/stock", d.Amount.Stock),
		Finished:    r.quantity(at+"/amount/finished", d.Amount.Finished),
		Temperature: r.quantity(at+"/temperature", d.Temperature),
		Instruments: r.instruments(at+"/instruments", d.Instruments),
	}
}

func (w writer) ethanolWater(a solution.EthanolWaterAnswer) api.EthanolWater {
	out := api.EthanolWater{
		Answer:               a.Answer,
		ReferenceTemperature: Quantity(a.Reference, quantity.Celsius),
		Steps:                texts(a.Steps), Advice: w.advice(a.Advice),
	}
	if s := a.State; s != nil {
		out.Properties = &api.SpiritState{
			ByMass: w.result(s.ByMass, quantity.Percent), ByVolume: w.result(s.ByVolume, quantity.Percent),
			Temperature: w.result(s.Temperature, quantity.Celsius), Density: w.result(s.Density, quantity.GramsPerML),
			DensityAtReference: w.result(s.DensityAtRef, quantity.GramsPerML),
			VolumeAtReference:  w.resultOr(s.VolumeAtRef, quantity.Millilitre),
			Ethanol:            w.resultOr(s.Ethanol, quantity.Gram),
		}
	}
	if m := a.Mixture; m != nil {
		out.Mixing = &api.SpiritMixture{
			ByMass: w.result(m.ByMass, quantity.Percent), ByVolume: w.result(m.ByVolume, quantity.Percent),
			Mass: w.result(m.Mass, quantity.Gram), Volume: w.result(m.Volume, quantity.Millilitre),
			SumOfVolumes: Quantity(m.SumOfVolumes, quantity.Millilitre),
			Contraction:  w.result(m.Contraction, quantity.Percent),
		}
	}
	if s := a.Solution; s != nil {
		out.Solution = &api.WaterSolutionState{
			ByMass: w.result(s.ByMass, quantity.Percent), PerVolume: w.result(s.PerVolume, quantity.GramsPerDL),
			Density: w.result(s.Density, quantity.GramsPerML), Temperature: w.result(s.Temperature, quantity.Celsius),
			Dissolved: w.resultOr(s.Dissolved, quantity.Gram),
		}
	}
	if d := a.Dilution; d != nil {
		out.Dilution = &api.SpiritRecipe{
			StockVolume: w.result(d.StockVolume, quantity.Millilitre), StockMass: w.result(d.StockMass, quantity.Gram),
			WaterVolume: w.result(d.WaterVolume, quantity.Millilitre), WaterMass: w.result(d.WaterMass, quantity.Gram),
			FinishedVolume: w.result(d.FinishedVolume, quantity.Millilitre),
			FinishedMass:   w.result(d.FinishedMass, quantity.Gram),
		}
		if w.full {
			out.Dilution.Contraction = new(w.result(d.Contraction, quantity.Percent))
			out.Dilution.WaterIfVolumesAdded = new(Quantity(d.IfVolumesAdded, quantity.Millilitre))
		}
	}
	return out
}

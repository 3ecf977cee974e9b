package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// EthanolWater answers questions on ethanol and water by OIML R 22.
var EthanolWater = computation((*reader).ethanolWater, solution.ComputeEthanolWater, ethanolWaterAnswer)

func (r *reader) ethanolWater(q api.EthanolWaterRequest) solution.EthanolWater {
	out := solution.EthanolWater{Reference: r.quantity("/referenceTemperature", q.ReferenceTemperature)}
	switch asked := q.Question; {
	case asked.Properties != nil:
		out.Properties = r.spiritProperties(*asked.Properties)
	case asked.Mixing != nil:
		out.Mixing = r.spiritMixing(*asked.Mixing)
	case asked.Dilution != nil:
		out.Dilution = r.spiritDilution(*asked.Dilution)
	}
	return out
}

func (r *reader) spiritProperties(p api.SpiritProperties) *solution.SpiritProperties {
	const at = "/question/properties"
	q := &solution.SpiritProperties{
		Density:     r.quantity(at+"/density", p.Density),
		Temperature: r.quantity(at+"/temperature", p.Temperature),
		Volume:      r.quantity(at+"/volume", p.Volume),
	}
	if p.Strength != nil {
		q.Strength = new(r.strength(at+"/strength", p.Strength))
	}
	return q
}

func (r *reader) spiritMixing(m api.SpiritMixing) *solution.SpiritMixing {
	const at = "/question/mixing"
	q := &solution.SpiritMixing{Temperature: r.quantity(at+"/temperature", m.Temperature)}
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
	const at = "/question/dilution"
	return &solution.SpiritDilution{
		Stock: r.strength(at+"/stock", &d.Stock), Target: r.strength(at+"/target", &d.Target),
		StockAmount: r.quantity(at+"/amount/stock", d.Amount.Stock),
		Finished:    r.quantity(at+"/amount/finished", d.Amount.Finished),
		Temperature: r.quantity(at+"/temperature", d.Temperature),
	}
}

func ethanolWaterAnswer(a solution.EthanolWaterAnswer) api.EthanolWater {
	out := api.EthanolWater{
		ReferenceTemperature: Quantity(a.Reference, quantity.Celsius),
		Steps:                texts(a.Steps), Advice: advice(a.Advice),
	}
	if s := a.State; s != nil {
		out.Answer.Properties = &api.SpiritState{
			ByMass: result(s.ByMass, quantity.Percent), ByVolume: result(s.ByVolume, quantity.Percent),
			Temperature: result(s.Temperature, quantity.Celsius), Density: result(s.Density, quantity.GramsPerML),
			DensityAtReference: result(s.DensityAtRef, quantity.GramsPerML),
			VolumeAtReference:  resultOr(s.VolumeAtRef, quantity.Millilitre),
			Ethanol:            resultOr(s.Ethanol, quantity.Gram),
		}
	}
	if m := a.Mixture; m != nil {
		out.Answer.Mixing = &api.SpiritMixture{
			ByMass: result(m.ByMass, quantity.Percent), ByVolume: result(m.ByVolume, quantity.Percent),
			Mass: result(m.Mass, quantity.Gram), Volume: result(m.Volume, quantity.Millilitre),
			SumOfVolumes: Quantity(m.SumOfVolumes, quantity.Millilitre),
			Contraction:  result(m.Contraction, quantity.Percent),
		}
	}
	if d := a.Dilution; d != nil {
		out.Answer.Dilution = &api.SpiritRecipe{
			StockVolume: result(d.StockVolume, quantity.Millilitre), StockMass: result(d.StockMass, quantity.Gram),
			WaterVolume: result(d.WaterVolume, quantity.Millilitre), WaterMass: result(d.WaterMass, quantity.Gram),
			FinishedVolume:      result(d.FinishedVolume, quantity.Millilitre),
			FinishedMass:        result(d.FinishedMass, quantity.Gram),
			Contraction:         result(d.Contraction, quantity.Percent),
			WaterIfVolumesAdded: Quantity(d.IfVolumesAdded, quantity.Millilitre),
		}
	}
	return out
}

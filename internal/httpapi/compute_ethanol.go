package httpapi

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// computeEthanolWater answers questions on ethanol and water by OIML R 22.
func computeEthanolWater(s *Server, c *call) (*answer, error) {
	in, request, err := asked[api.EthanolWaterRequest](s, c)
	if err != nil {
		return nil, err
	}
	q := solution.EthanolWater{Reference: in.quantity("/referenceTemperature", request.ReferenceTemperature)}
	switch asked := request.Question; {
	case asked.Properties != nil:
		q.Properties = in.spiritProperties(*asked.Properties)
	case asked.Mixing != nil:
		q.Mixing = in.spiritMixing(*asked.Mixing)
	case asked.Dilution != nil:
		q.Dilution = in.spiritDilution(*asked.Dilution)
	}
	if err := in.Faults.Err(); err != nil {
		return nil, err
	}
	a, err := solution.ComputeEthanolWater(q)
	if err != nil {
		return nil, err
	}
	return ok(ethanolWater(a))
}

func (a *asking) spiritProperties(p api.SpiritProperties) *solution.SpiritProperties {
	const at = "/question/properties"
	q := &solution.SpiritProperties{
		Density:     a.quantity(at+"/density", p.Density),
		Temperature: a.quantity(at+"/temperature", p.Temperature),
		Volume:      a.quantity(at+"/volume", p.Volume),
	}
	if p.Strength != nil {
		strength := a.strength(at+"/strength", p.Strength)
		q.Strength = &strength
	}
	return q
}

func (a *asking) spiritMixing(m api.SpiritMixing) *solution.SpiritMixing {
	const at = "/question/mixing"
	q := &solution.SpiritMixing{Temperature: a.quantity(at+"/temperature", m.Temperature)}
	for i, p := range m.Parts {
		part := solution.SpiritPart{Amount: a.quantity(item(at+"/parts", i)+"/amount", &p.Amount)}
		if p.Strength != nil {
			strength := a.strength(item(at+"/parts", i)+"/strength", p.Strength)
			part.Strength = &strength
		}
		q.Parts = append(q.Parts, part)
	}
	return q
}

func (a *asking) spiritDilution(d api.SpiritDilution) *solution.SpiritDilution {
	const at = "/question/dilution"
	return &solution.SpiritDilution{
		Stock: a.strength(at+"/stock", &d.Stock), Target: a.strength(at+"/target", &d.Target),
		StockAmount: a.quantity(at+"/amount/stock", d.Amount.Stock),
		Finished:    a.quantity(at+"/amount/finished", d.Amount.Finished),
		Temperature: a.quantity(at+"/temperature", d.Temperature),
	}
}

func ethanolWater(a solution.EthanolWaterAnswer) api.EthanolWater {
	out := api.EthanolWater{
		ReferenceTemperature: computed(a.Reference, quantity.Celsius),
		Steps:                steps(a.Steps), Advice: advice(a.Advice),
	}
	if s := a.State; s != nil {
		out.Answer.Properties = &api.SpiritState{
			ByMass: result(s.ByMass, quantity.Percent), ByVolume: result(s.ByVolume, quantity.Percent),
			Temperature: result(s.Temperature, quantity.Celsius), Density: result(s.Density, quantity.GramsPerML),
			DensityAtReference: result(s.DensityAtRef, quantity.GramsPerML),
			VolumeAtReference:  resultOr(s.VolumeAtRef, quantity.Millilitre), Ethanol: resultOr(s.Ethanol, quantity.Gram),
		}
	}
	if m := a.Mixture; m != nil {
		out.Answer.Mixing = &api.SpiritMixture{
			ByMass: result(m.ByMass, quantity.Percent), ByVolume: result(m.ByVolume, quantity.Percent),
			Mass: result(m.Mass, quantity.Gram), Volume: result(m.Volume, quantity.Millilitre),
			SumOfVolumes: computed(m.SumOfVolumes, quantity.Millilitre), Contraction: result(m.Contraction, quantity.Percent),
		}
	}
	if d := a.Dilution; d != nil {
		out.Answer.Dilution = &api.SpiritRecipe{
			StockVolume: result(d.StockVolume, quantity.Millilitre), StockMass: result(d.StockMass, quantity.Gram),
			WaterVolume: result(d.WaterVolume, quantity.Millilitre), WaterMass: result(d.WaterMass, quantity.Gram),
			FinishedVolume: result(d.FinishedVolume, quantity.Millilitre), FinishedMass: result(d.FinishedMass, quantity.Gram),
			Contraction: result(d.Contraction, quantity.Percent), WaterIfVolumesAdded: computed(d.IfVolumesAdded, quantity.Millilitre),
		}
	}
	return out
}

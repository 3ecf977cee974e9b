package solution

import (
	"fmt"
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// answer pours the parts together:
//
//	m = Σ mᵢ    p = Σ mᵢ pᵢ/m    V = m/ρ(p, t)    contraction = 1 - V/Σ Vᵢ
func (s SpiritMixing) answer(c *spiritChecker) (*SpiritMixture, error) {
	if n := len(s.Parts); n < 2 || n > 40 {
		c.faults.Add("parts-count", "/mixing/parts", "Give from 2 to 40 parts to pour together.")
	}
	c.gauges = c.checker.gauges("/mixing/instruments", s.Instruments)
	t := c.celsius("/mixing/temperature", s.Temperature)
	var strengths []massFraction
	var grams []func(x []float64) float64
	for i, part := range s.Parts {
		at := fmt.Sprintf("/mixing/parts/%d", i)
		p := massFraction(func([]float64) float64 { return 0 })
		name := "the water"
		if part.Strength != nil {
			name = fmt.Sprintf("part %d", i+1)
			p = c.strength(at+"/strength", "the strength of "+name, *part.Strength)
		}
		strengths = append(strengths, p)
		grams = append(grams, c.grams(at+"/amount", "the amount of "+name, part.Amount, p, t))
	}
	if err := c.faults.Err(); err != nil {
		return nil, err
	}
	reference := c.reference
	o := quantity.PropagateAll(c.inputs, 6, func(x, out []float64) {
		mass, ethanol, sum := 0.0, 0.0, 0.0
		for i := range grams {
			m, p := grams[i](x), strengths[i](x)
			mass += m
			ethanol += m * p
			sum += m / gramsPerML(p, x[t])
		}
		p := ethanol / mass
		out[0], out[1], out[2] = 100*p, 100*ethanolVolumeFraction(p, reference), mass
		out[3] = mass / gramsPerML(p, x[t])
		out[4], out[5] = 100*(1-out[3]/sum), sum
	})
	c.weakest = math.Min(c.weakest, o[0].Value/100)
	return &SpiritMixture{ByMass: o[0], ByVolume: o[1], Mass: o[2], Volume: o[3], Contraction: o[4],
		SumOfVolumes: o[5].Value}, nil
}

// answer finds the water:
//
//	m₂ = m₁ p₁/p₂    m_w = m₂ - m₁    V = m/ρ(p, t) for each
//
// Made up to a mark no density is needed: V₁ = V₂ q₂/q₁ at the reference; the water
// to add needs them.
func (s SpiritDilution) answer(c *spiritChecker, notes *Advice) (*SpiritRecipe, error) {
	c.gauges = c.checker.gauges("/dilution/instruments", s.Instruments)
	t := c.celsius("/dilution/temperature", s.Temperature)
	stock := c.strength("/dilution/stock", "the strength of the stock", s.Stock)
	target := c.strength("/dilution/target", "the wanted strength", s.Target)
	var ofStock, made func(x []float64) float64
	switch {
	case !s.StockAmount.IsZero() && s.Finished.IsZero():
		ofStock = c.grams("/dilution/amount/stock", "the amount of the stock", s.StockAmount, stock, t)
	case !s.Finished.IsZero() && s.StockAmount.IsZero():
		made = c.grams("/dilution/amount/finished", "the finished amount", s.Finished, target, t)
	default:
		c.faults.Add("amount-choice", "/dilution/amount", "Give exactly one of stock and finished.")
	}
	if err := c.faults.Err(); err != nil {
		return nil, err
	}
	x := values(c.inputs)
	if p1, p2 := stock(x), target(x); p2 > p1 || p2 == 0 {
		return nil, fault.New("target-above-stock", "/dilution/target",
			"The target must be above 0 and not above the stock, which is %s %% by mass and %s %% by volume: water "+
				"only weakens it.", number(100*p1), number(100*ethanolVolumeFraction(p1, c.reference)))
	}
	o := quantity.PropagateAll(c.inputs, 8, func(x, out []float64) {
		p1, p2 := stock(x), target(x)
		var m1, m2 float64
		if ofStock != nil {
			m1 = ofStock(x)
			m2 = m1 * p1 / p2
		} else {
			m2 = made(x)
			m1 = m2 * p2 / p1
		}
		out[0], out[1] = m1/gramsPerML(p1, x[t]), m1
		out[2], out[3] = (m2-m1)/gramsPerML(0, x[t]), m2-m1
		out[4], out[5] = m2/gramsPerML(p2, x[t]), m2
		out[6] = 100 * (1 - out[4]/(out[0]+out[2]))
	})
	r := &SpiritRecipe{StockVolume: o[0], StockMass: o[1], WaterVolume: o[2], WaterMass: o[3], FinishedVolume: o[4],
		FinishedMass: o[5], Contraction: o[6]}
	ratio := ethanolVolumeFraction(stock(x), c.reference) / ethanolVolumeFraction(target(x), c.reference)
	r.IfVolumesAdded = r.StockVolume.Value * (ratio - 1)
	r.steps(notes, x[t])
	return r, nil
}

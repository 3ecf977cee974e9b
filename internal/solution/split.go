package solution

import (
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// TwoPart is a product that reacts or sets, in the maker's ratio: resin and hardener,
// plaster and water. It is split, never diluted.
type TwoPart struct {
	Parts []RatioPart
	By    ShareBy
}

// RatioPart is one part of a maker's ratio.
type RatioPart struct {
	Component Component
	Ratio     quantity.Decimal // "100" of "100 to 30"
}

// Split is an amount divided in the maker's ratio.
type Split struct {
	Unit  quantity.Unit // g or mL, of every amount
	Total float64
	Parts []SplitPart
	// Ratio is the maker's ratio of the first part to the second, and AsRounded what the
	// rounded amounts give, with the uncertainty of the instrument.
	Ratio     float64
	AsRounded quantity.Outcome
	// Off is how far the ratio as rounded is from the maker's, in per cent of it.
	Off float64
}

// SplitPart is the amount of one part.
type SplitPart struct {
	ID, Name       string
	Exact, Rounded float64
}

var ratioSpan = span{0, 1e6, true}

// ratioOff is how far rounding may take a part from what is asked before it is said, in per cent.
const ratioOff = 2

// splitTwoPart divides the finished amount:
//
//	mᵢ = M rᵢ / Σ rⱼ
//
// in the measure that the ratio is said in: a ratio by mass splits a mass.
func splitTwoPart(in MakeUpInput) (MakeUpAnswer, error) {
	c := &checker{}
	two := in.Resin.TwoPart
	if in.Strength.Basis != "" || !in.Strength.Number.IsZero() {
		c.faults.Add("reacts", "/strength",
			"A product that reacts or sets has no strength to choose: it is mixed in the maker's ratio and never diluted.")
	}
	sum := two.check(c)
	unit, wanted := quantity.Gram, massSpan
	if two.By == ByVolume {
		unit, wanted = quantity.Millilitre, volumeSpan
	}
	total := c.need("/amount/finished", in.Amount.Finished, unit, wanted).Value
	g := c.gauges("/instruments", in.Instruments)
	room := c.room("/container", in.Container)
	if err := c.faults.Err(); err != nil {
		return MakeUpAnswer{}, err
	}
	instrument := g.scale
	if unit == quantity.Millilitre {
		instrument = g.measure
	}
	split := Split{Unit: unit, Total: total}
	for _, part := range two.Parts {
		exact := total * part.Ratio.Float64() / sum
		split.Parts = append(split.Parts, SplitPart{part.Component.ID, part.Component.Name, exact, instrument.round(exact)})
	}
	split.compare(instrument, c)
	if err := c.faults.Err(); err != nil {
		return MakeUpAnswer{}, err
	}
	a := MakeUpAnswer{Split: &split}
	if unit == quantity.Millilitre {
		a.fills(room, total, true)
	} else {
		a.fills(room, 0, false)
	}
	a.Answer = split.says(instrument)
	a.adviseSplit(split, instrument)
	return a, nil
}

// check reads the ratio and gives its sum.
func (two TwoPart) check(c *checker) float64 {
	const at = "/resin/twoPart"
	if len(two.Parts) < 2 {
		c.faults.Add("ratio-missing", at+"/parts", "The maker's ratio has at least two parts, such as 100 to 30.")
	}
	if two.By != ByMass && two.By != ByVolume {
		c.faults.Add("ratio-by", at+"/by", "Say whether the maker's ratio is by mass or by volume.")
	}
	var sum float64
	for i, part := range two.Parts {
		r := part.Ratio.Float64()
		if !ratioSpan.holds(r) {
			c.faults.Add("out-of-range", at+"/parts"+indexed(i)+"/ratio", "A part of the ratio must be %s.",
				ratioSpan.said(quantity.One))
		}
		sum += r
	}
	return sum
}

// compare evaluates the ratio that the rounded amounts give.
func (s *Split) compare(instrument gauge, c *checker) {
	inputs := make([]quantity.Input, len(s.Parts))
	for i, part := range s.Parts {
		u := instrument.standard(part.Rounded, c)
		inputs[i] = quantity.Input{Name: "measuring " + the(part.Name), Unit: s.Unit,
			Measured: quantity.Measured{Value: part.Rounded, Standard: u}}
	}
	s.Ratio = s.Parts[0].Exact / s.Parts[1].Exact
	if s.Parts[0].Rounded == 0 || s.Parts[1].Rounded == 0 {
		c.faults = append(c.faults, fault.New("below-readability", "/amount/finished",
			"One of the parts is less than the instrument can show; make more, or take a finer instrument."))
		return
	}
	s.AsRounded = quantity.Propagate(inputs, func(x []float64) float64 { return x[0] / x[1] })
	s.Off = 100 * (s.AsRounded.Value/s.Ratio - 1)
}

// says is the split in a sentence.
func (s Split) says(instrument gauge) string {
	var amounts []string
	for _, part := range s.Parts {
		amounts = append(amounts, instrument.say(part.Rounded)+" of "+part.Name)
	}
	said := list(amounts) + ": " + s.AsRounded.Said() + " to 1"
	if s.Off != 0 {
		said += ", where the maker's ratio is " + number(s.Ratio) + " to 1"
	}
	return said + "."
}

// adviseSplit says what goes with a reacting product.
func (a *MakeUpAnswer) adviseSplit(s Split, instrument gauge) {
	for i, part := range s.Parts {
		cup := "into the mixing cup."
		if i > 0 {
			cup = "into the same cup."
		}
		verb := "Set the scale with the cup on it to zero, and weigh "
		if s.Unit == quantity.Millilitre {
			verb = "Measure "
		}
		a.Steps = append(a.Steps, verb+instrument.say(part.Rounded)+" of "+part.Name+" "+cup)
	}
	a.Steps = append(a.Steps,
		"Mix thoroughly, scraping the sides and the bottom, and use it within the working time on the maker's sheet.")
	if off := math.Abs(s.Off); off > ratioOff {
		a.warn("ratio-off", Warn, practice, "With these amounts as rounded the ratio is "+rough(off)+
			" % off the maker's: make more at once, or take a finer instrument.")
	}
	a.warn("not-diluted", Info, practice,
		"A product that reacts is not thinned with solvent to make it weaker: that changes what it cures to.")
	a.Cautions = append(a.Cautions,
		Caution{"Wear gloves and eye protection that the safety data sheets of the parts name, and work where the vapour is " +
			"drawn away from the face.", practice},
		Caution{"Keep flames, hot plates and sparking equipment away, unless the sheets say that no part burns.", practice},
		Caution{"A reacting mixture heats itself, more so in a larger mass: keep to small amounts in a shallow cup.",
			practice})
	a.cite(practice)
}

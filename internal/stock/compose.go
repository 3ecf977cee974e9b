package stock

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Made is a batch as it is on record: what went in, and how much came out.
type Made struct {
	Code   string
	Inputs []Ingredient
	// Finished is the volume or the mass of the whole, if it was measured.
	Finished *quantity.Quantity
	// Label is the strength that the label says; nil if it says none.
	Label *solution.Strength
	// LabelSolvent is the solvent that the record names beside the label's strength.
	LabelSolvent solution.Solvent
	// Events are what became of it.
	Events []Event
	// When is the day on which it was made; zero if unknown.
	When edtf.Date
}

// Ingredient is one thing that went into a batch.
type Ingredient struct {
	Name string
	// Batch is the id of a batch; empty for a supply or a material.
	Batch string
	// Stock is a supply or a material: any amount of it. It is nil for a batch,
	// and for words whose meaning is unknown.
	Stock *solution.Stock
	// Amount is as measured; nil if unknown.
	Amount *quantity.Quantity
}

// Contents is what a batch holds as it was made. The strength by volume follows
// from the finished volume where that was measured, else from the sum of the
// volumes. Each list has every entry once, and counts what it leaves out beyond
// its limit.
type Contents struct {
	// Mixture has the grams and the strength on every basis; nil where what went
	// in is not known well enough, and then Why says what is missing.
	Mixture *solution.Mixture
	Why     []string
	// ByLabel says that the mixture rests on what a label says, of this batch or of
	// one that it was made from.
	ByLabel bool
	Brought
	MoreWhy int
}

// mixed is one batch as it was made, without the lists of all that it was made
// from.
type mixed struct {
	Mixture *solution.Mixture
	ByLabel bool

	because    []reason
	stock      solution.Stock // to go into another batch
	components map[string]solution.Component
	shared     bool // the components are those of another batch
}

// reason is why a batch has no mixture: a sentence, or another batch that has none.
type reason struct {
	sentence string
	of       *shelved
}

// Limits of mixing. The cost of a mixture grows with the square of its number of
// substances, since the uncertainty of each bears on all.
const (
	mostSubstances = 40      // in one mixture
	mostMixing     = 500_000 // squares of substances, in all mixtures of a shelf
)

// mix composes one batch from its inputs.
func (s *Shelf) mix(b *shelved) mixed {
	var out mixed
	if b.circle {
		out.fail("the record says that " + b.Code + " was made, through others, from itself")
		return out
	}
	stocks := make([]solution.BlendStock, 0, len(b.Inputs))
	for _, in := range b.Inputs {
		s.looked++
		k, ok := s.input(b, in, &out)
		if !ok {
			continue
		}
		stock := solution.BlendStock{Stock: k, UseAll: true}
		if in.Amount != nil {
			stock.OnHand = *in.Amount
		}
		stocks = append(stocks, stock)
	}
	if len(out.components) > mostSubstances {
		out.fail(fmt.Sprintf("more than %d substances went into %s, which are not added up", mostSubstances, b.Code))
	}
	if n := len(out.components); len(out.because) == 0 {
		s.mixing += n * n
		if s.mixing > mostMixing {
			out.fail("more was mixed in what it was made from than is added up at once")
		} else {
			out.measure(b.Made, stocks)
		}
	}
	if out.Mixture == nil {
		out.components = nil
	}
	return out
}

func (out *mixed) fail(sentence string) {
	out.because = append(out.because, reason{sentence: sentence})
}

// input notes what an input brings in, and gives it as a stock if that is known.
func (s *Shelf) input(b *shelved, in Ingredient, out *mixed) (solution.Stock, bool) {
	switch {
	case in.Batch != "":
		return s.batchInput(b, in.Batch, out)
	case in.Stock != nil:
		out.takeStock(*in.Stock)
		return *in.Stock, true
	default:
		out.fail(fmt.Sprintf("what %q is has not been established", in.Name))
		return solution.Stock{}, false
	}
}

func (s *Shelf) batchInput(b *shelved, id string, out *mixed) (solution.Stock, bool) {
	from := s.batches[id]
	if from == nil {
		out.fail(s.notHere())
		return solution.Stock{}, false
	}
	out.ByLabel = out.ByLabel || from.ByLabel
	if from.Mixture == nil {
		out.because = append(out.because, reason{of: from})
		return solution.Stock{}, false
	}
	out.takeAll(from.components)
	k, err := s.taken(from, b.id)
	if err != nil {
		out.fail(because(err))
	}
	return k, err == nil
}

// notHere says why a batch is not on the shelf.
func (s *Shelf) notHere() string {
	if s.More > 0 {
		return fmt.Sprintf("not all that went into it was read: there are %d more supplies and batches", s.More)
	}
	return "a batch that it was made from is not on record here"
}

// Pure is a substance as a stock: any amount of it alone.
func Pure(c solution.Component) solution.Stock {
	return solution.Stock{
		Name: c.Name, Contents: []solution.Content{{Component: c, Amount: quantity.New("1", quantity.Gram)}},
	}
}

// takeStock notes everything that a stock brings in.
func (out *mixed) takeStock(k solution.Stock) {
	eachComponent(k, func(c solution.Component) { out.own()[c.ID] = c })
}

// takeAll notes everything that another batch brings in. A batch that was filled
// from one batch alone shares its components.
func (out *mixed) takeAll(components map[string]solution.Component) {
	if out.components == nil {
		out.components, out.shared = components, true
		return
	}
	maps.Copy(out.own(), components)
}

// own are the components, to be added to.
func (out *mixed) own() map[string]solution.Component {
	switch {
	case out.components == nil:
		out.components = map[string]solution.Component{}
	case out.shared:
		out.components = maps.Clone(out.components)
	}
	out.shared = false
	return out.components
}

// eachComponent goes through what a stock brings in, and what that is supplied
// with.
func eachComponent(k solution.Stock, take func(solution.Component)) {
	var each func(c solution.Component)
	each = func(c solution.Component) {
		take(c)
		for _, share := range c.Supplied {
			each(share.Component)
		}
	}
	for _, content := range k.Contents {
		each(content.Component)
	}
	if k.Dispersion != nil {
		each(k.Dispersion.Product)
		each(k.Dispersion.Water)
	}
}

// measure finds the mixture in whichever way the record allows.
func (out *mixed) measure(made Made, stocks []solution.BlendStock) {
	missing := slices.IndexFunc(stocks, func(k solution.BlendStock) bool { return k.OnHand.IsZero() })
	var err error
	switch {
	case len(stocks) == 0 || missing >= 0 && made.Label != nil:
		err = out.byLabel(made, stocks)
	case missing >= 0 && len(made.Inputs) == 1 && made.Inputs[0].Batch != "":
		err = out.convert(stocks[0].Stock) // the amount filled in does not change what it is
	case missing >= 0:
		err = out.toTheMark(made, stocks)
	default:
		err = out.poured(made, stocks)
	}
	if err != nil {
		out.Mixture = nil
		out.fail(because(err))
	}
}

// because is a fault's sentence, as an answer says it.
func because(err error) string {
	if found := fault.From(err); len(found) > 0 {
		return found[0].Detail
	}
	return err.Error()
}

// poured is everything poured together.
func (out *mixed) poured(made Made, stocks []solution.BlendStock) error {
	blend, err := solution.Blend(solution.BlendInput{Stocks: stocks, OnlyExact: true})
	if err != nil {
		return err
	}
	return out.settle(made, blend.Exact)
}

// errAmounts says that too little was measured.
var errAmounts = errors.New("the amounts that went in are not all known, and neither is the finished volume")

// toTheMark is one solid, weighed, and a solvent that was not, filled to a
// measured volume: m / V on the basis of mass per volume of solution.
func (out *mixed) toTheMark(made Made, stocks []solution.BlendStock) error {
	if made.Finished == nil {
		return errAmounts
	}
	volume, err := made.Finished.Measured(quantity.Millilitre)
	if err != nil {
		return errAmounts
	}
	var solute, solvent *solution.BlendStock
	for i, k := range stocks {
		switch {
		case !k.OnHand.IsZero() && isOne(k, solution.Solid) && solute == nil:
			solute = &stocks[i]
		case k.OnHand.IsZero() && isOne(k, solution.Liquid) && solvent == nil:
			solvent = &stocks[i]
		default:
			return errAmounts
		}
	}
	if solute == nil || solvent == nil {
		return errAmounts
	}
	mass, err := solute.OnHand.Measured(quantity.Gram)
	if err != nil {
		return err
	}
	strength, err := perVolume(mass, volume)
	if err != nil {
		return err
	}
	return out.convert(solution.Stock{Name: made.Code, Solute: solute.Contents[0].Component,
		Solvent: solution.Pure(solvent.Contents[0].Component), Strength: strength})
}

// isOne tells whether a stock is a single substance of a phase.
func isOne(k solution.BlendStock, phase solution.Phase) bool {
	return len(k.Contents) == 1 && k.Contents[0].Component.Phase == phase && len(k.Contents[0].Component.Supplied) == 0
}

// perVolume is 100 m / V in g/dL, with u(c)/c the root of the sum of the squares
// of u(m)/m and u(V)/V (JCGM 100:2008, 5.1.6, recalled).
func perVolume(mass, volume quantity.Measured) (solution.Strength, error) {
	in := []quantity.Input{
		{Name: "mass", Unit: quantity.Gram, Measured: mass},
		{Name: "volume", Unit: quantity.Millilitre, Measured: volume},
	}
	o := quantity.Propagate(in, func(x []float64) float64 { return 100 * x[0] / x[1] })
	number, err := withStandard(o.Value, o.Standard, quantity.GramsPerDL)
	return solution.Strength{Basis: solution.MassPerSolutionVolume, Number: number}, err
}

// byLabel takes the strength from the label: one solid, and the solvent that is named.
func (out *mixed) byLabel(made Made, stocks []solution.BlendStock) error {
	if made.Label == nil {
		return errors.New("what went into it was not recorded")
	}
	var solids []solution.Component
	solvent := made.LabelSolvent
	for _, k := range stocks {
		for _, content := range k.Contents {
			if content.Component.Phase == solution.Solid {
				solids = append(solids, content.Component)
			} else if len(solvent.Shares) == 0 {
				solvent = solution.Pure(content.Component)
			}
		}
	}
	if len(solids) != 1 || len(solvent.Shares) == 0 {
		return errors.New("the label's strength is of a resin and a solvent that are not both recorded")
	}
	out.ByLabel = true
	return out.convert(solution.Stock{Name: made.Code, Solute: solids[0], Solvent: solvent, Strength: *made.Label})
}

func (out *mixed) convert(k solution.Stock) error {
	a, err := solution.Convert(solution.ConvertInput{Stock: k})
	if err != nil {
		return err
	}
	if len(a.Mixture.Parts) == 0 {
		return errors.New("the basis of its strength is not recorded")
	}
	out.Mixture, out.stock = &a.Mixture, k
	return nil
}

// settle keeps a mixture, with the measured volume where there is one.
func (out *mixed) settle(made Made, mixture solution.Mixture) error {
	k, err := out.asStock(made.Code, mixture)
	if err != nil {
		return err
	}
	out.Mixture, out.stock = &mixture, k
	if made.Finished == nil || len(k.Contents) == 0 {
		return nil
	}
	volume, err := made.Finished.Measured(quantity.Millilitre)
	if err != nil || !(volume.Value > 0) {
		return nil // weighed: the mixture has the masses already
	}
	density, err := quantity.Of(mixture.Mass.Value/volume.Value, quantity.GramsPerML)
	if err != nil {
		return err
	}
	measured := k
	measured.Density = density
	if a, err := solution.Convert(solution.ConvertInput{Stock: measured}); err == nil && len(a.Mixture.Parts) > 0 {
		out.Mixture, out.stock = &a.Mixture, measured
	}
	return nil
}

// asStock makes a mixture ready to go into another: its grams.
func (out *mixed) asStock(code string, m solution.Mixture) (solution.Stock, error) {
	k := solution.Stock{Name: code}
	for _, part := range m.Parts {
		grams, err := quantity.Of(part.Grams, quantity.Gram)
		if err != nil {
			return k, err
		}
		component, ok := out.componentOf(part.ID)
		if !ok {
			return k, fmt.Errorf("%s is not known well enough to be mixed further", part.Name)
		}
		k.Contents = append(k.Contents, solution.Content{Component: component, Amount: grams})
	}
	return k, nil
}

func (out *mixed) componentOf(id string) (solution.Component, bool) {
	c, ok := out.components[id]
	return c, ok
}

func withStandard(value, standard float64, unit quantity.Unit) (quantity.Quantity, error) {
	q, err := quantity.Of(value, unit)
	if err != nil || standard == 0 {
		return q, err
	}
	u, err := quantity.OfFloat(standard)
	if err != nil {
		return q, err
	}
	q.Uncertainty = quantity.Standard(u)
	return q, nil
}

package stock

import (
	"errors"
	"fmt"
	"slices"

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
}

// Ingredient is one thing that went into a batch.
type Ingredient struct {
	Name string
	// Batch is the id of a batch; empty for a supply or a material.
	Batch string
	// Stock is a supply or a material: any amount of it. It is nil for a batch,
	// and for words that nobody can say the meaning of.
	Stock *solution.Stock
	// Amount is as measured; nil if nobody knows it.
	Amount *quantity.Quantity
}

// Contents is what a batch holds as it was made. Where the finished volume was
// measured it decides the strength by volume; the sum of the volumes is the model
// elsewhere.
type Contents struct {
	// Mixture has the grams and the strength on every basis; nil where what went
	// in is not known well enough, and then Why says what is missing.
	Mixture *solution.Mixture
	Why     []string
	// ByLabel says that the mixture rests on what a label says, of this batch or of
	// one that it was made from.
	ByLabel bool
	// Materials are the ids of every substance that is in it, through all batches
	// that it was made from, whether or not the amounts are known.
	Materials []string
	// Unnamed are the words of inputs that nobody can say the meaning of.
	Unnamed []string

	stock      solution.Stock // to go into another batch
	components map[string]solution.Component
}

// Contents is what a batch holds as it was made. Where the finished volume was
// measured it decides the strength by volume; the sum of the volumes is the model
// elsewhere.
func (s *Shelf) Contents(id string) Contents {
	if found, ok := s.done[id]; ok {
		return found
	}
	made, ok := s.made[id]
	switch {
	case !ok:
		return Contents{Why: []string{"a batch that it was made from is not on record here"}}
	case s.under[task{batch: id}]:
		return Contents{Why: []string{"the record says that " + made.Code + " was made, through others, from itself"}}
	}
	s.under[task{batch: id}] = true
	found := s.mix(id, made)
	delete(s.under, task{batch: id})
	s.done[id] = found
	return found
}

// mix composes one batch from its inputs.
func (s *Shelf) mix(id string, made Made) Contents {
	out := Contents{components: map[string]solution.Component{}}
	stocks := make([]solution.BlendStock, 0, len(made.Inputs))
	for _, in := range made.Inputs {
		k, ok := s.input(id, in, &out)
		if !ok {
			continue
		}
		b := solution.BlendStock{Stock: k, UseAll: true}
		if in.Amount != nil {
			b.OnHand = *in.Amount
		}
		stocks = append(stocks, b)
	}
	slices.Sort(out.Materials)
	out.Materials = slices.Compact(out.Materials)
	if len(out.Why) == 0 {
		out.measure(made, stocks)
	}
	return out
}

// input notes what an input brings in, and gives it as a stock if that is known.
func (s *Shelf) input(id string, in Ingredient, out *Contents) (solution.Stock, bool) {
	switch {
	case in.Batch != "":
		from := s.Contents(in.Batch)
		out.Materials = append(out.Materials, from.Materials...)
		out.Unnamed = append(out.Unnamed, from.Unnamed...)
		for id, component := range from.components {
			out.components[id] = component
		}
		out.ByLabel = out.ByLabel || from.ByLabel
		if from.Mixture == nil {
			out.Why = append(out.Why, from.Why...)
			return solution.Stock{}, false
		}
		k, err := s.taken(in.Batch, id, from)
		if err != nil {
			out.Why = append(out.Why, because(err))
			return k, false
		}
		return k, true
	case in.Stock != nil:
		out.takeStock(*in.Stock)
		return *in.Stock, true
	default:
		out.Unnamed = append(out.Unnamed, in.Name)
		out.Why = append(out.Why, fmt.Sprintf("what %q is has not been established", in.Name))
		return solution.Stock{}, false
	}
}

// Pure is a substance as a stock: any amount of it alone.
func Pure(c solution.Component) solution.Stock {
	return solution.Stock{Name: c.Name, Contents: []solution.Content{{Component: c, Amount: quantity.New("1", quantity.Gram)}}}
}

// takeStock notes everything that a stock brings in.
func (out *Contents) takeStock(k solution.Stock) {
	for _, content := range k.Contents {
		out.take(content.Component)
	}
	if k.Dispersion != nil {
		out.take(k.Dispersion.Product)
		out.take(k.Dispersion.Water)
	}
}

// take notes a component and what it is supplied with.
func (out *Contents) take(component solution.Component) {
	out.components[component.ID] = component
	if len(component.Supplied) == 0 {
		out.Materials = append(out.Materials, component.ID)
	}
	for _, share := range component.Supplied {
		out.take(share.Component)
	}
}

// measure finds the mixture in whichever way the record allows.
func (out *Contents) measure(made Made, stocks []solution.BlendStock) {
	missing := slices.IndexFunc(stocks, func(k solution.BlendStock) bool { return k.OnHand.IsZero() })
	var err error
	switch {
	case len(stocks) == 0 || missing >= 0 && made.Label != nil:
		err = out.byLabel(made, stocks)
	case missing >= 0 && len(made.Inputs) == 1 && made.Inputs[0].Batch != "":
		err = out.convert(stocks[0].Stock) // however much was filled in, it is what it was
	case missing >= 0:
		err = out.toTheMark(made, stocks)
	default:
		err = out.poured(made, stocks)
	}
	if err != nil {
		out.Mixture = nil
		out.Why = append(out.Why, because(err))
	}
}

// because is a fault's sentence, for the reader of an answer.
func because(err error) string {
	if found := fault.From(err); len(found) > 0 {
		return found[0].Detail
	}
	return err.Error()
}

// poured is everything poured together.
func (out *Contents) poured(made Made, stocks []solution.BlendStock) error {
	blend, err := solution.Blend(solution.BlendInput{Stocks: stocks})
	if err != nil {
		return err
	}
	return out.settle(made, blend.Exact)
}

// errAmounts says that too little was measured.
var errAmounts = errors.New("the amounts that went in are not all known, and neither is the finished volume")

// toTheMark is one solid, weighed, and a solvent that was not, filled to a
// measured volume: m / V on the basis of mass per volume of solution.
func (out *Contents) toTheMark(made Made, stocks []solution.BlendStock) error {
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
	return out.convert(solution.Stock{Name: made.Code, Solute: solute.Contents[0].Component, Solvent: solution.Pure(solvent.Contents[0].Component), Strength: strength})
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

// byLabel takes the label's word: one solid, and the solvent that is named.
func (out *Contents) byLabel(made Made, stocks []solution.BlendStock) error {
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

func (out *Contents) convert(k solution.Stock) error {
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
func (out *Contents) settle(made Made, mixture solution.Mixture) error {
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
		return nil // weighed: the masses have said it already
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
func (out *Contents) asStock(code string, m solution.Mixture) (solution.Stock, error) {
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

func (out *Contents) componentOf(id string) (solution.Component, bool) {
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

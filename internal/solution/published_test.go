package solution

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"meniscus/internal/quantity"
)

// example is one row of testdata/published/mixing.json: a published worked example
// with the answer as it is printed.
type example struct {
	ID, Computation, Source, Status, Note string
	Stock, Target                         *struct{ Value, Basis, Density string }
	Solute, Solvent                       substance
	Diluent                               *substance
	Contents                              [][2]string
	Stocks                                [][]string
	Parts                                 []string
	Finished, OnHand, SolventAmount       string
	Added, MadeUpTo, Amount, Solids       string
	Expect                                []struct {
		What             string
		Value, Tolerance float64
	}
}

type substance struct {
	Name, Density string
	Liquid        bool
	Ethanol       *float64
}

func (s substance) component() Component {
	c := Component{ID: s.Name, Name: s.Name, Phase: Solid, Ethanol: s.Ethanol}
	if s.Liquid {
		c.Phase = Liquid
	}
	if s.Density != "" {
		c.Density.Measured = quantity.Exactly(quantity.MustDecimal(s.Density).Float64())
	}
	return c
}

// amountOf reads "150 mL"; nothing for "".
func amountOf(s string) quantity.Quantity {
	value, unit, found := strings.Cut(s, " ")
	if !found {
		return quantity.Quantity{}
	}
	return quantity.New(value, quantity.Unit(unit))
}

func strengthOf(value, basis string) Strength {
	b := Basis(basis)
	return Strength{Basis: b, Number: quantity.New(value, bounds[b].unit)}
}

func (e example) stock() Stock {
	k := Stock{Solute: e.Solute.component(), Solvent: Pure(e.Solvent.component())}
	for _, c := range e.Contents {
		k.Contents = append(k.Contents, Content{e.Solute.component(), amountOf(c[1])})
	}
	if e.Stock != nil {
		k.Strength = strengthOf(e.Stock.Value, e.Stock.Basis)
		if e.Stock.Density != "" {
			k.Density = quantity.New(e.Stock.Density, "g/mL")
		}
	}
	return k
}

func (e example) target() Strength {
	switch {
	case e.Target != nil:
		return strengthOf(e.Target.Value, e.Target.Basis)
	case len(e.Parts) == 2:
		return Strength{Basis: PartsByVolume, Parts: [2]quantity.Decimal{quantity.MustDecimal(e.Parts[0]),
			quantity.MustDecimal(e.Parts[1])}}
	default:
		return Strength{}
	}
}

// results are the answers of one example, by the words that the table uses.
type results map[string]float64

func (r results) mixture(m Mixture) {
	r["finished mass"], r["finished volume"], r["density"] = m.Mass.Value, m.Volume.Value, m.Density.Value
	for _, v := range m.Strengths {
		if v.Answered() {
			r["strength "+string(v.Basis)] = v.Value
		}
	}
	for _, part := range m.Parts {
		if part.Dissolved {
			r["solids"] += part.Grams
		}
	}
}

func (r results) ingredients(all []Ingredient) {
	for _, i := range all {
		name := "solvent"
		switch i.Role {
		case ResinRole:
			name = "resin"
		case StockRole:
			name = "stock"
		}
		r[name+" mass"], r[name+" volume"] = i.Grams, i.Millilitres
	}
}

// compute runs an example through the function that its endpoint calls.
func (e example) compute() (results, error) {
	r := results{}
	switch e.Computation {
	case "make-up":
		solid := e.Solute.component()
		a, err := MakeUp(MakeUpInput{
			Resin: Resin{Solid: &solid}, Solvent: Pure(e.Solvent.component()), Strength: e.target(),
			Amount: Wanted{Finished: amountOf(e.Finished), Solvent: amountOf(e.SolventAmount)},
		})
		r.mixture(a.Target)
		r.ingredients(a.Main.Ingredients)
		return r, err
	case "dilute":
		in := DiluteInput{
			Stock: e.stock(), Strength: e.target(), Added: amountOf(e.Added), MadeUpTo: amountOf(e.MadeUpTo),
			Amount: Wanted{Finished: amountOf(e.Finished), OnHand: amountOf(e.OnHand)},
		}
		if e.Diluent != nil {
			in.Solvent = Pure(e.Diluent.component())
		}
		a, err := Dilute(in)
		r.mixture(a.Target)
		r.ingredients(a.Main.Ingredients)
		return r, err
	case "convert":
		a, err := Convert(ConvertInput{Stock: e.stock(), Amount: amountOf(e.Amount), Solids: amountOf(e.Solids)})
		r.mixture(a.Mixture)
		for name, p := range map[string]*Portion{"amount": a.Amount, "holding": a.Holding} {
			if p != nil {
				r[name+" mass"], r[name+" volume"], r[name+" solids"] = p.Grams.Value, p.Millilitres.Value, p.Solids.Value
			}
		}
		return r, err
	case "strengthen":
		a, err := Adjust(AdjustInput{Stock: e.stock(), OnHand: amountOf(e.OnHand),
			Strengthen: &Strengthen{Strength: e.target(), Added: amountOf(e.Added)}})
		r.mixture(a.After)
		if err == nil {
			r["added mass"] = a.Add[0].Grams
		}
		return r, err
	default:
		return e.blend(r)
	}
}

func (e example) blend(r results) (results, error) {
	in := BlendInput{Strength: e.target(), Total: amountOf(e.Finished)}
	for _, row := range e.Stocks {
		k := Stock{Name: "stock " + row[0], Solute: e.Solute.component(), Solvent: Pure(e.Solvent.component())}
		if row[0] == "pure" {
			k.Contents = []Content{{k.Solute, quantity.New("1", "g")}}
		} else {
			k.Strength = strengthOf(row[0], row[1])
		}
		in.Stocks = append(in.Stocks, BlendStock{Stock: k, OnHand: amountOf(row[2]), UseAll: len(row) > 3})
	}
	a, err := Blend(in)
	r.mixture(a.Exact)
	for i, use := range a.Uses {
		n := string(rune('1' + i))
		r["use "+n+" mass"], r["use "+n+" volume"] = use.Grams, use.Millilitres
	}
	if a.Alligation != nil {
		r["alligation by mass"], r["alligation by volume"] = a.Alligation.ByMass, a.Alligation.ByVolume
	}
	return r, err
}

// Every published mixing example, to its printed precision, through the functions
// that the endpoints call.
func TestPublishedExamples(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("../../testdata/published/mixing.json")
	if err != nil {
		t.Fatal(err)
	}
	var table struct{ Examples []example }
	if err := json.Unmarshal(text, &table); err != nil {
		t.Fatal(err)
	}
	if len(table.Examples) < 80 {
		t.Fatalf("examples: got %d, want the whole table", len(table.Examples))
	}
	for _, e := range table.Examples {
		t.Run(e.ID, func(t *testing.T) {
			t.Parallel()
			got, err := e.compute()
			if err != nil {
				t.Fatalf("%s (%s): %v", e.ID, e.Source, err)
			}
			for _, want := range e.Expect {
				value, answered := got[want.What]
				if !answered || !(math.Abs(value-want.Value) <= want.Tolerance) {
					t.Errorf("%s: got %.7g (answered: %v), want %v ± %v\n%s [%s]\n%s", want.What, value, answered,
						want.Value, want.Tolerance, e.Source, e.Status, e.Note)
				}
			}
		})
	}
}

package quantity_test

import (
	"fmt"

	"meniscus/internal/quantity"
)

// An old card says "4 oz in 5 fl oz at 68 °F". What is that in grams,
// millilitres and degrees Celsius? An avoirdupois ounce is 28.349523125 g and a
// US fluid ounce 29.5735295625 mL, both by definition; 68 °F is 20 °C (NIST
// Special Publication 811, appendix B, recalled).
func Example_units() {
	for _, asked := range []struct {
		was quantity.Quantity
		in  quantity.Unit
	}{
		{quantity.New("4", "[oz_av]"), quantity.Gram},
		{quantity.New("5", "[foz_us]"), quantity.Millilitre},
		{quantity.New("68", "[degF]"), quantity.Celsius},
	} {
		exact, err := asked.was.Exact(asked.in)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(asked.was.Value, asked.was.Unit.Said(), "=", exact.FloatString(10), asked.in.Said())
	}
	// Output:
	// 4 oz = 113.3980925000 g
	// 5 US fl oz = 147.8676478125 mL
	// 68 °F = 20.0000000000 °C
}

// How well is the volume of a 100 mL flask known, and what limits it? Maker's
// limit ±0.1 mL (triangular), ±4 °C (rectangular) with an expansion of 2.1e-4
// per °C, repeatability 0.02 mL. EURACHEM/CITAC guide QUAM, example A1, prints
// u(V) = 0.0664730521840743 mL.
func ExamplePropagate() {
	flask := quantity.Quantity{Value: quantity.MustDecimal("100"), Unit: quantity.Millilitre,
		Uncertainty: quantity.HalfWidth(quantity.MustDecimal("0.1"), quantity.Triangular)}
	warmth := quantity.Quantity{Value: quantity.MustDecimal("20"), Unit: quantity.Celsius,
		Uncertainty: quantity.HalfWidth(quantity.MustDecimal("4"), quantity.Rectangular)}
	volume, _ := flask.Measured(quantity.Millilitre)
	temperature, _ := warmth.Measured(quantity.Celsius)
	got := quantity.Propagate([]quantity.Input{
		{Name: "the flask", Unit: quantity.Millilitre, Measured: volume},
		{Name: "the temperature", Unit: quantity.Celsius, Measured: temperature},
		{Name: "the repeatability", Unit: quantity.Millilitre, Measured: quantity.Measured{Standard: 0.02}},
	}, func(x []float64) float64 { return x[0]*(1+2.1e-4*(x[1]-20)) + x[2] })
	fmt.Printf("u(V) = %.12f mL\n", got.Standard)
	fmt.Println(got.Sentence(quantity.Millilitre))
	// Output:
	// u(V) = 0.066473052184 mL
	// 99.87 to 100.13 mL; the temperature matters most
}

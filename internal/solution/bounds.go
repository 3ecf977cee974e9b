package solution

import (
	"meniscus/internal/quantity"
)

// Ranges of amounts. The ends are far outside any bench or store room; they exclude
// typing errors and absurd numbers.
var (
	massSpan   = span{0, 1e6, true} // g: up to a tonne
	volumeSpan = span{0, 1e6, true} // mL: up to a cubic metre
	// celsiusSpan is where the densities against temperature hold.
	celsiusSpan = span{0, 40, false}
)

// merge adds an error to the faults.
func (c *checker) merge(pointer string, err error) {
	if rest := c.faults.Merge(pointer, err); rest != nil {
		c.faults.Add("not-computable", pointer, "This cannot be computed with these values.")
	}
}

// refuseSetting refuses to dilute a component that reacts or sets.
func (c *checker) refuseSetting(pointer string, component Component) {
	if component.Sets != "" {
		c.faults.Add("reacts", pointer,
			"%s %s: it is mixed in the maker's ratio and never diluted. Split an amount by that ratio instead.",
			capital(component.Name), component.Sets)
	}
}

// temperature reads the temperature at which volumes are measured; 20 °C if none is
// said.
func (c *checker) temperature(pointer string, q quantity.Quantity) float64 {
	return c.maybe(pointer, q, quantity.Celsius, celsiusSpan, referenceCelsius).Value
}

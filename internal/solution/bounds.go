package solution

import (
	"meniscus/internal/quantity"
)

// What amounts may be. The ends are far outside a bench and a store room; they keep
// slips of the pen and absurd numbers out.
var (
	massSpan   = span{0, 1e6, true} // g: up to a tonne
	volumeSpan = span{0, 1e6, true} // mL: up to a cubic metre
	// celsiusSpan is where the densities against temperature hold.
	celsiusSpan = span{0, 40, false}
)

// merge takes in an error that is a fault.
func (c *checker) merge(pointer string, err error) {
	if rest := c.faults.Merge(pointer, err); rest != nil {
		c.faults.Add("not-computable", pointer, "This cannot be computed with these values.")
	}
}

// refuseSetting refuses to dilute what reacts or sets.
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

package solution

import "meniscus/internal/quantity"

// Per100 makes a strength in g per 100 mL, for the tests.
func Per100(value string, basis Basis) Strength {
	return Strength{Basis: basis, Number: quantity.New(value, quantity.GramsPerDL)}
}

// PercentOf makes a mass, volume or as-supplied percentage, for the tests.
func PercentOf(value string, basis Basis) Strength {
	return Strength{Basis: basis, Number: quantity.New(value, quantity.Percent)}
}

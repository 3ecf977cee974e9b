// Package quantity holds the numbers of this service: a decimal with the digits
// that it was written with, a unit by its UCUM code, and an uncertainty.
//
// It promises that a decimal comes back as it was written ("20.00" stays
// "20.00"), that conversion between units is exact (rational arithmetic, rounded
// once to float64 at the end), and that no NaN and no infinity gets in. It also
// holds the law of propagation of uncertainty, which every computation uses.
//
// It does not know substances: grams and millilitres are different kinds here,
// and converting between them needs a density from the caller.
package quantity

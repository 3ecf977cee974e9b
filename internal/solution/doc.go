// Package solution computes what a preparator mixes and what comes of it:
// strengths, recipes, dilutions, blends, ethanol and water, vapour in a room,
// what went into a specimen, and what a container stands.
//
// It promises that every answer carries its uncertainty where its inputs have
// one, what it warns of, and where each number was read; that a mistake in the
// input comes back as a fault with a pointer and the allowed range; and that
// neither NaN nor infinity goes in or comes out.
//
// It is pure: no input or output, no clock, and no knowledge of materials of its
// own. The properties of a solvent or a resin are given to it as plain numbers
// with their sources; who asks looks them up.
//
// Masses are in grams, volumes in millilitres at 20 °C and temperatures in °C
// unless a name says otherwise.
package solution

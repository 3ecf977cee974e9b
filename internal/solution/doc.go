// Package solution computes mixtures and their effects: strengths, recipes,
// dilutions, blends, ethanol and water, vapour in a room, uptake by a specimen,
// and the resistance of a container.
//
// It promises that every answer carries its warnings, the source of each number,
// and its uncertainty where its inputs have one; that an invalid input comes back
// as a fault with a pointer and the allowed range; and that neither NaN nor
// infinity goes in or comes out.
//
// It is pure: no input or output, no clock, and no knowledge of materials of its
// own. The caller looks up the properties of a solvent or a resin and passes them
// as plain numbers with their sources.
//
// Masses are in grams, volumes in millilitres at 20 °C and temperatures in °C
// unless a name says otherwise.
package solution

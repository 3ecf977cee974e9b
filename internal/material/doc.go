// Package material is what the service knows of materials: resins, solvents,
// dispersions, waxes and fills, how they behave, what they stand in and what
// they do to people.
//
// Its tables lie in data/ and are built into the binary: one row holds one
// value from one source with one status. Load reads and checks every row; a row
// without a source, with a word that is not on the lists, or about a material
// that does not exist, does not load. Values that disagree stand side by side
// and are shown as such; nothing is averaged and nothing is invented.
//
// It promises: answers carry where they come from (a reader is given the
// citation, never the key); a Base never changes, so it may be shared; an
// institution's own materials lie over the built-in ones (With) and never change
// them.
//
// It does not: compute mixtures (package solution), judge layers (package
// stack), decide anything from solubility parameters, or replace the safety
// data sheet of a product, which comes first.
//
// Units are UCUM codes: densities g/mL, temperatures Cel, pressures kPa unless a
// name says otherwise. UCUM has no square root, so solubility parameters carry
// the annotation {MPa^0.5}.
package material

// Package label makes the label of a jar or bottle, and of a specimen or a sample:
// what it must say, how large it must be, and its picture as SVG and PDF.
//
// It takes what is on record of a batch and gives what the label says, in the
// order in which it matters at the bench, piece by piece: a small package has a
// piece for the container and a piece with the full label for a tie-on tag or the
// outer package. Sizes, letters and what a small package may leave out follow
// published rules, each named where it is applied; everything else is called
// common practice.
//
// It promises that nothing is cut: letters shrink to a stated least size, then
// the label grows, and both are said. It says what is not known, and invents
// nothing. The same facts give the same bytes.
//
// It does not classify mixtures: hazards are those of the substances, as if each
// were there alone. It is a label for use within an institution, and defers to
// the safety data sheet, local codes and licensed practice.
package label

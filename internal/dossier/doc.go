// Package dossier prepares records for publication: specimens and treatments for
// package publish, and the facts of a batch's label for package label.
//
// It promises that both use the same records: the caller keeps each record of a
// dossier as an Entry, with its words read, and then asks for a publication or a
// label. A record that is named and was not kept is named by its id.
//
// It fetches nothing: Missing lists the records that a dossier still needs.
package dossier

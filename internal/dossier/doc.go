// Package dossier makes what is published of records: specimens and treatments
// for package publish, and what a batch's label says for package label.
//
// It promises that both rest on one reading of the record: whoever reads the
// records of a dossier keeps each as an Entry, with its words read, and asks for
// what is wanted. A record that is named and was not kept is named by its id.
//
// It fetches nothing: what a dossier still misses, it tells.
package dossier

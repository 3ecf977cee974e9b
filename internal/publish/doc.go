// Package publish makes what the record gives to the outside: linked data
// (CIDOC CRM and PROV-O as JSON-LD), Darwin Core rows, pages and fragments for
// people, and the one line that a catalogue keeps in its preparations field.
//
// It promises: nothing here fetches anything; contexts, terms and styles are
// inside the binary. A date is never made more precise than it was written. A
// specimen without recorded treatments is never called untreated, and a material
// that was taken off is never called absent. A person whose name was erased has
// none here either. Every text is escaped for where it stands, and what is read
// from right to left does not turn what stands beside it.
//
// It decides nothing about the record and reads no database: a caller hands it
// what is to be published, with everything resolved that the record names.
package publish

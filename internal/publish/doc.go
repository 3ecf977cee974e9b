// Package publish renders records for publication: linked data (CIDOC CRM and
// PROV-O as JSON-LD), Darwin Core rows, pages and fragments for people, and the
// one line that a catalogue keeps in its preparations field.
//
// It promises: nothing here fetches anything; contexts, terms and styles are
// inside the binary. A date is never made more precise than it was written. A
// specimen without recorded treatments is never called untreated, and a material
// that was taken off is never called absent. An erased name is not published.
// Every text is escaped for its context, and right-to-left text does not reorder
// the text beside it.
//
// It makes no decisions about the record and reads no database: the caller passes
// what to publish, with everything resolved that the record names.
package publish

// Package statement reads the words of every kind of record, once, into the
// typed values of package record, and writes the words of a treatment that comes
// from an old card and not from a caller.
//
// It promises that there is one reading: what is checked, looked up, projected,
// layered, counted, printed and published of a statement is what this package
// made of it. It reads a new statement and a recorded one alike: what a
// statement cannot mean is listed as faults beside the value, and whether they
// matter is the caller's to say. A statement whose words are gone and one that
// cannot be read are two results (see Entry).
//
// It looks nothing up, and knows nothing of HTTP or of the database.
package statement

// Package statement reads the words (JSON) of every kind of record into the typed
// values of package record, and writes the words of treatments from old cards.
//
// Every other package uses this reading of a statement, whether it checks, looks up,
// projects, layers, counts, prints or publishes. It reads new and recorded statements
// alike: validation errors are listed as faults beside the value, and the caller
// decides whether they matter. A redacted statement and an unreadable one are two
// different results (see Entry).
//
// It looks nothing up, and is independent of HTTP and of the database.
package statement

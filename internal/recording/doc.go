// Package recording makes entries of statements, and projections of entries. A
// new statement is read, checked, and what it names is looked up in one round
// trip; an entry that was recorded before is projected as it was then. Rows about
// batches become a book of package stock, and those about own materials lie over
// the built-in ones. It knows nothing of HTTP.
package recording

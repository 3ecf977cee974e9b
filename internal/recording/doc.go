// Package recording makes entries of statements, and projections of entries. A new
// statement is read and checked, and its references are looked up in one round trip; an
// entry that was recorded before is projected as it was then. Rows about batches become
// a book of package stock, and an institution's own materials override the built-in
// ones. The package is independent of HTTP.
package recording

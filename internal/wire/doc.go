// Package wire is JSON as the contract spells it: a text is judged by a schema
// of the contract, read into a wire type, and written. It knows nothing of how a
// text travels.
package wire

// Package wire is the contract's JSON: it validates a text by a schema of the contract,
// decodes it into a wire type, and encodes wire types. It is independent of the
// transport.
package wire

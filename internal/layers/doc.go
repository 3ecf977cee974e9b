// Package layers prepares what was recorded of a specimen for package stack: it reads
// statements as the core's own values, follows batches to what was in them, and loads
// the specimen's history from the store.
//
// Nothing recorded is left out and nothing is added: what a statement leaves open stays
// unknown. A treatment whose words were redacted stays a treatment, with everything
// about it unknown.
//
// Conclusions are left to package stack.
package layers

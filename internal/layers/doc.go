// Package layers brings what was recorded of a specimen to package stack: it
// reads statements as the core's own values, follows batches to what was in
// them, and loads the specimen's history from the store.
//
// It promises that nothing recorded is left out and nothing is added: what a
// statement leaves open stays unknown. A statement whose words were redacted is
// a treatment of which nothing is known, and never none.
//
// It judges nothing; that is package stack's.
package layers

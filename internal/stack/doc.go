// Package stack says what lies on a specimen, in which order, how sure that is,
// what a further treatment would do to it, and in which order it could come
// off again.
//
// It promises that unknown, none and not examined stay three answers: a thing
// without a record is never reported as absent, a removal leaves a layer
// reduced and never gone, and a verdict without a published source is a
// warning and never an all-clear. Every finding names its rule, the layers
// concerned, one sentence of reason, a remedy and the source. The order in
// which records are given does not change an answer.
//
// It does no I/O, reads no clock and knows no wire format. What is known of
// materials is handed to it as Knowledge; the specimen and its treatments are
// handed to it as they were recorded, with dates as bounds.
//
// The answers defer: the product's safety data sheet, local codes and licensed
// practice come before anything that is computed here.
package stack

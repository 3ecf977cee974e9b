// Package record holds the kinds of record (specimens, supplies, batches,
// treatments, people), their fields, and the rules that each must meet.
//
// It promises that what happened is never refused because it should not have
// happened: only what cannot be understood is a fault, and everything else is a
// finding. It keeps unknown, none and not examined apart from each other and
// from what was not answered.
//
// It does no I/O, reads no clock, makes no ids of its own, and knows neither the
// wire nor the tables.
package record

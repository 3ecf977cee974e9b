// Package demo holds an invented museum: its people, supplies, jars, bottles,
// six specimens and the treatments of many years, awkward cases among them. No
// person, museum or specimen in it is real.
package demo

import _ "embed"

// Museum is a request a line, in the order in which they are sent:
// {"path": …, "body": …}. Every record has an id of its own choosing, so that
// sending them again changes nothing.
//
//go:embed museum.jsonl
var Museum []byte

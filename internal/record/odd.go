package record

import (
	"cmp"
	"fmt"
	"slices"

	"meniscus/internal/edtf"
)

// A Finding is something odd that a statement says and that can be found without
// the layers. The statement is still recorded.
type Finding struct {
	Rule     string
	Severity Severity
	Records  []Ref // the other records concerned
	Sentence string
	Remedy   string
}

// Severity is how much a finding asks for; none of these blocks.
type Severity string

// The severities.
const (
	Warn Severity = "warn"
	Info Severity = "info"
)

// The rules that say that nothing on record of a specimen was checked.
const (
	NumberNearlyKnown = "number-nearly-known"
	NumberNotKnown    = "number-not-known"
)

// Known is what is on record of what a statement names, and what day it is.
type Known struct {
	Today     edtf.Day
	Supplies  map[Ref]*Supply
	Batches   map[Ref]*Batch
	Specimens map[Ref]*Specimen
	// Twins are treatments on record that say the same of the same specimen.
	Twins []Ref
}

// Odd gives the findings on a statement. Only certain ones are given: a date that
// may be before or after the other gives none.
func Odd(v Value, on Known) []Finding {
	o := oddities{Known: on}
	switch v := v.(type) {
	case *Treatment:
		o.treatment(v)
		o.future(v.Date, "It is dated in the future.", "Record a plan for what is still to be done, or amend the date.")
	case *Plan:
		o.treatment(&v.Treatment)
	case *Batch:
		o.future(v.Made, "It is said to be made in the future.", "Amend the date.")
		for _, in := range v.Inputs.Value {
			o.used(in.Used, v.Made, "made")
		}
	case *AmountChange:
		o.future(v.Date, "It is dated in the future.", "Amend the date.")
		o.batch(v.Batch, v.Date, "changed")
		if v.With != nil {
			o.used(*v.With, v.Date, "topped up")
		}
	case *Supply:
		o.future(v.Received, "It is said to be received in the future.", "Amend the date.")
		o.expired(Ref{}, "supply", v.Expires, v.Received, "received")
	}
	slices.SortStableFunc(o.found, func(a, b Finding) int { return cmp.Compare(b.Severity, a.Severity) }) // warn first
	return o.found
}

// NamedBy are the records that have to be known before Odd is asked.
func NamedBy(v Value) (supplies, batches, specimens []Ref) {
	used := func(u Used) {
		supplies, batches = append(supplies, u.Supply), append(batches, u.Batch)
	}
	treatment := func(t *Treatment) {
		specimens = append(specimens, t.Specimen, t.JoinedTo)
		for _, u := range t.Uses.Value {
			used(u.Used)
		}
	}
	switch v := v.(type) {
	case *Treatment:
		treatment(v)
	case *Plan:
		treatment(&v.Treatment)
	case *Batch:
		for _, in := range v.Inputs.Value {
			used(in.Used)
		}
	case *AmountChange:
		batches = append(batches, v.Batch)
		if v.With != nil {
			used(*v.With)
		}
	}
	named := func(refs []Ref) []Ref {
		slices.SortFunc(refs, func(a, b Ref) int { return slices.Compare(a[:], b[:]) })
		return slices.DeleteFunc(slices.Compact(refs), func(r Ref) bool { return r == Ref{} })
	}
	return named(supplies), named(batches), named(specimens)
}

// oddities gathers findings without duplicates.
type oddities struct {
	Known
	found []Finding
}

func (o *oddities) add(f Finding) {
	same := func(g Finding) bool { return g.Rule == f.Rule && slices.Equal(g.Records, f.Records) }
	if !slices.ContainsFunc(o.found, same) {
		o.found = append(o.found, f)
	}
}

func (o *oddities) treatment(t *Treatment) {
	for _, u := range t.Uses.Value {
		o.used(u.Used, t.Date, "used")
	}
	for _, specimen := range []Ref{t.Specimen, t.JoinedTo} {
		if s := o.Specimens[specimen]; s != nil && s.PassedOn != nil {
			o.gone(specimen, *s.PassedOn, t.Date)
		}
	}
	if len(o.Twins) > 0 {
		o.add(Finding{"treatment-said-twice", Warn, o.Twins,
			"A treatment that says the same of the same specimen is on record already.",
			"Retract one of them if they are one treatment; nothing is to be done if it was done twice."})
	}
}

// future reports a date that has certainly not come yet. The institution's local day
// may be a day ahead.
func (o *oddities) future(date Date, sentence, remedy string) {
	if !date.Value.IsZero() && date.Value.NotBefore(o.Today.AddDays(2)) {
		o.add(Finding{"date-in-future", Warn, nil, sentence, remedy})
	}
}

// used looks at what was used or went in on a date.
func (o *oddities) used(u Used, on Date, how string) {
	o.batch(u.Batch, on, how)
	if s := o.Supplies[u.Supply]; s != nil {
		o.expired(u.Supply, "supply", s.Expires, on, how)
		if certainlyBefore(on, s.Received) {
			o.add(Finding{"supply-not-yet-received", Warn, []Ref{u.Supply},
				fmt.Sprintf("A supply was %s (%s) before it was received (%s).", how, on.Value.Words(), s.Received.Value.Words()),
				"Amend the date that is wrong, or name the supply that it was."})
		}
	}
}

func (o *oddities) batch(id Ref, on Date, how string) {
	b := o.Batches[id]
	if b == nil {
		return
	}
	o.expired(id, "batch", b.Expires, on, how)
	if how != "changed" { // what becomes of an old batch is its own matter
		o.old(id, b, on, how)
	}
	if !certainlyBefore(on, b.Made) {
		return
	}
	f := Finding{"batch-not-yet-made", Warn, []Ref{id},
		fmt.Sprintf("A batch was %s (%s) before it was made (%s).", how, on.Value.Words(), b.Made.Value.Words()),
		"Amend the date that is wrong, or name the batch that it was."}
	if b.Type == "bottle" {
		f.Rule = "bottle-not-yet-filled"
		f.Sentence = fmt.Sprintf("A bottle was %s (%s) before it was filled (%s).",
			how, on.Value.Words(), b.Made.Value.Words())
		f.Remedy = "Amend the date that is wrong, or name the bottle that it was."
	}
	o.add(f)
}

// keepsDays is how long a batch without a date of expiry is taken as it was made. Common
// practice: solvent leaves through caps and walls.
const keepsDays = 366

// old looks at a batch that is not said to expire.
func (o *oddities) old(id Ref, b *Batch, on Date, how string) {
	made, then := b.Made.Value, on.Value
	if b.Expires.Answered() || made.IsZero() || then.IsZero() {
		return
	}
	if last, first := made.Period().To, then.Period().From; last.IsZero() || first.IsZero() ||
		first.Compare(last.AddDays(keepsDays)) <= 0 {
		return
	}
	o.add(Finding{"batch-old", Info, []Ref{id},
		fmt.Sprintf("The batch was made (%s) more than a year before it was %s (%s), and nothing says how long it keeps: "+
			"it thickens as solvent leaves.", made.Words(), how, then.Words()),
		"Check its strength, or make it anew where it matters; record until when the batch keeps."})
}

// expired looks at a supply or a batch; the zero id is the one that is stated.
func (o *oddities) expired(id Ref, what string, expiry, on Date, how string) {
	if !certainlyBefore(expiry, on) {
		return
	}
	f := Finding{what + "-expired", Warn, nil,
		fmt.Sprintf("The %s had expired (%s) when it was %s (%s).", what, expiry.Value.Words(), how, on.Value.Words()),
		"Look whether it can be relied on, and make it anew where it matters; amend the date that is wrong if one is."}
	if id != (Ref{}) {
		f.Records = []Ref{id}
	}
	o.add(f)
}

// gone looks at a specimen that another museum has. What was done before it left is
// its history.
func (o *oddities) gone(specimen Ref, went PassedOn, on Date) {
	f := Finding{"specimen-passed-on", Warn, []Ref{specimen},
		fmt.Sprintf("The specimen was passed on to %s before that.", went.To),
		"Record it where the specimen is now, or amend the date that is wrong."}
	switch {
	case on.Value.IsZero() || went.Date.Value.IsZero():
		f.Severity, f.Sentence = Info, fmt.Sprintf("The specimen was passed on to %s; this may be of later.", went.To)
	case !certainlyBefore(went.Date, on):
		return
	}
	o.add(f)
}

// certainlyBefore tells that a was over before b began, as far as both are known.
func certainlyBefore(a, b Date) bool {
	return !a.Value.IsZero() && !b.Value.IsZero() && a.Value.Period().EndsBefore(b.Value.Period())
}

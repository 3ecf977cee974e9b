// Package calculation reads what a computation is asked, in the words of the
// contract, into the questions of package solution, and writes what those come to
// in the words of the contract.
//
// It promises that everything that is wrong in what was asked is told at once,
// with pointers into it. What is known of materials is handed in. It knows nothing
// of HTTP and of what is stored.
package calculation

import (
	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// Computation answers a request in as much detail as was asked; what is wrong with the
// request is a fault.
type Computation[Request, Answer any] func(known *material.Base, asked Request, detail api.Detail) (Answer, error)

// writer writes answers: in brief, or in full, with what they were worked out from.
type writer struct {
	full  bool
	known *material.Base
	// named are the materials, containers and treatments that were asked about.
	named []string
	// cited are the sources of what the caller named, beside those of the answer.
	cited []solution.Source
	// averaged says what readings came to.
	averaged []solution.Warning
}

// computation makes a computation from its three steps: read the request, work it out,
// write the answer.
func computation[Request, Question, Found, Answer any](
	read func(*reader, Request) Question, work func(Question) (Found, error), write func(writer, Found) Answer,
) Computation[Request, Answer] {
	return func(known *material.Base, asked Request, detail api.Detail) (answer Answer, err error) {
		r := &reader{Lookup: substance.Lookup{Base: known}, brief: detail != api.Full}
		question := read(r, asked)
		if err := r.Faults.Err(); err != nil {
			return answer, worded(err)
		}
		found, err := work(question)
		if err != nil {
			return answer, worded(err)
		}
		w := writer{full: !r.brief, known: known, named: r.Named, cited: r.cited,
			averaged: r.averaged}
		if answer = write(w, found); !w.full {
			InBrief(&answer)
		}
		return answer, nil
	}
}

// below puts the pointer to a question before the pointers of its faults.
func below[Question, Found any](at string, work func(Question) (Found, error)) func(Question) (Found, error) {
	return func(q Question) (Found, error) {
		found, err := work(q)
		var list fault.List
		if internal := list.Merge(at, err); internal != nil {
			return found, internal
		}
		return found, list.Err()
	}
}

// worded puts the readings and the reach that a computation's faults carry into the words
// of the contract.
func worded(err error) error {
	list := fault.From(err)
	for i, f := range list {
		if f.Extra == nil {
			continue
		}
		g := f.At("")
		g.Extra = map[string]any{}
		for name, value := range f.Extra {
			switch v := value.(type) {
			case []solution.Reading:
				g.Extra[name] = each(v, reading)
			case solution.Reach:
				g.Extra[name] = *reach(&v)
			default:
				g.Extra[name] = v
			}
		}
		list[i] = g
	}
	if len(list) == 0 {
		return err
	}
	return list
}

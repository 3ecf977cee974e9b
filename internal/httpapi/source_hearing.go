package httpapi

import (
	"context"
	"fmt"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/statement"
)

// toldOfSources bounds the problems in an answer to many statements of sources, in
// bytes: beyond it a conflict says where the record is, and a refusal its first fault.
const toldOfSources = 4 << 20

// heardTogether is how many statements of sources are recorded in one turn.
const heardTogether = 50

// A hearing is the work of stateSourceRecords: each statement is recorded or refused by
// itself.
type hearing struct {
	server   *Server
	call     *requestContext
	author   recording.Author
	standing map[postgres.SourceKey]postgres.SourceStanding // before the first
	changed  map[postgres.SourceKey]bool                    // by an earlier item
	told     int                                            // bytes of problems
	items    []sourceOutcome
	counts   map[recording.Outcome]int
}

// sourceItem is api.SourceItem with its statement as it was sent.
type sourceItem struct {
	Kind         record.Kind       `json:"kind"`
	Source       api.Source        `json:"source"`
	IfMatch      string            `json:"ifMatch"`
	DistinctFrom *api.DistinctFrom `json:"distinctFrom"`
	Reason       string            `json:"reason"`
	Record       *recordRef        `json:"record"`
	Statement    jsontext.Value    `json:"statement"`
}

func (i sourceItem) key() postgres.SourceKey {
	return postgres.SourceKey{Kind: i.Kind, Source: record.Source{System: i.Source.System, RecordID: i.Source.RecordId}}
}

// sourceOutcome is api.SourceOutcome with its problem as it is answered.
type sourceOutcome struct {
	Outcome recording.Outcome  `json:"outcome"`
	Record  *api.RecordAddress `json:"record,omitempty"`
	beside
	Problem jsontext.Value `json:"problem,omitempty"`
}

// refused is the outcome of a statement that has a fault.
const refused recording.Outcome = "refused"

// stateSourceRecords records how many records of sources stand now. How they stand here
// is read at once; what is to be recorded is written one by one.
func stateSourceRecords(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[struct {
		Items []sourceItem `json:"items"`
	}](c)
	if err != nil {
		return nil, err
	}
	keys := make([]postgres.SourceKey, len(request.Items))
	for i, item := range request.Items {
		keys[i] = item.key()
		if err := c.mayWrite(item.Kind); err != nil {
			return nil, err
		}
	}
	h := &hearing{server: s, call: c, author: c.author(), changed: map[postgres.SourceKey]bool{},
		counts: map[recording.Outcome]int{
			recording.Made: 0, recording.Unchanged: 0, recording.Amended: 0, recording.Adopted: 0,
			recording.Conflict: 0, refused: 0}}
	h.rememberMaterials()
	if h.standing, err = c.tenant().SourceStandings(c.ctx(), keys); err != nil {
		return nil, err
	}
	for first := 0; first < len(request.Items); first += heardTogether {
		if err := c.inTurn(c.ctx(), func() error { return h.some(request.Items, first) }); err != nil {
			return nil, err
		}
	}
	return ok(map[string]any{"items": h.items, "counts": h.counts})
}

// some records the next items, and tells what is odd about the new records among them.
func (h *hearing) some(items []sourceItem, first int) error {
	if h.server.draining() {
		return fault.Of(fault.Unavailable, "service-ending",
			"The service is ending; send the same again in a moment: what is recorded already is unchanged then.")
	}
	var made []int
	var said []recording.Saying
	for i := first; i < min(first+heardTogether, len(items)); i++ {
		first, err := h.item(fmt.Sprintf("/items/%d", i), items[i])
		if err != nil {
			return err
		}
		if first != nil && h.told <= toldOfSources {
			made, said = append(made, i), append(said, *first)
		}
	}
	told, err := h.server.beside(h.call, said...)
	for i := range told {
		h.items[made[i]].beside = told[i]
		h.told += told[i].bytes()
	}
	return err
}

// rememberMaterials makes the items share one reading of the materials. It is called
// again after an item states a material.
func (h *hearing) rememberMaterials() {
	var known *material.Base
	h.author.Materials = func(context.Context) (base *material.Base, err error) {
		if known == nil {
			known, err = h.server.knowledge(h.call)
		}
		return known, err
	}
}

// item records what one statement says. A failure that is not the item's own ends the
// request: the items before it stay recorded, and are unchanged when they are sent again.
func (h *hearing) item(at string, item sourceItem) (first *recording.Saying, err error) {
	heard, err := h.hear(item)
	if err != nil {
		found := fault.From(under(at+"/statement", h.server.withRecord(h.call, err)))
		if len(found) == 0 || found[0].Kind == fault.Unavailable {
			return nil, err
		}
		h.refuse(found)
		return nil, nil
	}
	h.counts[heard.Outcome]++
	address := h.server.standsAt(heard.Row)
	out := sourceOutcome{Outcome: heard.Outcome, Record: &address}
	switch heard.Outcome {
	case recording.Conflict:
		if out.Problem, err = h.conflict(heard.Row, item.Statement); err != nil {
			return nil, err
		}
	case recording.Made, recording.Amended, recording.Adopted:
		h.changed[item.key()] = true
		if item.Kind == record.KindMaterial {
			h.rememberMaterials()
		}
		if h.told <= toldOfSources {
			if out.beside, err = h.server.amendedBy(h.call, heard); err != nil {
				return nil, err
			}
			h.told += out.bytes()
		}
	}
	h.items = append(h.items, out)
	return heard.First, nil
}

func (h *hearing) hear(item sourceItem) (recording.Heard, error) {
	said := recording.Says{SourceKey: item.key(), Words: item.Statement, Reason: item.Reason,
		DistinctFrom: statement.IDs(item.DistinctFrom), Record: item.Record.id(), Read: reads(item.IfMatch)}
	if err := judgeSaid(h.call, said); err != nil {
		return recording.Heard{}, err
	}
	standing := standingIn(h.standing, said.SourceKey)
	if h.changed[said.SourceKey] {
		now, err := h.author.Store.SourceStanding(h.call.ctx(), said.SourceKey)
		if err != nil {
			return recording.Heard{}, err
		}
		standing = &now
	}
	return h.author.Hear(h.call.ctx(), said, standing)
}

// refuse tells the faults of an item.
func (h *hearing) refuse(found fault.List) {
	if h.told > toldOfSources {
		found = found[:1]
	}
	h.counts[refused]++
	h.items = append(h.items, sourceOutcome{Outcome: refused, Problem: h.problem(found)})
}

// conflict is the problem of a record that differs from its source, with both versions
// where there is room.
func (h *hearing) conflict(row postgres.Row, said []byte) (jsontext.Value, error) {
	address := h.server.standsAt(row)
	if h.told > toldOfSources {
		f := sourceConflict(row, said)
		f.Extra = map[string]any{"record": address}
		return h.problem(f), nil
	}
	stands, err := h.server.current(h.call, row.Record)
	if err != nil {
		return nil, err
	}
	f := sourceConflict(stands, said)
	f.Extra["record"] = address
	return h.problem(f), nil
}

func (h *hearing) problem(of error) jsontext.Value {
	problem := h.server.problem(h.call.requestID, of).body
	h.told += len(problem)
	return problem
}

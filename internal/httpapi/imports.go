package httpapi

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/cardimport"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/wire"
)

// createImport keeps what the columns mean; the cards follow.
func createImport(s *Server, c *call) (*answer, error) {
	request, err := decode[api.ImportRequest](c)
	if err != nil {
		return nil, err
	}
	key, err := c.requestKey()
	if err != nil {
		return nil, err
	}
	if key == nil {
		return nil, fault.Of(fault.Malformed, "idempotency-key-missing", "Send an Idempotency-Key, so that sending it twice begins one import.")
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	faults := checkReadings(base, deref(request.Mapping.Materials))
	if err := faults.Merge("/mapping", mappingOf(request.Mapping).Check()); err != nil {
		return nil, err
	}
	if len(faults) > 0 {
		return nil, faults
	}
	mapping, err := wire.Encode(request.Mapping)
	if err != nil {
		return nil, err
	}
	made, replayed, err := c.tenant().CreateImport(c.ctx(), c.author().Write(key), postgres.Import{
		ID: newRequestID(), Name: request.Name, DryRun: request.DryRun, Format: string(request.Mapping.Format), Mapping: string(mapping)})
	if err != nil {
		return nil, err
	}
	a, err := with(http.StatusCreated, importOf(made))
	if err != nil {
		return nil, err
	}
	a.setHeader("Location", "/v1/imports/"+made.ID.String())
	return a.saidBefore(replayed), nil
}

// checkReadings tells which of the materials that words are said to mean nobody
// knows.
func checkReadings(base *material.Base, readings []api.CardMaterial) fault.List {
	var faults fault.List
	check := func(id, pointer string) {
		if _, known := base.Material(id); !known {
			faults.Add("material-unknown", pointer, "There is no material with this id; /v1/materials lists them.")
		}
	}
	for i, r := range readings {
		pointer := fmt.Sprintf("/mapping/materials/%d", i)
		if r.Material != nil {
			check(*r.Material, pointer+"/material")
		}
		for j, candidate := range deref(r.Candidates) {
			check(candidate, fmt.Sprintf("%s/candidates/%d", pointer, j))
		}
	}
	return faults
}

// cardsAtWork refuses the cards of an import whose cards somebody else sends.
func cardsAtWork(c *call) error {
	id, err := uuid.Parse(c.echo.Param("importId"))
	if err != nil {
		return nil // the path is judged with the query
	}
	i, err := c.tenant().Import(c.ctx(), id)
	if err == nil && i.State == "running" {
		err = postgres.ErrImportAtWork
	}
	return err
}

func readImport(s *Server, c *call) (*answer, error) {
	i, err := c.tenant().Import(c.ctx(), c.id("importId"))
	if err != nil {
		return nil, err
	}
	return ok(importOf(i))
}

func listImports(s *Server, c *call) (*answer, error) {
	after, err := c.cursor()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	found, err := c.tenant().Imports(c.ctx(), after, limit+1)
	if err != nil {
		return nil, err
	}
	list := api.ImportList{Items: []api.Import{}}
	for _, i := range found[:min(len(found), limit)] {
		list.Items = append(list.Items, importOf(i))
	}
	if len(found) > limit {
		return c.continued(list, &list.Next, idCursor(found[limit-1].ID))
	}
	return ok(list)
}

// continued answers with a list that goes on at a cursor; next is the list's own
// member.
func (c *call) continued(list any, next **api.Next, cursor string) (*answer, error) {
	n := c.next(cursor)
	*next = &api.Next{Cursor: n.cursor, Href: n.href}
	a, err := ok(list)
	if err == nil {
		a.setHeader("Link", "<"+n.href+`>; rel="next"`)
	}
	return a, err
}

func listImportLines(s *Server, c *call) (*answer, error) {
	id := c.id("importId")
	if _, err := c.tenant().Import(c.ctx(), id); err != nil {
		return nil, err
	}
	after, err := c.placeCursor()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	found, err := c.tenant().ImportLines(c.ctx(), id, c.text("outcome"), after, limit+1)
	if err != nil {
		return nil, err
	}
	list := api.ImportLineList{Items: []api.ImportLine{}}
	for _, l := range found[:min(len(found), limit)] {
		list.Items = append(list.Items, importLineOf(l))
	}
	if len(found) > limit {
		last := binary.BigEndian.AppendUint64(nil, uint64(found[limit-1].Line))
		return c.continued(&list, &list.Next, base64.RawURLEncoding.EncodeToString(last))
	}
	return ok(list)
}

func importOf(i postgres.Import) api.Import {
	return api.Import{
		Id: i.ID, Name: i.Name, DryRun: i.DryRun, Format: api.ImportFormat(i.Format), State: api.ImportState(i.State),
		CreatedAt: i.CreatedAt, FinishedAt: i.FinishedAt, Position: i.Position,
		Lines: api.ImportLines{Read: i.Read, Taken: i.Taken, Replayed: i.Replayed, Doubtful: i.Doubtful, Refused: i.Refused},
	}
}

func importLineOf(l postgres.ImportLine) api.ImportLine {
	out := api.ImportLine{Line: l.Line, Outcome: api.ImportLineOutcome(l.Outcome), Raw: l.Raw, Treatment: l.Treatment,
		Reasons: []api.ImportReason{}, Doubts: []api.ImportReason{}}
	_ = json.Unmarshal([]byte(l.Reasons), &out.Reasons) // written by this program
	_ = json.Unmarshal([]byte(l.Doubts), &out.Doubts)
	return out
}

// mappingOf is the contract's mapping as the core takes it.
func mappingOf(m api.CardMapping) cardimport.Mapping {
	out := cardimport.Mapping{
		Format: cardimport.Format(m.Format), Encoding: string(deref(m.Encoding)),
		Separator:   map[api.CardMappingSeparator]byte{"semicolon": ';', "tab": '\t'}[deref(m.Separator)],
		CenturyFrom: int(deref(m.CenturyFrom)), KeepUnreadableDates: deref(m.UnreadableDates) == "unknown",
		StrengthBasis: string(deref(m.StrengthBasis)), ListSeparator: deref(m.ListSeparator),
		Constants: map[cardimport.Field]string{}, Actions: map[string]string{}, Methods: map[string]string{},
	}
	for _, column := range m.Columns {
		out.Columns = append(out.Columns, cardimport.Column{Name: column.Name, Field: cardimport.Field(column.Field), NumberKind: string(deref(column.NumberKind))})
	}
	for _, constant := range deref(m.Constants) {
		out.Constants[cardimport.Field(constant.Field)] = constant.Value
	}
	for _, form := range deref(m.Dates) {
		out.Dates = append(out.Dates, cardimport.DateForm(form))
	}
	for _, r := range deref(m.Materials) {
		out.Materials = append(out.Materials, cardimport.Reading{Words: r.Words, Material: deref(r.Material), Candidates: deref(r.Candidates),
			Certainty: string(deref(r.Certainty)), AnalysedBy: deref(r.AnalysedBy)})
	}
	for _, a := range deref(m.Actions) {
		out.Actions[a.Words] = string(a.Action)
	}
	for _, way := range deref(m.Methods) {
		out.Methods[way.Words] = string(way.Method)
	}
	return out
}

// cardSource is the identity of a card within its import's name: the card's own
// id, or a digest of the line.
func cardSource(id string, raw string) string {
	if id != "" {
		return id
	}
	return "line-" + contentTag([]byte(raw))[1:25]
}

// idOrNil is an id as the contract leaves it out.
func idOrNil(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

package views

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/record"
	"meniscus/internal/stock"
)

// How much a lineage and a trace list at most; the counts are of all of it, and
// the answer says where a list is cut.
const (
	mostNodes   = 10_000
	mostCircles = 100
	mostTouched = 50_000
	mostRecords = 500 // of one cycle
)

// Read is how much was read of what there is: all, or how many batches lie beyond.
type Read struct {
	Whole bool
	More  int
}

// StockNode is what is on record of a supply or batch.
type StockNode struct {
	Kind           string
	Code, Material *string
}

// Lineage is what a batch was made from and into.
func Lineage(batch uuid.UUID, found stock.Lineage, nodes map[uuid.UUID]StockNode, read Read) api.Lineage {
	node := func(n stock.Node) api.LineageNode {
		of := nodes[uuid.MustParse(n.ID)]
		return api.LineageNode{
			Id: uuid.MustParse(n.ID), Kind: api.LineageNodeKind(of.Kind), Code: deref(of.Code), Material: of.Material,
			Depth: int32(n.Depth),
		}
	}
	cut := !read.Whole
	out := api.Lineage{
		Batch:    api.Ref(batch),
		MadeFrom: each(listed(&cut, found.MadeFrom, mostNodes), node),
		MadeInto: each(listed(&cut, found.MadeInto, mostNodes), node),
		Links: each(found.Links, func(l stock.Link) api.LineageLink {
			return api.LineageLink{From: refOf(l.From), Into: refOf(l.Into)}
		}),
		Findings:    each(listed(&cut, found.Findings, mostCircles), lineageFinding),
		MoreBatches: count(read.More),
	}
	out.Complete = !cut
	return out
}

func lineageFinding(f stock.Finding) api.Finding {
	out := stockFinding(f)
	out.Records = listOrNone(refsOf(f.Of[:min(len(f.Of), mostRecords)]))
	return out
}

// Touched is what is on record of a treatment that something was used in.
type Touched struct {
	Specimen uuid.UUID
	Parts    []uuid.UUID // of the specimen, which inherited the treatment
	Number   *string
	Action   string
	Date     record.Date
}

// WhereUsed is where a supply or a batch was used, and may have been. ask reads what is
// on record of the treatments that are listed.
func WhereUsed(
	of uuid.UUID, found stock.WhereUsed, read Read, ask func([]uuid.UUID) (map[uuid.UUID]Touched, error),
) (out api.WhereUsed, err error) {
	out.Of = api.Ref(of)
	out.Counts.Certain, out.Counts.Possible = int64(len(found.Certain)), int64(len(found.Possible))
	out.Counts.CannotBeExcluded = int64(len(found.CannotBeExcluded))
	cut := found.WaysCut || !read.Whole
	for _, list := range []*[]stock.Trace{&found.Certain, &found.Possible, &found.CannotBeExcluded} {
		*list = listed(&cut, *list, mostTouched)
	}
	out.Complete, out.MoreBatches = !cut, count(read.More)
	all := slices.Concat(found.Certain, found.Possible, found.CannotBeExcluded)
	touched, err := ask(each(all, func(t stock.Trace) uuid.UUID { return uuid.MustParse(t.Treatment) }))
	if err != nil {
		return out, err
	}
	row := func(t stock.Trace) api.WhereUsedRow { return whereUsedRow(touched[uuid.MustParse(t.Treatment)], t) }
	out.Certain, out.Possible = each(found.Certain, row), each(found.Possible, row)
	out.CannotBeExcluded = each(found.CannotBeExcluded, row)
	return out, nil
}

func whereUsedRow(t Touched, trace stock.Trace) api.WhereUsedRow {
	return api.WhereUsedRow{
		Treatment: refOf(trace.Treatment), Specimen: api.Ref(t.Specimen), Number: t.Number, Action: api.Action(t.Action),
		Because: &trace.Because, Dates: dateSaid(t.Date), Parts: listOrNone(api.Refs(t.Parts)),
		Through: listOrNone(refsOf(trace.Through)),
	}
}

// dateSaid is a date as its statement has it.
func dateSaid(d record.Date) api.AnswerableDate {
	if !d.Given {
		return api.AnswerableDate{Answer: (*api.Answer)(said(d.Answer))}
	}
	return api.AnswerableDate{Edtf: said(d.Value.String())}
}

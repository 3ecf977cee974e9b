package httpapi

import (
	"fmt"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
)

// treatment is a treatment as it is published; told are the batches that the
// document tells of already.
func (d *dossier) treatment(row postgres.Row, told map[uuid.UUID]bool) publish.Treatment {
	t := publish.Treatment{IRI: d.base.Treatment(row.Record), Revision: d.revision(row)}
	st, ok := d.statements[row.Record].(*api.TreatmentStatement)
	if !ok {
		return t
	}
	t.Specimen = d.specimenLink(deref(st.Specimen.Id))
	if st.JoinedTo != nil {
		joined := d.specimenLink(deref(st.JoinedTo.Id))
		t.JoinedTo = &joined
	}
	t.Action, t.Method, t.Coats = string(st.Action), string(deref(st.Method)), int(deref(st.Coats))
	t.Areas, t.AreasAnswer = deref(st.Areas.Paths), string(deref(st.Areas.Answer))
	t.Date, t.Started, t.Ended = dateOf(&st.Dates), st.Started, st.Ended
	t.NothingUsed = st.Materials != nil && len(*st.Materials) == 0
	for _, use := range deref(st.Materials) {
		t.Uses = append(t.Uses, d.use(use, row.Record.String()))
	}
	t.People = d.involvements(deref(st.People))
	t.BatchesBelow = d.batchesBelow(deref(st.Materials), told)
	if st.Plan != nil {
		t.Plan = d.base.Plan(*st.Plan)
	}
	d.results(&t, st)
	t.Notes = notesOf(st)
	t.Fields = publish.Fields(statementOf(row.Body), d.names)
	return t
}

// results are what a removal, an examination or a test came to.
func (d *dossier) results(t *publish.Treatment, st *api.TreatmentStatement) {
	if st.Removal != nil {
		t.Left = string(st.Removal.Left)
		for _, id := range st.Removal.Treatments {
			t.Removes = append(t.Removes, d.base.Treatment(id))
		}
	}
	if st.Examination != nil {
		t.Outcome = string(st.Examination.Outcome)
	}
	if st.Test != nil {
		t.Observed, t.TestedWith = string(st.Test.Observed), deref(st.Test.Reagent)
		if st.Test.Solvent != nil {
			t.TestedWith = d.materialLink(*st.Test.Solvent).Label
		}
	}
}

func notesOf(st *api.TreatmentStatement) []publish.Note {
	var notes []publish.Note
	for _, n := range []publish.Note{
		{Kind: "purpose", Content: textOf(st.Purpose)},
		{Kind: "condition-before", Content: textOf(st.ConditionBefore)},
		{Kind: "condition-after", Content: textOf(st.ConditionAfter)},
		{Kind: "remarks", Content: deref(st.Remarks)},
	} {
		if n.Content != "" {
			notes = append(notes, n)
		}
	}
	return notes
}

func (d *dossier) use(use api.TreatmentUse, treatment string) publish.Use {
	out := publish.Use{Role: string(deref(use.Role)), Amount: quantityOf(use.Amount)}
	switch used := use.Used; {
	case used.Batch != nil:
		d.fromStock(&out, used.Batch.Id, record.KindBatch)
		out.Strength = d.strengthOfBatch(used.Batch.Id, treatment)
	case used.Supply != nil:
		d.fromStock(&out, used.Supply.Id, record.KindSupply)
	case used.Material != nil:
		out.Materials = []publish.Link{d.materialLink(used.Material.Id)}
		out.Certainty, out.Strength = string(deref(used.Material.Certainty)), strengthOf(used.Material.Strength)
		for _, share := range deref(used.Material.Solvents) {
			out.Solvents = append(out.Solvents, d.materialLink(share.Id).Label)
		}
	case used.Words != nil:
		out.Words, out.Certainty = used.Words.Verbatim, string(used.Words.Certainty)
		for _, id := range deref(used.Words.Candidates) {
			out.Candidates = append(out.Candidates, d.materialLink(id))
		}
	}
	return out
}

func (d *dossier) fromStock(use *publish.Use, id uuid.UUID, kind record.Kind) {
	link := d.stockLink(id, kind)
	use.From, use.FromBatch = &link, kind == record.KindBatch
	x := d.contentsOf(id)
	use.Materials = x.solids.list
	if d.shelf.More > 0 {
		use.Materials = append(slices.Clip(use.Materials), publish.Link{Label: d.unread()})
	}
	for _, solvent := range x.solvents.list {
		use.Solvents = append(use.Solvents, solvent.Label)
	}
}

// unread says what was not read of what went into the batches of a dossier.
func (d *dossier) unread() string {
	return fmt.Sprintf("what was in %d more supplies and batches, beyond the %d that were read", d.shelf.More, postgres.MostStock)
}

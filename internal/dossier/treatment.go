package dossier

import (
	"fmt"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/publish"
	"meniscus/internal/record"
)

// Treatment is a treatment of a specimen, and its specimen without the others.
func (d *Dossier) Treatment(id, specimen uuid.UUID) (publish.Treatment, publish.Specimen) {
	t, of := d.treatment(id, map[uuid.UUID]bool{}), d.specimen(specimen)
	t.Specimen = publish.Link{IRI: of.IRI, Label: of.Title}
	return t, of
}

// treatment is a treatment as it is published; told are the batches that the
// document already lists.
func (d *Dossier) treatment(id uuid.UUID, told map[uuid.UUID]bool) publish.Treatment {
	e := d.entries[id]
	t := publish.Treatment{IRI: d.base.Treatment(id), Revision: d.revision(e)}
	said, ok := said[*record.Treatment](d, id)
	if !ok {
		return t
	}
	d.tell(&t, said, id.String(), told)
	t.Fields = publish.Fields(e.Says(), d.Known())
	return t
}

// tell puts what a treatment says, done or proposed, in the form in which it is published;
// of is the record that says it.
func (d *Dossier) tell(t *publish.Treatment, said *record.Treatment, of string, told map[uuid.UUID]bool) {
	t.Specimen = d.specimenLink(said.Specimen)
	if said.JoinedTo != uuid.Nil {
		joined := d.specimenLink(said.JoinedTo)
		t.JoinedTo = &joined
	}
	t.Action, t.Method, t.Coats = string(said.Action), said.Method, said.Coats
	t.Areas, t.AreasAnswer = said.Areas.Value, string(said.Areas.Answer)
	t.Date, t.Started, t.Ended = publishedDate(said.Date), said.Started, said.Ended
	t.NothingUsed = said.Uses.Given && len(said.Uses.Value) == 0
	for _, use := range said.Uses.Value {
		t.Uses = append(t.Uses, d.use(use, of))
	}
	for _, x := range said.Exposures {
		t.Exposures = append(t.Exposures, publish.Exposure{
			Solvent: d.materialLink(x.Solvent), Time: publishedQuantity(x.Time), During: x.During,
		})
	}
	t.People = d.involvements(said.People)
	t.BatchesBelow = d.batchesBelow(said.Uses.Value, told)
	if said.Plan.Given {
		t.Plan = d.base.Plan(said.Plan.Value)
	}
	d.results(t, said)
	t.Notes = notesOf(said)
}

// Plan is a plan: the treatment that it proposes, and what it says beside.
func (d *Dossier) Plan(id uuid.UUID) publish.Plan {
	e := d.entries[id]
	out := publish.Plan{IRI: d.base.Plan(id), Revision: d.revision(e)}
	said, ok := said[*record.Plan](d, id)
	if !ok {
		return out
	}
	d.tell(&out.Proposed, &said.Treatment, id.String(), map[uuid.UUID]bool{})
	for _, f := range publish.Fields(e.Says(), d.Known()) {
		if f.Label == "Treatment" {
			out.Proposed.Fields = f.Within
		} else {
			out.Fields = append(out.Fields, f)
		}
	}
	return out
}

// results are what else a removal, an examination, a joint, a record of damage or a test says.
func (d *Dossier) results(t *publish.Treatment, said *record.Treatment) {
	if said.Removal != nil {
		t.Left = said.Removal.Left
		for _, id := range said.Removal.Treatments {
			t.Removes = append(t.Removes, d.link(id, record.KindTreatment))
		}
	}
	if said.Examination != nil {
		t.Outcome, t.LookedFor = said.Examination.Outcome, said.Examination.LookedFor
	}
	if said.Joint != nil {
		t.Load = string(said.Joint.CarriesLoad)
	}
	if said.Damage != nil {
		t.Damage = said.Damage.Kind
		for _, id := range said.Damage.Treatments {
			t.Damaged = append(t.Damaged, d.link(id, record.KindTreatment))
		}
	}
	if said.Test != nil {
		t.Observed, t.TestedWith = said.Test.Observed, said.Test.Reagent
		if said.Test.Solvent != "" {
			t.TestedWith = d.materialLink(said.Test.Solvent).Label
		}
	}
}

func notesOf(said *record.Treatment) []publish.Note {
	var notes []publish.Note
	for _, n := range []publish.Note{
		{Kind: "purpose", Content: said.Purpose.Value},
		{Kind: "condition-before", Content: said.ConditionBefore.Value},
		{Kind: "condition-after", Content: said.ConditionAfter.Value},
		{Kind: "remarks", Content: said.Remarks},
	} {
		if n.Content != "" {
			notes = append(notes, n)
		}
	}
	return notes
}

func (d *Dossier) use(use record.Use, treatment string) publish.Use {
	out := publish.Use{Role: use.Role, Amount: publishedQuantity(use.Amount)}
	switch {
	case use.Batch != uuid.Nil:
		d.fromStock(&out, use.Batch, record.KindBatch)
		out.Strength = d.strengthOfBatch(use.Batch, treatment)
	case use.Supply != uuid.Nil:
		d.fromStock(&out, use.Supply, record.KindSupply)
	case use.Material != "":
		out.Materials = []publish.Link{d.materialLink(use.Material)}
		if use.Strength.Given {
			out.Strength = publishedStrength(use.Strength.Value)
		}
		if use.CertaintySaid {
			out.Certainty = string(use.Certainty)
		}
		for _, share := range use.Solvents.Value {
			out.Solvents = append(out.Solvents, d.materialLink(share.Material))
		}
	default:
		out.Words, out.Certainty = use.Words, string(use.Certainty)
		for _, id := range use.Candidates {
			out.Candidates = append(out.Candidates, d.materialLink(id))
		}
	}
	return out
}

func (d *Dossier) fromStock(use *publish.Use, id uuid.UUID, kind record.Kind) {
	link := d.stockLink(id, kind)
	use.From, use.FromBatch = &link, kind == record.KindBatch
	x := d.contentsOf(id)
	use.Materials = x.solids.list
	if d.book.More > 0 {
		use.Materials = append(slices.Clip(use.Materials), publish.Link{Label: d.unread()})
	}
	use.Solvents = x.solvents.list
}

// unread says what was not read of what went into the batches of a dossier.
func (d *Dossier) unread() string {
	return fmt.Sprintf("what was in %d more supplies and batches, beyond the %d that were read", d.book.More, d.mostRead)
}

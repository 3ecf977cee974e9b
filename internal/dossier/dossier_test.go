package dossier_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/dossier"
	"meniscus/internal/label"
	"meniscus/internal/material"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/stock"
)

const base = publish.Base("https://meniscus.example")

func id(n int) uuid.UUID { return uuid.NewSHA1(uuid.Nil, fmt.Append(nil, n)) }

// holding is a dossier of these records, each under its number, with the batches
// among them on the shelf.
func holding(values map[int]record.Value) *dossier.Dossier {
	d := dossier.New(base, "Museum of the Lower Valley", material.Builtin())
	var on stock.Records
	on.Supplies, on.Batches = map[record.Ref]*record.Supply{}, map[record.Ref]*record.Batch{}
	for n, value := range values {
		d.Keep(dossier.Entry{
			Record: id(n), Kind: value.Kind(), Revision: 1, Value: value, Says: func() record.Members { return nil },
		})
		switch said := value.(type) {
		case *record.Supply:
			on.Supplies[id(n)] = said
		case *record.Batch:
			on.Batches[id(n)] = said
		}
	}
	d.Shelve(stock.NewBook(material.Builtin(), on), 1000)
	return d
}

func of(batches ...int) record.Said[[]record.Input] {
	inputs := []record.Input{}
	for _, n := range batches {
		inputs = append(inputs, record.Input{Used: record.Used{Batch: id(n)}})
	}
	return record.Give(inputs)
}

func used(batches ...int) record.Said[[]record.Use] {
	uses := []record.Use{}
	for _, n := range batches {
		uses = append(uses, record.Use{Used: record.Used{Batch: id(n)}})
	}
	return record.Give(uses)
}

func labels(links []publish.Link) (all []string) {
	for _, l := range links {
		all = append(all, l.Label)
	}
	return all
}

// TestBatchesInACircleHoldTheSame: batches that were made from each other hold
// the same, and an input that is a solvent adds no solid.
func TestBatchesInACircleHoldTheSame(t *testing.T) {
	t.Parallel()
	resin := record.Input{Used: record.Used{Material: "poly-vinyl-butyral"}, Part: "solute"}
	words := record.Input{Used: record.Used{Words: "white powder"}, Part: "solute"}
	ethanol := record.Input{Used: record.Used{Material: "ethanol"}, Part: "solvent"}
	a, b := of(2), of(1)
	a.Value, b.Value = append(a.Value, resin, ethanol), append(b.Value, words)
	d := holding(map[int]record.Value{
		1: &record.Batch{Code: "B-1", Inputs: a}, 2: &record.Batch{Code: "B-2", Inputs: b},
		3: &record.Specimen{}, 4: &record.Treatment{Specimen: id(3), Uses: used(1, 2)},
	})
	treatment, _ := d.Treatment(id(4), id(3))
	for _, use := range treatment.Uses {
		solids := labels(use.Materials)
		slices.Sort(solids)
		if diff := cmp.Diff(solids, []string{"poly(vinyl butyral), grade not stated", "“white powder”"}); diff != "" {
			t.Errorf("%s (-got +want):\n%s", use.From.Label, diff)
		}
		if diff := cmp.Diff(labels(use.Solvents), []string{"ethanol"}); diff != "" {
			t.Errorf("%s (-got +want):\n%s", use.From.Label, diff)
		}
	}
	if len(treatment.BatchesBelow) != 2 {
		t.Errorf("got %d batches below, want each once", len(treatment.BatchesBelow))
	}
}

// TestBatchesAreToldOnce: a batch stands below the first treatment of a specimen
// that used it, and not below the second.
func TestBatchesAreToldOnce(t *testing.T) {
	t.Parallel()
	d := holding(map[int]record.Value{
		1: &record.Specimen{}, 2: &record.Batch{Code: "B-2", Inputs: of(3)}, 3: &record.Batch{Code: "B-3"},
		4: &record.Treatment{Specimen: id(1), Uses: used(2)}, 5: &record.Treatment{Specimen: id(1), Uses: used(3)},
	})
	list := []dossier.Listed{{Treatment: id(4)}, {Treatment: id(5)}}
	got := d.Specimen(id(1), &stack.Specimen{}, list, nil)
	if len(got.Treatments) != 2 || len(got.Treatments[0].BatchesBelow) != 2 || len(got.Treatments[1].BatchesBelow) != 0 {
		t.Errorf("got %+v, want both batches below the first", got.Treatments)
	}
}

// TestWhatIsMissingIsNamed: a dossier lists the records that it does not hold,
// names them by their ids, and marks retracted ones.
func TestWhatIsMissingIsNamed(t *testing.T) {
	t.Parallel()
	removal := &record.Treatment{Specimen: id(1), Action: record.ActionRemoval}
	removal.Removal = &record.Removal{Treatments: []record.Ref{id(7), id(8)}}
	d := holding(map[int]record.Value{2: removal})
	others := d.OtherTreatments()
	if got := d.Missing(append(others, id(2), id(8), uuid.Nil)); len(got) != 2 || slices.Contains(got, id(2)) {
		t.Errorf("got %v missing, want the two treatments that it names, once", got)
	}
	d.Keep(dossier.Entry{Record: id(7), Kind: record.KindTreatment, Retracted: true})
	got, of := d.Treatment(id(2), id(1))
	want := []string{"treatment " + id(7).String() + " (retracted)", "treatment " + id(8).String()}
	if diff := cmp.Diff(labels(got.Removes), want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
	if want := "specimen " + id(1).String(); of.Title != want || got.Specimen.Label != want {
		t.Errorf("got %q and %q, want %q", of.Title, got.Specimen.Label, want)
	}
}

// TestWhatCannotBeReadIsSaid: a treatment whose words cannot be read is not listed,
// and neither is a batch below one; both are reported in notices.
func TestWhatCannotBeReadIsSaid(t *testing.T) {
	t.Parallel()
	d := holding(map[int]record.Value{1: &record.Specimen{}, 2: &record.Treatment{Specimen: id(1), Uses: used(3)}})
	for n, kind := range map[int]record.Kind{3: record.KindBatch, 4: record.KindTreatment} {
		d.Keep(dossier.Entry{Record: id(n), Kind: kind, Unreadable: true})
	}
	about := &stack.Specimen{}
	got := d.Specimen(id(1), about, []dossier.Listed{{Treatment: id(2)}, {Treatment: id(4)}}, nil)
	if len(got.Treatments) != 1 || len(about.Unread) != 2 {
		t.Errorf("got %d treatments and %v, want one, and two that cannot be read", len(got.Treatments), about.Unread)
	}
	for n := 3; n <= 4; n++ {
		if !strings.Contains(strings.Join(got.Notices, " "), id(n).String()) {
			t.Errorf("got the notices %q, want %s named", got.Notices, id(n))
		}
	}
}

// TestErasedAndRetractedAreTwoThings in a record's standing.
func TestErasedAndRetractedAreTwoThings(t *testing.T) {
	t.Parallel()
	d := holding(nil)
	for name, c := range map[string]struct {
		entry                         dossier.Entry
		erased, retracted, unreadable bool
	}{
		"redacted":   {dossier.Entry{}, true, false, false},
		"retracted":  {dossier.Entry{Retracted: true, Reason: "The wrong skull"}, false, true, false},
		"unreadable": {dossier.Entry{Unreadable: true}, false, false, true},
	} {
		c.entry.Record, c.entry.Kind = id(1), record.KindTreatment
		d.Keep(c.entry)
		got, _ := d.Treatment(id(1), id(2))
		r := got.Revision
		if r.Erased != c.erased || r.Retracted != c.retracted || r.Unreadable != c.unreadable {
			t.Errorf("%s: got %+v", name, r)
		}
		if r.Reason != c.entry.Reason || r.Standing() {
			t.Errorf("%s: got %+v, want that it does not stand, and the reason", name, r)
		}
	}
}

// TestNoticesOfALabel: the notices at its top, and no strength of a retracted
// batch.
func TestNoticesOfALabel(t *testing.T) {
	t.Parallel()
	asked := record.Give(record.Strength{Product: "a dispersion"})
	d := holding(map[int]record.Value{1: &record.Batch{Code: "B-1", State: "spent", LabelStrength: asked}})
	got := d.Label(id(1), true, "Poured away")
	if diff := cmp.Diff(got.Notices, []string{"RETRACTED: Poured away", "SPENT, as recorded"}); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
	if want := (label.Strength{Why: "the record was retracted"}); got.Strength != want {
		t.Errorf("got %+v, want %+v", got.Strength, want)
	}
	got = d.Label(id(1), false, "")
	if got.Strength.From != label.Labelled || len(got.Notices) != 1 || got.Code != "B-1" {
		t.Errorf("got %+v, want the strength of the label", got)
	}
	if got := d.Label(id(2), false, ""); len(got.Notices) != 1 || !strings.Contains(got.Notices[0], "redacted") {
		t.Errorf("got %q, want it said that the words are gone", got.Notices)
	}
}

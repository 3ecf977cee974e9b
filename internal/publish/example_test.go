package publish_test

import (
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/publish"
)

const base = publish.Base("https://meniscus.example")

func id(last string) uuid.UUID { return uuid.MustParse("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7" + last) }

func dated(text string) publish.Date { return publish.Date{Date: edtf.MustParse(text)} }

var (
	ilse   = publish.Person{IRI: base.Person(id("a01")), Name: "Ilse Varga", ORCID: "9999-1234-5678-9011"}
	erased = publish.Person{IRI: base.Person(id("a02")), ORCID: "9999-1234-5678-9011"}
	acryl  = publish.Link{IRI: base.Material("ethyl-methacrylate-methyl-acrylate-copolymer"),
		Label: "ethyl methacrylate/methyl acrylate copolymer"}
	acid = publish.Link{IRI: base.Material("acetone"), Label: "acetone"}
)

func revision(last string, n int) publish.Revision {
	return publish.Revision{
		IRI: base.Record(id(last)), Number: n, At: time.Date(2026, 3, 2, 9, 15, 0, 0, time.UTC), By: ilse,
	}
}

// skull is a specimen of the invented museum with one treatment of each shape.
func skull() publish.Specimen {
	link := publish.Link{IRI: base.Specimen(id("b01")), Label: "LV.1987/0042"}
	bottle := publish.Link{IRI: base.Batch(id("c02")), Label: "B-0311-2"}
	batch := publish.Link{IRI: base.Batch(id("c01")), Label: "B-0311"}
	resin := publish.Link{IRI: base.Supply(id("c03")), Label: "S-0107"}
	started, ended := time.Date(2024, 3, 12, 9, 0, 0, 0, time.UTC), time.Date(2024, 3, 12, 11, 30, 0, 0, time.UTC)
	strength := publish.Strength{Basis: "mass-per-solution-volume", Value: "20.00", Unit: "g/dL"}
	consolidation := publish.Treatment{
		IRI: base.Treatment(id("d01")), Revision: revision("d01", 2), Specimen: link, Action: "consolidation",
		Areas: []string{"skull/left-orbit"}, Method: "brush", Coats: 2, Date: dated("2024-03-12"), Started: &started,
		Ended: &ended,
		Uses: []publish.Use{{Role: "consolidant", From: &bottle, FromBatch: true, Materials: []publish.Link{acryl},
			Strength: strength, Solvents: []publish.Link{{IRI: base.Material("acetone"), Label: "acetone"}},
			Amount: publish.Quantity{Value: "1.2e1", Unit: "mL"}}},
		People: []publish.Involvement{
			{Person: ilse, Part: "carried-out", Organisation: "Museum of the Lower Valley"}, {Person: erased, Part: "advised"},
		},
		Plan: base.Plan(id("e01")),
		Notes: []publish.Note{
			{Kind: "purpose", Content: "Flaking of the cortical surface"},
			{Kind: "condition-after", Content: "Flakes laid down"},
		},
		BatchesBelow: []publish.Batch{
			{Link: bottle, Materials: []publish.Link{acryl}, Strength: strength, Inputs: []publish.Input{
				{From: batch, Recorded: true, Part: "stock", Amount: publish.Quantity{Value: "50", Unit: "mL"}},
			}},
			{Link: batch, Materials: []publish.Link{acryl}, Strength: strength, Made: dated("2024-03-11"),
				MadeBy: []publish.Involvement{{Person: ilse, Part: "carried-out"}},
				Inputs: []publish.Input{{
					From: resin, Recorded: true, Part: "solute", Amount: publish.Quantity{Value: "30.10", Unit: "g"},
				}, {From: acid, Part: "solvent"}}},
			{Link: resin, Supply: true, Materials: []publish.Link{acryl}},
		},
	}
	removal := publish.Treatment{IRI: base.Treatment(id("d02")), Revision: revision("d02", 1), Specimen: link,
		Action: "removal",
		Areas:  []string{"skull/left-orbit"}, Date: dated("2025-06"),
		Removes: []publish.Link{{IRI: consolidation.IRI, Label: "an earlier treatment"}}, Left: "not-detected"}
	old := publish.Treatment{IRI: base.Treatment(id("d03")), Revision: revision("d03", 1), Specimen: link,
		Action: "joining", AreasAnswer: "unknown",
		JoinedTo: &publish.Link{IRI: base.Specimen(id("b02")), Label: "LV.1987/0043"}, Date: dated("1984?"),
		Uses: []publish.Use{{Role: "adhesive", Words: "5 % PVA", Certainty: "inferred",
			Candidates: []publish.Link{{IRI: base.Material("poly-vinyl-acetate-resin"), Label: "poly(vinyl acetate)"},
				{IRI: base.Material("poly-vinyl-alcohol"), Label: "poly(vinyl alcohol)"}}}}}
	looked := publish.Treatment{IRI: base.Treatment(id("d04")), Revision: revision("d04", 1), Specimen: link,
		Action: "examination", Areas: []string{"whole"},
		Date: dated("2026-01-10/.."), Outcome: "none-found", People: []publish.Involvement{
			{Person: ilse, Part: "examined"}, {Person: publish.Person{Name: "unknown"}, Part: "documented"},
		}}
	open := publish.Treatment{IRI: base.Treatment(id("d05")), Revision: revision("d05", 1), Specimen: link, Action: "test",
		Areas: []string{"skull"},
		Date:  publish.Date{Answer: "unknown"}, Observed: "softens",
		Uses: []publish.Use{
			{Materials: []publish.Link{acid}, Certainty: "documented", Strength: publish.Strength{Basis: "unknown", Value: "5"}},
		}}
	return publish.Specimen{
		IRI: link.IRI, Revision: revision("b01", 1), Title: link.Label, Collection: "palaeontology",
		Description:    "Skull of a cave bear, left half",
		Classification: "Ursus spelaeus", Owner: "Museum of the Lower Valley", Body: "bone",
		Institution: "Museum of the Lower Valley", SourceID: "4711",
		Identifiers: []publish.Identifier{{Kind: "catalogue-number", Value: "LV.1987/0042"},
			{Kind: "guid", Value: "7D7A4E9C-2C0B-4F5C-9E61-0D1F4A1C7B11"}, {Kind: "doi", Value: "10.5555/Lower Valley"}},
		Treatments: []publish.Treatment{consolidation, removal, old, looked, open},
	}
}

// jar is a made object, with nothing recorded.
func jar() publish.Specimen {
	return publish.Specimen{IRI: base.Specimen(id("b03")), Revision: revision("b03", 1), Title: "LV.3", Body: "ceramic",
		Institution: "Museum of the Lower Valley",
		Identifiers: []publish.Identifier{{Kind: "accession-number", Value: "LV.3"}}}
}

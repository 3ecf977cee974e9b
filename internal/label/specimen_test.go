package label

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/material"
)

// sample is a sample of a specimen that is known to hold arsenic.
func sample() Specimen {
	return Specimen{
		Owner: "Museum of the Lower Valley", Number: "LV.1987/0042.3",
		Address: "https://meniscus.example/v1/specimens/0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a12",
		Hazards: []string{"The specimen is known to hold arsenic; settle protection and permission before any step.",
			"At least: gloves. Ask the occupational hygienist.", material.SheetFirst},
		Open:   []string{"The specimen was not examined for mercury.", "Hazards not recorded: lead, asbestos."},
		Origin: "Sample of LV.1987/0042, area skull/left-horn", Taken: "12 March 2024",
	}
}

// The hazards come before everything, a notice and the number among it, and what is not
// on record is left out.
func TestSpecimenBeginsWithItsHazards(t *testing.T) {
	t.Parallel()
	retracted := sample()
	retracted.Notices = []string{"RETRACTED: The wrong bone."}
	for _, row := range []struct {
		name string
		f    Specimen
		want []Element
	}{
		{"a sample", sample(), []Element{SpecimenHazard, SpecimenHazard, Deference, HazardsUnknown, HazardsUnknown, CodeText,
			MadeFrom, MadeWords, OwnerName}},
		{"retracted", retracted, []Element{SpecimenHazard, SpecimenHazard, Deference, HazardsUnknown, HazardsUnknown, Notice,
			CodeText, MadeFrom, MadeWords, OwnerName}},
		{"no hazard", Specimen{Number: "LV.1"}, []Element{CodeText, Deference}},
		{"redacted", Specimen{Notices: []string{"The words of this record were redacted"}}, []Element{Notice, CodeText, Deference}},
	} {
		made := OfSpecimen(row.f, 30)
		var got []Element
		for _, s := range made.Pieces[0].Content.Says {
			got = append(got, s.Element)
		}
		if diff := cmp.Diff(row.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, diff)
		}
		if title := made.title(); strings.HasSuffix(title, " ") || strings.HasSuffix(title, ":") {
			t.Errorf("%s: got the title %q", row.name, title)
		}
	}
}

// The label defers in the sentence of every answer where that fits, else in few words; what nobody
// knows of the hazards is set lighter than a hazard.
func TestSpecimenDefersAndIsQuietOnWhatIsNotKnown(t *testing.T) {
	t.Parallel()
	unknown := sample()
	unknown.Hazards = nil
	for capacity, want := range map[float64]string{1: sheetInShort, 250: material.SheetFirst} {
		if got := OfSpecimen(unknown, capacity).Pieces[0].Content.text(Deference); got != want {
			t.Errorf("%v mL: got %q, want %q", capacity, got, want)
		}
	}
	if got := OfSpecimen(sample(), 1).Pieces[0].Content.text(Deference); got != material.SheetFirst {
		t.Errorf("of a known hazard: got %q, want %q", got, material.SheetFirst)
	}
	_, drawn := layOut(composeSpecimen(sample(), sheetInShort), small(250))
	for _, l := range drawn.lines {
		known, open := strings.HasPrefix(l.text, "The specimen is known"), strings.HasPrefix(l.text, "The specimen was not") ||
			strings.HasPrefix(l.text, "Hazards not recorded")
		if known && !l.bold || open && l.bold {
			t.Errorf("got %q bold: %v", l.text, l.bold)
		}
	}
}

// A number of 400 characters, words or one word, stands whole on the label of every
// size, which grows for it.
func TestSpecimenWithALongNumber(t *testing.T) {
	t.Parallel()
	for _, number := range []string{strings.Repeat("LV 1987-42, ", 34)[:400], strings.Repeat("n", 400)} {
		for _, capacity := range []float64{0.1, 3, 10, 30, 250, 1_000_000} {
			f := sample()
			f.Number = number
			p := OfSpecimen(f, capacity).Pieces[0]
			standsOnThePaper(t, p)
			if p.Layout.Grown != (capacity <= 250) || p.Layout.XHeight < p.Size.XHeight-1e-9 {
				t.Errorf("%v mL: got %+v of the least size %+v", capacity, p.Layout, p.Size)
			}
		}
	}
}

// On the smallest size all of it stands, the code for a camera among it; without hazards
// it is smaller.
func TestSpecimenOfTheSmallestSize(t *testing.T) {
	t.Parallel()
	whole, bare := OfSpecimen(sample(), 0.1), OfSpecimen(Specimen{Number: "LV.1"}, 0.1)
	p, q := whole.Pieces[0], bare.Pieces[0]
	standsOnThePaper(t, p)
	if p.Size.Width != 26 || p.Size.Height != 18 || !p.Layout.Grown || p.Layout.Module == 0 || len(whole.LeftOut) > 0 {
		t.Errorf("got %+v, want the least size to grow, the code on it, and nothing left out", p.Layout)
	}
	if q.Layout.Width != 26 || q.Layout.Height != 18 || q.Layout.Grown {
		t.Errorf("got %+v, want 26 × 18 mm", q.Layout)
	}
	if !slices.Contains(whole.Rules, specimenRule) || !slices.Contains(whole.Rules, smallLetterRule) {
		t.Errorf("got %+v, want the rules of sizes and letters", whole.Rules)
	}
}

func TestAnySpecimenStandsOnThePaper(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.StringMatching(`[A-Za-zäöüß漢€0-9(),/\-]{1,90}( [a-z]{1,14}){0,12}`)
		lines := rapid.SliceOfN(words, 0, 5)
		f := sample()
		f.Number, f.Origin, f.Taken = words.Draw(t, "number"), words.Draw(t, "origin"), words.Draw(t, "taken")
		f.Hazards, f.Open, f.Notices = lines.Draw(t, "hazards"), lines.Draw(t, "open"), lines.Draw(t, "notices")
		standsOnThePaper(t, OfSpecimen(f, rapid.SampledFrom([]float64{1, 8, 25, 250}).Draw(t, "capacity")).Pieces[0])
	})
}

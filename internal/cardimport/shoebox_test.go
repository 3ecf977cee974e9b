package cardimport_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/cardimport"
	"meniscus/internal/statement"
)

// shoebox is the mapping for testdata/demo/shoebox.csv.
var shoebox = cardimport.Mapping{
	Format: cardimport.CSV,
	Columns: []cardimport.Column{
		{Name: "Card", Field: cardimport.CardID}, {Name: "Number", Field: cardimport.Number},
		{Name: "Part", Field: cardimport.Areas},
		{Name: "Treatment", Field: cardimport.Action}, {Name: "Material", Field: cardimport.Material},
		{Name: "Strength", Field: cardimport.Strength},
		{Name: "Solvent", Field: cardimport.Solvent}, {Name: "Date", Field: cardimport.Date},
		{Name: "By", Field: cardimport.Person},
		{Name: "State before", Field: cardimport.ConditionBefore},
		{Name: "State after", Field: cardimport.ConditionAfter}, {Name: "Notes", Field: cardimport.Remarks},
	},
	Constants: map[cardimport.Field]string{cardimport.Collection: "palaeontology",
		cardimport.Organisation: "Museum of the Lower Valley"},
	Dates: []cardimport.DateForm{cardimport.EDTF, cardimport.DayMonthYear, cardimport.EnglishWords},
	Materials: []cardimport.Reading{
		{Words: "shellac", Material: "shellac", Certainty: "documented"},
		{Words: "Leim", Material: "animal-glue", Certainty: "inferred"},
		{Words: "alcohol", Material: "ethanol", Certainty: "inferred"},
	},
	Actions: map[string]string{"hardened": "consolidation", "glued": "joining", "varnished": "coating",
		"lacquered": "coating", "cleaned": "cleaning", "removed": "removal", "numbered": "labelling"},
}

// vocabulary is a small substitute for the built-in materials.
func vocabulary(words string) (materials, solvents []string) {
	switch words {
	case "PVA":
		return []string{"poly-vinyl-acetate-dispersion", "poly-vinyl-acetate-resin", "poly-vinyl-alcohol"}, nil
	case "varnish", "lacquer":
		return []string{"shellac", "cellulose-nitrate"}, nil
	case "nail lacquer":
		return []string{"nail-lacquer"}, nil
	case "acetone":
		return nil, []string{"acetone"}
	}
	return nil, nil
}

func readAll(t *testing.T, r *cardimport.Reader) []cardimport.Card {
	t.Helper()
	var cards []cardimport.Card
	for {
		card, err := r.Next()
		if errors.Is(err, io.EOF) {
			return cards
		}
		if err != nil {
			t.Fatal(err)
		}
		cards = append(cards, card)
	}
}

func readShoebox(t *testing.T) []cardimport.Card {
	t.Helper()
	file, err := os.Open("../../testdata/demo/shoebox.csv")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = file.Close() })
	r, err := cardimport.NewReader(file, shoebox, vocabulary)
	if err != nil {
		t.Fatal(err)
	}
	return readAll(t, r)
}

// summary says in a line what became of a card.
func summary(c cardimport.Card) string {
	var parts []string
	for _, f := range c.Faults {
		parts = append(parts, "refused "+f.Code+" at "+f.Pointer)
	}
	for _, d := range c.Doubts {
		parts = append(parts, d.Code+" at "+d.Column)
	}
	if len(parts) == 0 {
		parts = append(parts, "taken")
	}
	return fmt.Sprintf("%d: %s", c.Line, strings.Join(parts, ", "))
}

// The shoebox: wrong dates, two spellings of a number, three unknown resins, a
// formula, a broken quote. Every line comes back, and only the bad ones have faults.
func TestShoebox(t *testing.T) {
	t.Parallel()
	var got []string
	for _, card := range readShoebox(t) {
		got = append(got, summary(card))
	}
	want := []string{
		"2: taken",
		"3: taken",
		"4: material-ambiguous at Material, number-spelled-two-ways at Number",
		"6: refused date-unreadable at /Date, material-ambiguous at Material",
		"7: material-ambiguous at Material",
		"8: material-unknown at Material",
		"9: material-unknown at Material",
		"10: refused cell-formula at /Notes",
		"11: refused number-missing at /Number, material-unknown at Material",
		"12: taken",
		"13: taken",
		"14: refused line-unreadable at ",
		"15: material-unknown at Material",
		"16: refused date-unreadable at /Date, material-ambiguous at Material",
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

func TestShoeboxStatements(t *testing.T) {
	t.Parallel()
	cards := readShoebox(t)
	for line, want := range map[int]string{
		2: `{"action":"consolidation","areas":{"paths":["skull"]},"conditionAfter":{"text":"firm"},"conditionBefore":{"text":"crumbling"},
			"dates":{"edtf":"1934-04-12"},
			"materials":[{"used":{"material":{"certainty":"documented","id":"shellac","solvents":[{"id":"ethanol"}],"strength":{"basis":"unknown","value":5}}}}],
			"oldCard":{"verbatim":"Card: 1\nNumber: LV.1931/0007\nPart: skull\nTreatment: hardened\nMaterial: shellac\nStrength: 5%\nSolvent: alcohol\nDate: 12.4.1934\nBy: H. Lindner\nState before: crumbling\nState after: firm\nNotes: First of the drawer, see also card 2"},
			"people":[{"organisation":"Museum of the Lower Valley","part":"carried-out","person":{"name":"H. Lindner"}}],
			"remarks":"First of the drawer, see also card 2",
			"specimen":{"identifier":{"collection":"palaeontology","kind":"catalogue-number","value":"LV.1931/0007"}}}`,
		4: `{"action":"coating","areas":{"answer":"unknown"},"conditionAfter":{"text":"yellowed\nand dull"},"dates":{"edtf":"1950~"},
			"materials":[{"remark":"strength on the card: thin","used":{"words":{"candidates":["shellac","cellulose-nitrate"],"certainty":"unknown","verbatim":"varnish"}}}],
			"oldCard":{"verbatim":"Card: 3\nNumber: lv 1931-7\nTreatment: varnished\nMaterial: varnish\nStrength: thin\nDate: ca. 1950\nState after: yellowed\nand dull\nNotes: Number written by another hand"},
			"remarks":"Number written by another hand",
			"specimen":{"identifier":{"collection":"palaeontology","kind":"catalogue-number","value":"lv 1931-7"}}}`,
		12: `{"action":"removal","areas":{"paths":["tooth row"]},"conditionAfter":{"text":"lighter"},"conditionBefore":{"text":"dark"},"dates":{"edtf":"1970/"},
			"solventExposure":[{"during":"removal","solvent":"ethanol","time":{"answer":"unknown"}}],
			"oldCard":{"verbatim":"Card: 10\nNumber: LV.1951/0003\nPart: tooth row\nTreatment: removed\nMaterial: shellac\nSolvent: alcohol\nDate: after 1970\nState before: dark\nState after: lighter\nNotes: As far as it went"},
			"remarks":"As far as it went; material on the card: shellac","removal":{"left":"unknown","treatments":[]},
			"specimen":{"identifier":{"collection":"palaeontology","kind":"catalogue-number","value":"LV.1951/0003"}}}`,
	} {
		for _, card := range cards {
			if card.Line != line {
				continue
			}
			var wanted any
			if err := json.Unmarshal([]byte(strings.ReplaceAll(strings.ReplaceAll(want, "\n\t\t\t", ""), "\n", `\n`)),
				&wanted); err != nil {
				t.Fatal(err)
			}
			encoded, _, err := statement.Write(&card.Treatment, card.Names)
			if err != nil {
				t.Fatal(err)
			}
			var got any
			_ = json.Unmarshal(encoded, &got)
			if diff := cmp.Diff(got, wanted); diff != "" {
				t.Errorf("line %d (-got +want):\n%s", line, diff)
			}
		}
	}
}

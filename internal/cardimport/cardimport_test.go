package cardimport_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/cardimport"
	"meniscus/internal/fault"
	"meniscus/internal/statement"
)

// plain is the smallest mapping, with further columns if given.
func plain(more ...cardimport.Column) cardimport.Mapping {
	return cardimport.Mapping{
		Columns:   append([]cardimport.Column{{Name: "No", Field: cardimport.Number}}, more...),
		Constants: map[cardimport.Field]string{cardimport.Action: "cleaning"},
	}
}

func col(name string, f cardimport.Field) cardimport.Column {
	return cardimport.Column{Name: name, Field: f}
}

// first reads the first card of a text.
func first(t interface{ Fatal(...any) }, m cardimport.Mapping, text string) cardimport.Card {
	r, err := cardimport.NewReader(strings.NewReader(text), m, vocabulary)
	if err != nil {
		t.Fatal(err)
	}
	card, err := r.Next()
	if err != nil {
		t.Fatal(err)
	}
	return card
}

// object is a JSON object.
type object map[string]any

// At gives the value at a JSON Pointer, or nil.
func (o object) At(pointer string) any { return cardimport.ValueAt(o, pointer) }

// said is what a card's treatment says in words. Reading them gives the treatment.
func said(t interface{ Fatal(...any) }, card cardimport.Card) object {
	words, read, err := statement.Write(&card.Treatment, card.Names)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(read.Value, &card.Treatment) {
		t.Fatal(fmt.Sprintf("got %+v from %s, want %+v", read.Value, words, card.Treatment))
	}
	var out object
	dec := json.NewDecoder(bytes.NewReader(words))
	dec.UseNumber()
	if err := dec.Decode(&out); err != nil {
		t.Fatal(err)
	}
	return out
}

func codes(faults fault.List) string {
	var out []string
	for _, f := range faults {
		out = append(out, f.Code)
	}
	return strings.Join(out, " ")
}

func TestDates(t *testing.T) {
	t.Parallel()
	dmy, mdy, ymd := []cardimport.DateForm{cardimport.DayMonthYear}, []cardimport.DateForm{cardimport.MonthDayYear},
		[]cardimport.DateForm{cardimport.YearMonthDay}
	words := []cardimport.DateForm{cardimport.EnglishWords}
	serial := []cardimport.DateForm{cardimport.SerialDay, cardimport.DayMonthYear}
	for _, row := range []struct {
		forms      []cardimport.DateForm
		text, want string
	}{
		{nil, "1985-04-12", "1985-04-12"}, {nil, "195X", "195X"}, {nil, "12.4.1985", ""}, {nil, "1985-02-31", ""},
		{dmy, "12.4.1985", "1985-04-12"}, {dmy, "12/04/1985", "1985-04-12"}, {dmy, "12-4-1985", "1985-04-12"},
		{dmy, "12 . 4 . 1985", "1985-04-12"},
		{dmy, "4/1985", "1985-04"}, {dmy, "1985", "1985"}, {dmy, "12.4.85", "1985-04-12"}, {dmy, "12.4.12", "2012-04-12"},
		{dmy, "31.2.1961", ""}, {dmy, "12.13.1971", ""}, {dmy, "c. 12.4.1985", "1985-04-12~"}, {dmy, "1985?", "1985?"},
		{dmy, "ca 1985 ?", "1985%"},
		{dmy, "in spring", ""}, {dmy, "112.4.1985", ""}, {dmy, "12.4.985", ""},
		{mdy, "4/12/1985", "1985-04-12"}, {mdy, "13/12/1985", ""},
		{ymd, "1985/4/12", "1985-04-12"}, {ymd, "19850412", "1985-04-12"}, {ymd, "1985.4", "1985-04"}, {ymd, "12.4.1985", ""},
		{serial, "31149", "1985-04-12"}, {serial, "12.4.1985", "1985-04-12"}, {serial, "311490", ""},
		{words, "12 April 1985", "1985-04-12"}, {words, "12th Apr. 1985", "1985-04-12"},
		{words, "April 12, 1985", "1985-04-12"},
		{words, "Sept 1985", "1985-09"}, {words, "April, 1985", "1985-04"}, {words, "spring 1962", "1962-21"},
		{words, "Winter 1962?", "1962-06?/1963-02?"},
		{words, "the 1950s", "195X"}, {words, "ca. 1950s", "1950~/1959~"}, {words, "19th century", "1801/1900"},
		{words, "1962-63", "1962/1963"},
		{words, "1962–1965?", "1962?/1965?"}, {words, "before 1970", "/1970"}, {words, "about after 1970", "1970~/"},
		{words, "31 February 1961", ""},
		// README of python-edtf, natural language; a decade that is approximate stands there as 184X~
		{words, "Autumn 1872", "1872-23"}, {words, "circa Feb 1812", "1812-02~"}, {words, "circa 1840s", "1840~/1849~"},
		{words, "Foo 1985", ""}, {words, "1965-1962", ""},
	} {
		m := plain(col("When", cardimport.Date))
		m.Dates, m.CenturyFrom = row.forms, 1930
		m.Separator = ';'
		card := first(t, m, "No;When\n1;"+row.text+"\n")
		got, _ := said(t, card).At("/dates/edtf").(string)
		if got != row.want || (codes(card.Faults) == "date-unreadable") != (row.want == "") {
			t.Errorf("%v %q: got %q, %v, want %q", row.forms, row.text, got, card.Faults, row.want)
		}
	}
}

func TestTwoDigitYearsNeedACentury(t *testing.T) {
	t.Parallel()
	m := plain(col("When", cardimport.Date))
	m.Dates = []cardimport.DateForm{cardimport.DayMonthYear}
	card := first(t, m, "No,When\n1,12.4.85\n")
	if codes(card.Faults) != "date-unreadable" || !strings.Contains(card.Faults[0].Detail, "centuryFrom") {
		t.Errorf("got %v, want the advice to set centuryFrom", card.Faults)
	}
	m.KeepUnreadableDates = true
	card = first(t, m, "No,When\n1,12.4.85\n")
	if card.Faults != nil || said(t, card).At("/dates/answer") != "unknown" || len(card.Doubts) != 1 ||
		!strings.Contains(said(t, card).At("/oldCard/verbatim").(string), "12.4.85") {
		t.Errorf("got %+v, want an unknown date with a doubt, and the words kept", card)
	}
}

func TestDatesFromTwoColumns(t *testing.T) {
	t.Parallel()
	m := plain(col("From", cardimport.Date), col("To", cardimport.DateEnd))
	for row, want := range map[string]string{
		"1,1985,1986": "1985/1986", "1,1985,": "1985", "1,,1986": "/1986", "1,1986,1985": "dates-do-not-join",
		"1,1985/1986,1987": "dates-do-not-join",
	} {
		card := first(t, m, "No,From,To\n"+row+"\n")
		if got, _ := said(t, card).At("/dates/edtf").(string); codes(card.Faults) != want && got != want {
			t.Errorf("%s: got %q, %v, want %s", row, got, card.Faults, want)
		}
	}
}

func TestMaterials(t *testing.T) {
	t.Parallel()
	m := plain(col("M1", cardimport.Material), col("S1", cardimport.Strength), col("L1", cardimport.Solvent),
		col("R1", cardimport.Role),
		col("M2", cardimport.Material), col("S2", cardimport.Strength))
	m.Constants = map[cardimport.Field]string{cardimport.Action: "consolidation"}
	m.StrengthBasis = "mass-per-solution-volume"
	m.Materials = []cardimport.Reading{{Words: "Lack", Material: "shellac", Certainty: "analysed",
		AnalysedBy: "infrared, N. Okeke"},
		{Words: "either", Candidates: []string{"shellac", "beeswax"}, Certainty: "inferred"}}
	for row, want := range map[string]string{
		`1,lack,"2,50 %",acetone,label base,,`: `[{"role":"label-base","used":{"material":{"analysedBy":"infrared, N. Okeke","certainty":"analysed","id":"shellac","solvents":[{"id":"acetone"}],"strength":{"basis":"mass-per-solution-volume","unit":"g/dL","value":2.50}}}}]`,
		`1,Lack,thick,thinner,,,`:              `[{"remark":"strength on the card: thick; solvent on the card: thinner","used":{"material":{"analysedBy":"infrared, N. Okeke","certainty":"analysed","id":"shellac"}}}]`,
		`1,either,5,,,PVA,0.50`:                `[{"remark":"strength on the card: 5","used":{"words":{"candidates":["shellac","beeswax"],"certainty":"inferred","verbatim":"either"}}},{"remark":"strength on the card: 0.50","used":{"words":{"candidates":["poly-vinyl-acetate-dispersion","poly-vinyl-acetate-resin","poly-vinyl-alcohol"],"certainty":"unknown","verbatim":"PVA"}}}]`,
		`1,,,,,Lack,05%`:                       `[{"used":{"material":{"analysedBy":"infrared, N. Okeke","certainty":"analysed","id":"shellac","strength":{"basis":"mass-per-solution-volume","unit":"g/dL","value":5}}}}]`,
		`1,acetone,,,,,`:                       `[{"used":{"words":{"candidates":["acetone"],"certainty":"unknown","verbatim":"acetone"}}}]`,
		`1,,,,,,`:                              `null`,
	} {
		card := first(t, m, "No,M1,S1,L1,R1,M2,S2\n"+row+"\n")
		got, err := json.Marshal(said(t, card)["materials"])
		if err != nil || string(got) != want || card.Faults != nil {
			t.Errorf("%s: got %s, %v, %v, want %s", row, got, err, card.Faults, want)
		}
	}
}

func TestFormulasAndSpreadsheetErrors(t *testing.T) {
	t.Parallel()
	m := plain(col("Note", cardimport.Remarks))
	for cell, want := range map[string]string{
		"=SUM(A1:A9)": "cell-formula", "=A1": "cell-formula", "@SUM(A1)": "cell-formula",
		"#REF!": "cell-spreadsheet-error", "#N/A": "cell-spreadsheet-error",
		`"=HYPERLINK(""http://a.example"")"`: "cell-formula", "= see card 12": "", "-": "", "+ two coats": "", "@ the bench": "", "'=SUM(A1)": "cell-formula",
	} {
		if card := first(t, m, "No,Note\n1,"+cell+"\n"); codes(card.Faults) != want {
			t.Errorf("%s: got %v, want %q", cell, card.Faults, want)
		}
	}
	card := first(t, m, "No,Note,Other\n\"=\"\"0042\"\"\",'-5,=SUM(A1)\n")
	if said(t, card).At("/specimen/identifier/value") != "0042" || said(t, card).At("/remarks") != "-5" ||
		card.Faults != nil {
		t.Errorf("got %+v, want the number as text, the guard taken off, and no fault for a column that is not read", card)
	}
}

func TestActions(t *testing.T) {
	t.Parallel()
	m := plain(col("Act", cardimport.Action), col("How", cardimport.Method), col("Coats", cardimport.Coats),
		col("Solvent", cardimport.Solvent), col("M", cardimport.Material))
	m.Constants = nil
	m.Actions, m.Methods = map[string]string{"Hardened": "consolidation"}, map[string]string{"dipped": "immersion"}
	for row, want := range map[string]string{
		"1,hardened,dipped,2,,":         `{"action":"consolidation","coats":2,"method":"immersion"}`,
		"1,pest treatment,with love,,,": `{"action":"pest-treatment","method":"other","methodRemark":"with love"}`,
		"1,Test,Swab,,acetone,old coat": `{"action":"test","method":"swab","remarks":"material on the card: old coat","solventExposure":[{"during":"test","solvent":"acetone","time":{"answer":"unknown"}}],"test":{"observed":"unknown"}}`,
		"1,examination,,,,":             `{"action":"examination","examination":{"outcome":"inconclusive"}}`,
		"1,sampling,,,soap,":            `{"action":"sampling","remarks":"solvent on the card: soap","sampling":{"mass":{"answer":"unknown"}}}`,
		"1,labelling,,,,":               `{"action":"labelling","label":{"number":"1","numberRecorded":true}}`,
		"1,polished,,,,":                "action-unknown",
		"1,,,,,":                        "action-missing",
		"1,cleaning,,many,,":            "coats-unreadable",
	} {
		card := first(t, m, "No,Act,How,Coats,Solvent,M\n"+row+"\n")
		words := said(t, card)
		for _, member := range []string{"specimen", "areas", "dates", "oldCard"} {
			delete(words, member)
		}
		got, _ := json.Marshal(words)
		if string(got) != want && codes(card.Faults) != want {
			t.Errorf("%s: got %s, %v, want %s", row, got, card.Faults, want)
		}
	}
}

func TestMappingFaults(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		mapping cardimport.Mapping
		text    string
		want    string
	}{
		"no number":             {cardimport.Mapping{Columns: []cardimport.Column{col("a", cardimport.Action)}}, "a\n", "number-column-missing"},
		"no action":             {cardimport.Mapping{Columns: []cardimport.Column{col("a", cardimport.Number)}}, "a\n", "action-missing"},
		"two numbers":           {plain(col("b", cardimport.Number)), "No,b\n", "field-twice"},
		"a constant number":     {cardimport.Mapping{Columns: plain().Columns, Constants: map[cardimport.Field]string{cardimport.Action: "test", cardimport.Number: "1"}}, "No\n", "constant-out-of-place"},
		"an empty constant":     {cardimport.Mapping{Columns: plain().Columns, Constants: map[cardimport.Field]string{cardimport.Action: " "}}, "No\n", "constant-empty"},
		"one and several":       {cardimport.Mapping{Columns: plain().Columns, Constants: plain().Constants, Materials: []cardimport.Reading{{Words: "x", Material: "a", Candidates: []string{"b"}}}}, "No\n", "reading-twice"},
		"a century":             {cardimport.Mapping{Columns: plain().Columns, Constants: plain().Constants, CenturyFrom: 30}, "No\n", "out-of-range"},
		"a column that is not":  {plain(col("When", cardimport.Date)), "No,Date\n", "column-not-in-table"},
		"a heading twice":       {plain(), "No,No\n", "heading-twice"},
		"an empty table":        {plain(), "", "table-empty"},
		"a heading with quotes": {plain(), "No,\"a\n", "heading-unreadable"},
		"an encoding":           {cardimport.Mapping{Columns: plain().Columns, Constants: plain().Constants, Encoding: "morse"}, "No\n", "encoding-unknown"},
	} {
		_, err := cardimport.NewReader(strings.NewReader(row.text), row.mapping, nil)
		if got := codes(fault.From(err)); got != row.want {
			t.Errorf("%s: got %q (%v), want %s", name, got, err, row.want)
		}
	}
}

func TestEncodings(t *testing.T) {
	t.Parallel()
	const text = "No,Note\nLÄ-7,“Härter” – 5 €\n"
	for encoding, bytes := range map[string]string{
		"":             text,
		"windows-1252": "No,Note\nL\xc4-7,\x93H\xe4rter\x94 \x96 5 \x80\n",
		"utf-16":       utf16Text("\ufeff" + text),
	} {
		m := plain(col("Note", cardimport.Remarks))
		m.Encoding = encoding
		card := first(t, m, bytes)
		if said(t, card).At("/specimen/identifier/value") != "LÄ-7" || said(t, card).At("/remarks") != "“Härter” – 5 €" {
			t.Errorf("%q: got %v", encoding, said(t, card))
		}
	}
	if card := first(t, plain(), "No\nL\xc4-7\n"); codes(card.Faults) != "line-unreadable" {
		t.Errorf("bytes that are not UTF-8: got %v, want line-unreadable", card.Faults)
	}
}

func utf16Text(s string) string {
	var b strings.Builder
	for _, unit := range utf16.Encode([]rune(s)) {
		b.WriteByte(byte(unit))
		b.WriteByte(byte(unit >> 8))
	}
	return b.String()
}

func TestLinesOfJSON(t *testing.T) {
	t.Parallel()
	m := plain(cardimport.Column{Name: "/object/no", Field: cardimport.Number, NumberKind: "field-number"},
		col("parts", cardimport.Areas), col("id", cardimport.CardID))
	m.Columns = m.Columns[1:]
	m.Format = cardimport.NDJSON
	text := `{"object":{"no":"LV.7"},"parts":["skull","jaw"],"id":12.50,"extra":{"b":[1]},"flag":true}

[1]
{"object":{"no":"LV.8"}} {"object":{}}
{"object":{"no":{"a":1}}}
{"id":"x"}
not json
{"object":{"no":"LV.9"},"parts":null}`
	r, err := cardimport.NewReader(strings.NewReader(text), m, vocabulary)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, card := range readAll(t, r) {
		got = append(got, summary(card))
		if card.Line == 1 {
			verbatim := "/object/no: LV.7\nparts: skull; jaw\nid: 12.50\nextra: {\"b\":[1]}\nflag: true"
			if card.SourceID != "12.50" || said(t, card).At("/areas/paths/1") != "jaw" ||
				said(t, card).At("/oldCard/verbatim") != verbatim ||
				said(t, card).At("/specimen/identifier/kind") != "field-number" {
				t.Errorf("got %+v", card)
			}
		}
	}
	want := []string{"1: taken", "3: refused line-unreadable at ", "4: refused line-unreadable at ",
		"5: refused line-unreadable at ", "6: refused number-missing at /~1object~1no",
		"7: refused line-unreadable at ", "8: taken"}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

func TestDoubledCardsAreNoticed(t *testing.T) {
	t.Parallel()
	r, err := cardimport.NewReader(strings.NewReader("No,Id\n1,a\n2,b\n3,a\n01,c\n"),
		plain(col("Id", cardimport.CardID)), nil)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, card := range readAll(t, r) {
		got = append(got, summary(card))
	}
	if diff := cmp.Diff(got, []string{"2: taken", "3: taken", "4: card-doubled at Id",
		"5: number-spelled-two-ways at No"}); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

// For every table: each line that is not blank comes back once, as a statement
// with all of its words or with reasons.
func TestNothingIsLost(t *testing.T) {
	t.Parallel()
	m := shoebox
	cell := rapid.OneOf(rapid.SampledFrom([]string{"", "LV.1", "hardened", "12.4.1934", "shellac", "5%", "PVA", "=A1",
		"?", "whole", "skull;jaw", "a//b"}), rapid.StringN(0, 8, 20))
	rapid.Check(t, func(t *rapid.T) {
		var table strings.Builder
		table.WriteString("Card,Number,Part,Treatment,Material,Strength,Solvent,Date,By,State before,State after,Notes\n")
		rows := rapid.IntRange(1, 5).Draw(t, "rows")
		var words [][]string
		for range rows {
			var cells []string
			for i := range 12 {
				c := strings.Map(func(r rune) rune {
					if r == '"' || r == '\n' || r == '\r' || r == 0 || r == '\ufeff' || r == '\'' {
						return 'x'
					}
					return r
				}, cell.Draw(t, fmt.Sprint(i)))
				cells = append(cells, c)
			}
			cells[11] = "end" + cells[11]
			words = append(words, cells)
			table.WriteString(`"` + strings.Join(cells, `","`) + "\"\n")
		}
		r, err := cardimport.NewReader(strings.NewReader(table.String()), m, vocabulary)
		if err != nil {
			t.Fatal(err)
		}
		for i := range rows {
			card, err := r.Next()
			if err != nil || card.Line != i+2 {
				t.Fatalf("row %d: got line %d, %v", i, card.Line, err)
			}
			if card.Faults != nil {
				continue
			}
			verbatim, _ := said(t, card).At("/oldCard/verbatim").(string)
			for _, word := range words[i] {
				if !strings.Contains(verbatim, strings.TrimSpace(word)) {
					t.Fatalf("%q is not in %q", word, verbatim)
				}
			}
		}
		if _, err := r.Next(); !errors.Is(err, io.EOF) {
			t.Fatalf("got %v, want the end", err)
		}
	})
}

func TestCellsThatSayNobodyKnows(t *testing.T) {
	t.Parallel()
	m := plain(col("When", cardimport.Date), col("Where", cardimport.Areas), col("Who", cardimport.Person))
	for _, text := range []string{"?", "unknown", "(Unknown)", "-", "n.d."} {
		card := first(t, m, "No,When,Where,Who\n1,"+text+","+text+","+text+"\n")
		if card.Faults != nil || said(t, card).At("/dates/answer") != "unknown" ||
			said(t, card).At("/areas/answer") != "unknown" || said(t, card).At("/people/0/person/answer") != "unknown" {
			t.Errorf("%s: got %v, %v, want it answered with unknown", text, said(t, card), card.Faults)
		}
	}
}

func TestValueAt(t *testing.T) {
	t.Parallel()
	o := object{"a": []any{map[string]any{"b/c": map[string]any{"~": 0}}, "x"}}
	for pointer, want := range map[string]string{
		"/a/0/b~1c/~0": "0", "/a/1": "x", "/a/2": "<nil>", "/a/-1": "<nil>", "/a/x": "<nil>", "/a/1/y": "<nil>",
		"/nothing": "<nil>",
	} {
		if got := fmt.Sprint(o.At(pointer)); got != want {
			t.Errorf("At(%s): got %s, want %s", pointer, got, want)
		}
	}
}

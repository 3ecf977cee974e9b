package paper_test

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"meniscus/internal/paper"
	"meniscus/internal/pdftext"
	"meniscus/internal/typeface"
)

func sample() paper.Paper {
	return paper.Paper{
		Title: "Treatment record", About: "LV.1987/0042", Institution: "Museum of the Lower Valley",
		Address: "https://meniscus.example/v1/specimens/01900000-0000-7000-8000-000000000022",
		Before:  []paper.Notice{{"The specimen holds arsenic.", false}, {"It was not examined for mercury.", true}},
		Sections: []paper.Section{{Title: "The specimen", Lines: []paper.Line{
			{Fields: []paper.Field{{"Owner", "none"}, {"Made of", "bone"}, {"Description", strings.Repeat("long words ", 20)}}},
			{Text: "Text."}, {Strong: "Strong."}, {Tick: "Tick."}, {Write: []string{"Date", "Name"}},
		}}},
		After: []string{"Caution."}, Foot: "Foot.", Record: "up to entry 7",
	}
}

// Both renderings say the same, in the same order; nothing is said twice.
func TestBothRenderingsSayTheSame(t *testing.T) {
	t.Parallel()
	p := sample()
	page, err := p.HTML()
	if err != nil {
		t.Fatal(err)
	}
	printed := textOf(t, p)
	for name, said := range map[string]string{"HTML": string(page[bytes.Index(page, []byte("<main>")):]), "PDF": printed} {
		said = strings.Join(strings.Fields(said), " ")
		at := 0
		for _, want := range []string{
			"LV.1987/0042", "Museum of the Lower Valley", "The specimen holds arsenic.", "It was not examined for mercury.", "The specimen",
			"Owner:", "none", "Made of:", "bone", "Description:", "long words long words", "Text.", "Strong.", "Tick.", "Date", "Name",
			"Caution.", "Foot.",
		} {
			i := strings.Index(said[at:], want)
			if i < 0 {
				t.Errorf("%s: %q is not said, or not in order:\n%s", name, want, said)
				break
			}
			at += i + len(want)
		}
		if n := strings.Count(said, "Strong."); n != 1 {
			t.Errorf("%s: one line is said %d times", name, n)
		}
	}
}

var sheet = regexp.MustCompile(`/Type /Page\b`)

// textOf is the paper's text as it is printed, a text a line.
func textOf(t *testing.T, p paper.Paper) string {
	t.Helper()
	body, err := p.PDF()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(pdftext.Of(body), "\n") + "\n"
}

// The letters cover the languages of museums' records, Latin, Greek and Cyrillic: the
// alphabets are those of CLDR's exemplar characters (recalled).
func TestTheLettersCoverThreeScripts(t *testing.T) {
	t.Parallel()
	for script, letters := range map[string]string{
		"Latin": "AÁÀÂÄÃÅĀĂĄÆBCÇĆČĊDĎĐEÉÈÊËĒĖĘĚFGĞĠĢHĦIÍÌÎÏĪĮİJKĶLŁĹĻĽMNÑŃŅŇOÓÒÔÖÕŐØŒPQRŔŘSŚŞŠTŢŤUÚÙÛÜŪŮŰŲVWXYÝŸZŹŻŽÞ" +
			"aáàâäãåāăąæbcçćčċdďđeéèêëēėęěfgğġģhħiíìîïīįıjkķlłĺļľmnñńņňoóòôöõőøœpqrŕřsśşšßtţťuúùûüūůűųvwxyýÿzźżžþ",
		"Greek":    "ΑΆΒΓΔΕΈΖΗΉΘΙΊΪΚΛΜΝΞΟΌΠΡΣΤΥΎΫΦΧΨΩΏαάβγδεέζηήθιίϊΐκλμνξοόπρσςτυύϋΰφχψωώ",
		"Cyrillic": "АБВГДЕЁЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯҐЄІЇЎЂЃЈЉЊЋЌЏабвгдеёжзийклмнопрстуфхцчшщъыьэюяґєіїўђѓјљњћќџ",
		"signs":    "0123456789 .,;:!?()[]/\\+-–—±×·°%‰µ²³≤≥≈<>=“”„‘’«»§€&'\"",
	} {
		if lacks := typeface.Lacking(letters); len(lacks) > 0 {
			t.Errorf("%s: the letters lack %v", script, lacks)
		}
	}
}

// Bad words do no harm: markup is text, an address of a script is no link, a name as long
// as a line is broken and whole, and what has no letters is said to be lacking.
func TestBadWordsDoNoHarm(t *testing.T) {
	t.Parallel()
	p, chemical := sample(), strings.Repeat("2-methyl-prop-2-enoate", 18)+"end."
	p.About, p.Address = `<script>alert(1)</script>`, "javascript:alert(1)"
	p.Sections = []paper.Section{{Title: "<b>Title</b>", Lines: []paper.Line{
		{Fields: []paper.Field{{"Name", chemical}, {"Words", "\u202eabc\u202c שלום <img src=x>"}}},
		{Tick: strings.Repeat("x", 3000)}, {Write: []string{strings.Repeat("w", 300)}},
	}}}
	page, err := p.HTML()
	if err != nil {
		t.Fatal(err)
	}
	for _, refused := range []string{"<script", "<img", "<b>", `href="javascript`} {
		if bytes.Contains(page, []byte(refused)) {
			t.Errorf("the page holds %s:\n%s", refused, page)
		}
	}
	said := textOf(t, p)
	if !strings.Contains(strings.Join(strings.Fields(said), ""), chemical) {
		t.Errorf("the long name is not whole:\n%s", said)
	}
	if !strings.Contains(said, "stands for a character that the letters of this print lack") {
		t.Errorf("it is not said that characters are lacking:\n%s", said)
	}
}

// Of very much a hundred sheets are printed, and that is said.
func TestAHundredSheetsAreEnough(t *testing.T) {
	t.Parallel()
	p := sample()
	for range 200 {
		p.Sections = append(p.Sections, paper.Section{Title: "Part", Lines: []paper.Line{{Text: strings.Repeat("Words. ", 2500)}}})
	}
	body, err := p.PDF()
	if err != nil {
		t.Fatal(err)
	}
	if n := len(sheet.FindAll(body, -1)); n < 100 || n > 110 {
		t.Errorf("got %d sheets", n)
	}
	if said := textOf(t, p); !strings.Contains(said, "Only 100 sheets are printed") || !strings.Contains(said, "Caution.") {
		t.Error("it is not said that sheets are missing, or the cautions are")
	}
}

// Much is printed on many sheets, and each says which of how many it is.
func TestManySheets(t *testing.T) {
	t.Parallel()
	p := sample()
	for i := range 300 {
		p.Sections = append(p.Sections, paper.Section{Title: fmt.Sprintf("Part %d", i), Lines: []paper.Line{{Text: "Words."}}})
	}
	body, err := p.PDF()
	if err != nil {
		t.Fatal(err)
	}
	said, sheets := textOf(t, p), len(sheet.FindAll(body, -1))
	if sheets < 10 || !strings.Contains(said, fmt.Sprintf("sheet %d of %d", sheets, sheets)) {
		t.Errorf("%d sheets do not say how many they are", sheets)
	}
}

package stack_test

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"meniscus/internal/stack"
)

// longHistory is an awkward specimen: old words, unknown dates, a removal
// that left something, a bone that lies apart.
func longHistory(t testing.TB) *stack.Stack {
	t.Helper()
	return newStack(t, bone(pieces("left-femur")),
		with(put("lacquer", stack.Consolidation, "skull", "195X", words("lacquer", "shellac", nitrate)),
			method(stack.Immersion)),
		put("number", stack.Labelling, "skull/occipital", "../1972", words("white paint & <ink>")),
		with(put("join", stack.Joining, "skull/left-orbit", "1985", of(acetate, "acetone")),
			areas("skull/left-orbit", "skull/right-orbit")),
		put("coat", stack.Coating, "skull/left-orbit", "2004/2009", of(copolymer, "toluene")),
		tried("try", "skull/left-orbit", "2013", "coat", "ethanol", "swells"),
		off("taken", "skull/left-orbit", "2016-05", stack.Reduced, "ethanol", "coat"),
		examined("look", "left-femur", "2021"),
		stack.Treatment{ID: "lost", Action: stack.Coating, AreasUnknown: true, Uses: []stack.Use{words("varnished?")}},
		put("femur", stack.Consolidation, "left-femur/distal-end", "2023-03-04", of(copolymer, "acetone")),
	)
}

// TestTimeline: it is well-formed, it has a text for everything that it draws,
// and it draws what is not sure as not sure.
func TestTimeline(t *testing.T) {
	t.Parallel()
	svg := string(longHistory(t).Timeline(`LV.1987/0042 "skull" & femur`))
	elements, titles := parse(t, svg)
	if elements["svg"] != 1 || elements["desc"] != 1 || titles < 9 {
		t.Errorf("got %v with %d titles, want one picture, a description and a title for each mark", elements, titles)
	}
	for _, want := range []string{
		`role="img"`, `aria-labelledby="timeline-title timeline-desc"`, `&amp; femur`, `white paint &amp; &lt;ink&gt;`,
		"stroke-dasharray", "url(#p-joint)", ">?<", "test: swells", "examined: none found", "place unknown",
		"not shown to be untreated",
	} {
		if !strings.Contains(svg, want) {
			t.Errorf("got no %q in the picture, want it", want)
		}
	}
	if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") || strings.Contains(svg, `width="-`) {
		t.Error("got a number that cannot be drawn")
	}
}

// TestTimelineOfNothing is a picture that says so.
func TestTimelineOfNothing(t *testing.T) {
	t.Parallel()
	svg := string(newStack(t, bone()).Timeline("LV.2001/1"))
	parse(t, svg)
	if !strings.Contains(svg, "No layer is recorded, which does not mean that there is none.") {
		t.Errorf("got %s, want it to say that nothing is recorded", svg)
	}
}

// TestTimelineIsBounded: a picture of ten thousand layers counts what it does
// not draw.
func TestTimelineIsBounded(t *testing.T) {
	t.Parallel()
	svg := string(newStack(t, bone(), crowd(10_000)...).Timeline("crowd"))
	parse(t, svg)
	if len(svg) > 400_000 || !strings.Contains(svg, "more layers are not drawn") {
		t.Errorf("got %d bytes, want a bounded picture that says what it leaves out", len(svg))
	}
}

func parse(t *testing.T, svg string) (elements map[string]int, titles int) {
	t.Helper()
	elements = map[string]int{}
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return elements, elements["title"]
		}
		if err != nil {
			t.Fatalf("got %v, want well-formed XML", err)
		}
		if e, ok := token.(xml.StartElement); ok {
			elements[e.Name.Local]++
		}
	}
}

// TestTimelineOfWhatWasTakenInPart: a coat of the skull that was taken off one
// orbit is not drawn as reduced all over.
func TestTimelineOfWhatWasTakenInPart(t *testing.T) {
	t.Parallel()
	coat := put("coat", stack.Coating, "skull", "2009-03-10", of(copolymer, "acetone"))
	bars := func(area stack.Area) (full, half int) {
		t.Helper()
		svg := string(newStack(t, bone(), coat, off("taken", area, "2019-05-21", stack.Reduced, "acetone", "coat")).Timeline(
			"LV.1987/0042"))
		drawn, _, _ := strings.Cut(svg, "consolidant, in the body") // the legend follows
		return strings.Count(drawn, `height="12.0"`), strings.Count(drawn, `height="6.0"`)
	}
	if full, half := bars("skull/left-orbit"); full != 2 || half != 1 {
		t.Errorf("of a part: got %d full and %d half bars, want the bar, and then a full outline half filled", full, half)
	}
	if full, half := bars("skull"); full != 1 || half != 1 {
		t.Errorf("of all of it: got %d full and %d half bars, want the bar, and then a half one", full, half)
	}
}

// TestAMarkNamesAllThatWasUsed: its title does, where the mark itself has room for
// three.
func TestAMarkNamesAllThatWasUsed(t *testing.T) {
	t.Parallel()
	bath := with(put("b", stack.BarrierCoat, "skull", "2001", of("plaster-of-paris", "acetone")), hours("ethanol", 1),
		hours("toluene", 2))
	drawn := string(newStack(t, bone(), bath).Timeline("LV.1"))
	if !strings.Contains(drawn, "<title>barrier with acetone, ethanol, plaster of Paris (gypsum) and toluene, 2001, "+
		"on skull</title>") {
		t.Errorf("got %s, want all of the liquids named", drawn)
	}
}

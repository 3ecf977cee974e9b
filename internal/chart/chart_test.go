package chart_test

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"

	"meniscus/internal/chart"
)

// A picture is well formed whatever its labels say, says what it shows in its title and its
// description, and has a bar for each count, as long as the count is to the greatest.
func TestBarsAreAsLongAsTheirCounts(t *testing.T) {
	t.Parallel()
	bars := chart.Bars{Title: "Treatments by <action>", Rows: []chart.Bar{
		{`<script>alert(1)</script>`, 40}, {strings.Repeat("long ", 40), 10}, {"none", 0}}}
	var lengths, said []string
	d := xml.NewDecoder(strings.NewReader(bars.SVG()))
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, bars.SVG())
		}
		switch token := token.(type) {
		case xml.StartElement:
			if token.Name.Local == "script" {
				t.Error("a label is run")
			}
			for _, a := range token.Attr {
				if token.Name.Local == "rect" && a.Name.Local == "width" {
					lengths = append(lengths, a.Value)
				}
			}
		case xml.CharData:
			said = append(said, string(token))
		}
	}
	if got := strings.Join(lengths, " "); got != "100.0% 25.0% 0.0%" {
		t.Errorf("the bars are %s long", got)
	}
	if said[0] != bars.Title || said[1] != bars.About() || said[2] != "40  <script>alert(1)</script>" ||
		!strings.HasSuffix(said[3], "…") || !strings.HasPrefix(said[3], "10  long") {
		t.Errorf("got %q", said)
	}
}

// Of very many the first are drawn, and that is said.
func TestBarsAreNotTooMany(t *testing.T) {
	t.Parallel()
	var bars chart.Bars
	for i := range 20 {
		bars.Rows = append(bars.Rows, chart.Bar{fmt.Sprint("row ", i), int64(i)})
	}
	if n := strings.Count(bars.SVG(), "<rect"); n != chart.Most || !strings.Contains(bars.About(), "8 more are in the table") {
		t.Errorf("%d bars are drawn: %s", n, bars.About())
	}
	if got := bars.Length(bars.Rows[chart.Most-1]); got != 1 {
		t.Errorf("the longest that is drawn is %v long", got)
	}
}

package sheet_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/sheet"
)

// read gives all rows as text: cells between bars, or the reason.
func read(t interface{ Fatal(...any) }, r io.Reader, columns int) []string {
	reader := sheet.NewReader(r, ',')
	reader.Expect(columns)
	var out []string
	for {
		row, err := reader.Next()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		if row.Wrong != "" {
			out = append(out, fmt.Sprintf("%d wrong: %s", row.Line, row.Raw))
		} else {
			out = append(out, fmt.Sprintf("%d %s", row.Line, strings.Join(row.Cells, "|")))
		}
	}
}

func TestRead(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		text string
		want []string
	}{
		"plain":                      {"a,b\nc,d\n", []string{"1 a|b", "2 c|d"}},
		"no line break at the end":   {"a,b\nc,d", []string{"1 a|b", "2 c|d"}},
		"CR LF and a mark":           {"\xef\xbb\xbfa,b\r\nc,d\r\n", []string{"1 a|b", "2 c|d"}},
		"empty cells":                {",b\na,\n", []string{"1 |b", "2 a|"}},
		"blank rows":                 {"a,b\n\n,\n\r\nc,d\n", []string{"1 a|b", "5 c|d"}},
		"quotes":                     {`"a,1","b ""x"""` + "\n", []string{`1 a,1|b "x"`}},
		"a quote inside a cell":      {`5" jar,b` + "\n", []string{`1 5" jar|b`}},
		"a cell over two lines":      {"\"a\nb\",c\nd,e\n", []string{"1 a\nb|c", "3 d|e"}},
		"more cells, but empty":      {"a,b,,\nc,d\n", []string{"1 a|b", "2 c|d"}},
		"too many cells":             {"a,b,c\nd,e\n", []string{"1 wrong: a,b,c", "2 d|e"}},
		"too few cells":              {"a\nd,e\n", []string{"1 wrong: a", "2 d|e"}},
		"text after a quote":         {"\"a\" b,c\nd,e\n", []string{`1 wrong: "a" b,c`, "2 d|e"}},
		"a quote never closed":       {"a,b\nc,\"d\ne,f\ng,h\n", []string{"1 a|b", `2 wrong: c,"d`, "3 e|f", "4 g|h"}},
		"a quote closed by the next": {"a,\"b\nc,\"d\"\ne,f\n", []string{`1 wrong: a,"b`, "2 c|d", "3 e|f"}},
		"an open quote that eats a row of another width": {"a,\"b\nc\",d,e\nf,g\n", []string{`1 wrong: a,"b`, "2 wrong: c\",d,e", "3 f|g"}},
		"bytes that are no text":                         {"a,\xff\nc,d\n", []string{"1 wrong: a,�", "2 c|d"}},
		"NUL":                                            {"a,\x00\nc,d\n", []string{"1 wrong: a,�", "2 c|d"}},
		"NUL among bytes that are no text":               {"a,\x00\xff\nc,d\n", []string{"1 wrong: a,��", "2 c|d"}},
		"an open quote before bytes":                     {"a,\"b\n\xff\nc,d\n", []string{`1 wrong: a,"b`, "2 wrong: �", "3 c|d"}},
		"any script":                                     {"ЛВ-17,🦴\nשלום,头骨\n", []string{"1 ЛВ-17|🦴", "2 שלום|头骨"}},
		"nothing":                                        {"", nil},
	} {
		for how, r := range map[string]io.Reader{
			"": strings.NewReader(row.text), " byte by byte": iotest.OneByteReader(strings.NewReader(row.text)),
		} {
			if diff := cmp.Diff(read(t, r, 2), row.want); diff != "" {
				t.Errorf("%s%s (-got +want):\n%s", name, how, diff)
			}
		}
	}
}

func TestALineThatIsTooLongCostsOneLine(t *testing.T) {
	t.Parallel()
	text := "a,b\n" + strings.Repeat("x\x00\xff", sheet.MaxLine/3+10) + "\nc,d\n"
	reader := sheet.NewReader(strings.NewReader(text), ',')
	var got []string
	for {
		row, err := reader.Next()
		if err != nil {
			break
		}
		kept := len(row.Raw) < 10_000 && utf8.ValidString(row.Raw) && !strings.Contains(row.Raw, "\x00") // what can be stored
		got = append(got, fmt.Sprintf("%d %v %s", row.Line, kept, row.Wrong))
	}
	want := []string{"1 true ", "2 true The line is longer than 1048576 bytes.", "3 true "}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

func TestAFailingSourceIsNoEnd(t *testing.T) {
	t.Parallel()
	broken := errors.New("the line was cut")
	reader := sheet.NewReader(io.MultiReader(strings.NewReader("a,b\nc"), iotest.ErrReader(broken)), ',')
	if _, err := reader.Next(); err != nil {
		t.Fatalf("first row: %v", err)
	}
	if _, err := reader.Next(); !errors.Is(err, broken) {
		t.Errorf("second row: got %v, want %v", err, broken)
	}
}

// A broken quote in the middle of a large file affects only its own line.
func TestABrokenQuoteInTheMiddle(t *testing.T) {
	t.Parallel()
	const rows, broken = 200_000, 100_000
	pipe, w := io.Pipe()
	go func() {
		for i := range rows {
			note := fmt.Sprintf("card %d", i)
			if i == broken {
				note = `"card in the middle`
			} else if i%1000 == 0 {
				note = "\"two\nlines\""
			}
			_, _ = fmt.Fprintf(w, "%d,%s\n", i, note)
		}
		_ = w.Close()
	}()
	reader := sheet.NewReader(pipe, ',')
	reader.Expect(2)
	good, wrong := 0, 0
	for {
		row, err := reader.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if row.Wrong != "" {
			wrong++
		} else {
			good++
		}
	}
	if good != rows-1 || wrong != 1 {
		t.Errorf("got %d good and %d wrong, want %d and 1", good, wrong, rows-1)
	}
}

func TestGuard(t *testing.T) {
	t.Parallel()
	for cell, want := range map[string]string{
		"=SUM(A1)": "'=SUM(A1)", "+49": "'+49", "-5": "-5", "-12.5": "-12.5", "-1e-6": "-1e-6", "-.5": "-.5", "-5-1": "'-5-1",
		"--5": "'--5", "－5": "'－5", "- 5": "'- 5", "-5 °C": "'-5 °C", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx",
		"\nx": "'\nx",
		"＝1":  "'＝1", "'=x": "''=x", "'": "''", "": "", "a=b": "a=b", " =x": "' =x", "\u00a0=x": "'\u00a0=x",
		"\u200e=x": "'\u200e=x", "\ufeff@x": "'\ufeff@x", "\"=x": "'\"=x", "\" +x": "'\" +x", "﹢x": "'﹢x",
		" -5": "' -5", " x": " x", "\"x\"": "\"x\"", " 'x": " 'x", "1-2": "1-2", "🦴": "🦴",
	} {
		if got := sheet.Guard(cell); got != want {
			t.Errorf("Guard(%q): got %q, want %q", cell, got, want)
		}
	}
	for cell, want := range map[string]string{
		"'tis": "'tis", "'": "'", "''": "'", "'=x": "=x", "' =x": " =x", "'-5": "-5", "x": "x",
	} {
		if got := sheet.Unguard(cell); got != want {
			t.Errorf("Unguard(%q): got %q, want %q", cell, got, want)
		}
	}
}

var anyCell = rapid.OneOf(
	rapid.StringMatching(`[a-zA-Z0-9 ,;"'=+@\t\r\n-]{0,12}`),
	rapid.SampledFrom([]string{
		"=1+1", "@a", "-", "'", "''=", "\r\n", "\r", "a\rb", "\n", `"`, "＠", "ЛВ", "שלום", " ",
	}),
)

// formula is a cell that begins like one, as far as the cells below can.
var formula = regexp.MustCompile(`^([\t\r]|[ "]*[=+@-])`)

// What is written comes back as it was, to this reader and to another one, and
// no cell begins like a formula.
func TestWrittenCellsComeBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(1, 5).Draw(t, "width")
		rows := rapid.SliceOfN(rapid.SliceOfN(anyCell, width, width), 1, 6).Draw(t, "rows")
		for i := range rows {
			rows[i][0] = "row" + rows[i][0] // a row of empty cells is skipped
		}
		var out bytes.Buffer
		w := sheet.NewWriter(&out)
		for _, row := range rows {
			if err := w.Write(row...); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		other, err := csv.NewReader(bytes.NewReader(out.Bytes())).ReadAll()
		if err != nil || len(other) != len(rows) {
			t.Fatalf("another reader: got %d rows, %v, want %d\n%q", len(other), err, len(rows), out.String())
		}
		reader := sheet.NewReader(&out, ',')
		reader.Expect(width)
		for i, want := range rows {
			got, err := reader.Next()
			if err != nil || got.Wrong != "" {
				t.Fatalf("row %d: %v, %s", i, err, got.Wrong)
			}
			for j := range want {
				if _, err := strconv.ParseFloat(got.Cells[j], 64); err != nil && formula.MatchString(got.Cells[j]) {
					t.Fatalf("cell %q begins like a formula", got.Cells[j])
				}
				if back := sheet.Unguard(got.Cells[j]); back != want[j] {
					t.Fatalf("got %q, want %q", back, want[j])
				}
			}
		}
	})
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestAFailingDestinationIsTold(t *testing.T) {
	t.Parallel()
	w := sheet.NewWriter(failing{})
	_ = w.Write("a")
	if err := w.Flush(); err == nil {
		t.Error("got no error, want one")
	}
}

// The reader never stops before the end, never gives a line twice, and never
// loses one.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{"a,b\nc,\"d\ne,f", "\"\"\"\n\"", "\r\n,\r", "a\x00\n\"b\nc\"x\n"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		reader := sheet.NewReader(strings.NewReader(text), ',')
		last := 0
		for {
			row, err := reader.Next()
			if errors.Is(err, io.EOF) {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if row.Line <= last {
				t.Fatalf("line %d after line %d", row.Line, last)
			}
			last = row.Line
			if !utf8.ValidString(row.Raw) || strings.Contains(row.Raw, "\x00") {
				t.Fatalf("line %d cannot be stored: %q", row.Line, row.Raw)
			}
			if (row.Wrong == "") == (row.Cells == nil) {
				t.Fatalf("line %d is both a row and none: %+v", row.Line, row)
			}
		}
	})
}

package material

import (
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
)

// tables copies the built-in tables so that a test can break them.
func tables(t *testing.T) fstest.MapFS {
	t.Helper()
	out := fstest.MapFS{}
	entries, err := fs.ReadDir(embedded, "data")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := fs.ReadFile(embedded, "data/"+e.Name())
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name()] = &fstest.MapFile{Data: data}
	}
	return out
}

// broken is the columns of a table and one of its rows, to be changed.
type broken struct {
	file  string
	lines []string
	line  int // of the row, from 1
	names []string
}

// middle takes the middle row of a table.
func middle(files fstest.MapFS, file string) broken {
	b := broken{file: file, lines: strings.Split(strings.TrimSuffix(string(files[file].Data), "\n"), "\n")}
	first := 0
	for strings.HasPrefix(b.lines[first], "#") {
		first++
	}
	b.names = strings.Split(b.lines[first], "\t")
	b.line = (first+len(b.lines))/2 + 1
	return b
}

// with gives the table with one cell changed.
func (b broken) with(column, value string) []byte {
	lines := append([]string(nil), b.lines...)
	cells := strings.Split(lines[b.line-1], "\t")
	for i, name := range b.names {
		if name == column {
			cells[i] = value
		}
	}
	lines[b.line-1] = strings.Join(cells, "\t")
	return []byte(strings.Join(lines, "\n") + "\n")
}

// breakages are the cells that no table may hold, by column.
var breakages = map[string][]string{
	"source":        {"", "no-such-source"},
	"also":          {"no-such-source"},
	"status":        {"", "certain", "own"},
	"material":      {"", "no-such-material"},
	"subject":       {"no-such-material"},
	"component":     {"no-such-material"},
	"solvent":       {"no-such-material"},
	"with":          {"no-such-material"},
	"broader":       {"no-such-material"},
	"member":        {"no-such-material"},
	"class":         {"no-such-material"},
	"a":             {"no-such-material"},
	"b":             {"no-such-material"},
	"container":     {"bucket"},
	"unit":          {"furlong"},
	"grade":         {"no-such-grade"},
	"within":        {"no-such-grade"},
	"kind":          {"", "gadget"},
	"property":      {"", "beauty"},
	"rank":          {"best"},
	"age":           {"", "ancient"},
	"how":           {"magic"},
	"observed":      {"", "melts away"},
	"role":          {"", "glue"},
	"redissolvable": {"maybe"},
	"removable":     {"maybe"},
	"retreatable":   {"maybe"},
	"condition":     {},
	"reason":        {""},
	"effect":        {""},
	"analysis":      {"", "palmistry"},
	"rating":        {"unknown", "S"},
	"reading":       {"guess"},
	"low":           {"x"},
	"high":          {"x"},
	"c1":            {"", "1.2.3", "0x10", "NaN", "Inf"},
	"change":        {"much"},
	"basis":         {"w/v"},
	"at":            {"warm"},
	"value":         {""},
	"body":          {"someone"},
	"label":         {"perhaps"},
	"wording":       {"new"},
	"phase":         {"later"},
	"omitted":       {"all"},
	"public":        {"perhaps"},
	"code":          {"", "99"},
	"text":          {""},
	"citation":      {""},
	"key":           {""},
	"verdict":       {"sometimes"},
	"form":          {"cubic"},
	"id":            {""},
	"name":          {""},
	"family":        {""},
	"letters":       {""},
}

// allowed are cells that break other tables and not this one: a hazard class is
// words, a new grade is what the table of grades is for, a jar may have no code.
var allowed = map[string]bool{
	"precautions.tsv class=no-such-material": true, "small-packages.tsv class=no-such-material": true,
	"grades.tsv grade=no-such-grade": true, "containers.tsv code=": true,
}

func TestLoadRefusesEveryBrokenCell(t *testing.T) {
	t.Parallel()
	files := tables(t)
	for file := range files {
		t.Run(file, func(t *testing.T) {
			t.Parallel()
			b := middle(files, file)
			tried := 0
			for _, column := range b.names {
				for _, value := range breakages[column] {
					if allowed[file+" "+column+"="+value] {
						continue
					}
					tried++
					mustRefuse(t, files, file, b.with(column, value), fmt.Sprintf("%s:%d:", file, b.line), column+"="+value)
				}
			}
			if tried < 2 {
				t.Errorf("%s: %d breakages tried, want at least 2", file, tried)
			}
		})
	}
}

func TestLoadRefusesBrokenTables(t *testing.T) {
	t.Parallel()
	files := tables(t)
	for name, change := range map[string]func(b broken) ([]byte, string){
		"a cell too many": func(b broken) ([]byte, string) { return b.with("status", "verified\tmore"), "cells, want" },
		"a cell too few": func(b broken) ([]byte, string) {
			return []byte(strings.Join(b.lines, "\n") + "\nacetone\n"), "1 cells, want"
		},
		"no rows at all":   func(broken) ([]byte, string) { return nil, "no columns" },
		"another column":   func(b broken) ([]byte, string) { return []byte("material\tprice\n"), "the columns are" },
		"an older comment": func(b broken) ([]byte, string) { return []byte("# only words\n"), "no columns" },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			data, want := change(middle(files, "properties.tsv"))
			mustRefuse(t, files, "properties.tsv", data, want, name)
		})
	}
}

func TestLoadRefusesRulesBroken(t *testing.T) {
	t.Parallel()
	files := tables(t)
	for _, c := range []struct{ name, file, row, want string }{
		{"a number without a unit", "properties.tsv", "shellac\tany\tdensity\t1.2\t\t\t\talso\t\t\trecalled\tmemory", "number without a unit"},
		{"words with a unit", "properties.tsv", "shellac\tany\tdensity\theavy\tg/mL\t\t\talso\t\t\trecalled\tmemory", "neither a figure"},
		{"a range that runs downwards", "properties.tsv", "shellac\tany\tdensity\t1.3..1.2\tg/mL\t\t\talso\t\t\trecalled\tmemory", "downwards"},
		{"a second preferred value", "properties.tsv", "shellac\tany\tdensity\t1.2\tg/mL\t\t\tpreferred\t\t\trecalled\tmemory", "second preferred"},
		{"a body cleared of its consolidant", "reversibility.tsv", "shellac\tany\tconsolidant\tany\t\tyes\tyes\tyes\tso they say\t\trecalled\tmemory", "porous body"},
		{"a recalled rating called verified", "container-ratings.tsv", "glass\twater\tsatisfactory\tmemory\t\t\trecalled\tverified", "status memory"},
		{"a hazard statement without text", "hazards.tsv", "acetone\tstatement\tH999\tyes\t\tclp-2026\tverified", "has no text"},
		{"a limit in words of its own", "exposure-limits.tsv", "acetone\tosha\tpeak\tplenty\t\t\t\tclp-2026\tverified", "neither a figure"},
		{"a strength of nothing", "strengths.tsv", "shellac\tcoating\t\t0\t0\t%\tunknown\t\t\t\trecalled\tmemory", "are no range"},
		{"one weak source called verified", "properties.tsv",
			"shellac\tany\tdensity\t1.2\tg/mL\t\t\talso\t\t\tmaterials-encyclopedia\tverified",
			"nor are two of them independent"},
		{"a material that stands twice", "materials.tsv", "acetone\tacetone\tsolvent\tsolvent\t\t\trecalled\tmemory", "stands twice"},
		{"a class that is none", "solvent-classes.tsv", "acetone\tshellac\t\trecalled\tmemory", "not a class"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			data := append(append([]byte(nil), files[c.file].Data...), c.row+"\n"...)
			mustRefuse(t, files, c.file, data, c.want, c.row)
		})
	}
}

// mustRefuse loads the tables with one of them replaced and wants an error that
// holds the text.
func mustRefuse(t *testing.T, files fstest.MapFS, file string, data []byte, want, what string) {
	t.Helper()
	changed := fstest.MapFS{}
	for name, f := range files {
		changed[name] = f
	}
	changed[file] = &fstest.MapFile{Data: data}
	b, err := load(changed)
	if err == nil || b != nil {
		t.Errorf("%s: %s: loaded, want an error", file, what)
		return
	}
	if !strings.Contains(err.Error(), want) {
		t.Errorf("%s: %s: got %q, want it to hold %q", file, what, err, want)
	}
}

package internal

import (
	"fmt"
	"go/ast"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// paper is a row of a table of deploy/security: an id, and what holds it.
type paper struct {
	line        int
	id, verdict string
	by          []string // names of tests, and files from the top of the repository
	cells       []string
}

// papersOf reads a table of deploy/security, whose head names the standard with its version.
func papersOf(t *testing.T, name, standard string, columns ...string) []paper {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "deploy", "security", name))
	if err != nil {
		t.Fatal(err)
	}
	if head, _, _ := strings.Cut(string(text), "\n"); !strings.Contains(head, standard) {
		t.Errorf("%s: its first line does not name the %s", name, standard)
	}
	var rows []paper
	titled := false
	for i, line := range strings.Split(strings.TrimSuffix(string(text), "\n"), "\n") {
		cells := strings.Split(line, "\t")
		switch {
		case strings.HasPrefix(line, "#"):
		case !titled:
			if titled = true; line != strings.Join(columns, "\t") {
				t.Fatalf("%s: its columns are %q, want %q", name, cells, columns)
			}
		case len(cells) != len(columns):
			t.Fatalf("%s, line %d: %d cells, want %d", name, i+1, len(cells), len(columns))
		default:
			row := paper{line: i + 1, id: cells[0], cells: cells}
			for c, column := range columns {
				switch column {
				case "verdict":
					row.verdict = cells[c]
				case "by":
					row.by = strings.Fields(cells[c])
				}
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// verdicts are what a table may say of a requirement, and whether it then has to say why.
var verdicts = map[string]bool{
	"held": false, "partly": true, "not-held": true, "not-applicable": true, "operator": true,
}

// faults are what is wrong with rows: tests and files that are not there, ids that are there twice, and
// verdicts that nothing stands behind. The last cell of a row is its reason.
func faults(rows []paper, tests map[string]int) (faults []string) {
	seen := map[string]bool{}
	for _, row := range rows {
		fault := func(text string) { faults = append(faults, row.id+": "+text) }
		if seen[row.id] {
			fault("is there twice")
		}
		seen[row.id] = true
		asks, known := verdicts[row.verdict]
		why := row.cells[len(row.cells)-1]
		switch {
		case !known:
			fault("unknown verdict " + row.verdict)
		case row.verdict == "held" && len(row.by) == 0:
			fault("held by no test and no file")
		case asks && !strings.HasSuffix(why, "."):
			fault("does not say why in a sentence")
		}
		for _, name := range row.by {
			if aTest.MatchString(path.Base(name)) {
				switch tests[name] {
				case 0:
					fault("there is no test " + name)
				case 1:
				default:
					fault("several packages have a test " + name + "; say which, such as internal/httpapi/TestWalls")
				}
			} else if info, err := os.Stat(filepath.Join("..", filepath.FromSlash(name))); err != nil || info.IsDir() {
				fault("there is no file " + name)
			}
		}
	}
	return faults
}

var aTest = regexp.MustCompile(`^(Test|Fuzz)[A-Z]\w*$`)

// testsOf counts the tests of the repository by their names, and by their folders and names.
func testsOf(t *testing.T) map[string]int {
	names := map[string]int{}
	for _, s := range sources(t) {
		for _, d := range s.file.Decls {
			f, is := d.(*ast.FuncDecl)
			if is && s.test && f.Recv == nil && aTest.MatchString(f.Name.Name) {
				names[f.Name.Name]++
				names[path.Join(s.folder, f.Name.Name)]++
			}
		}
	}
	return names
}

// What the papers of deploy/security name is there, and every requirement of levels 1 and 2 of ASVS 5.0.0
// has its row: 70 and 183 (counted in the standard's own table,
// OWASP_Application_Security_Verification_Standard_5.0.0_en.csv), and the ten risks of the API Security Top 10.
func TestSecurityPapersNameWhatIsThere(t *testing.T) {
	t.Parallel()
	tests := testsOf(t)
	asvs := papersOf(t, "asvs-5-level-2.tsv", "OWASP Application Security Verification Standard 5.0.0",
		"id", "level", "subject", "verdict", "by", "why")
	risks := papersOf(t, "owasp-api-2023.tsv", "OWASP API Security Top 10, 2023", "id", "risk", "verdict", "by", "against")
	for name, rows := range map[string][]paper{"asvs-5-level-2.tsv": asvs, "owasp-api-2023.tsv": risks} {
		for _, fault := range faults(rows, tests) {
			t.Errorf("%s: %s", name, fault)
		}
	}
	anID, levels, chapter := regexp.MustCompile(`^V([1-9]|1[0-7])\.[1-9]\.[1-9]\d?$`), map[string]int{}, map[string]bool{}
	for _, row := range asvs {
		levels[row.cells[1]]++
		of, _, _ := strings.Cut(row.id, ".")
		chapter[of] = true
		if !anID.MatchString(row.id) || row.cells[2] == "" {
			t.Errorf("asvs-5-level-2.tsv, line %d: %q has no subject, or is no requirement", row.line, row.id)
		}
	}
	if levels["1"] != 70 || levels["2"] != 183 || len(levels) != 2 || len(chapter) != 17 {
		t.Errorf("got %v requirements by level in %d chapters, want 70 and 183 in 17", levels, len(chapter))
	}
	if len(risks) != 10 {
		t.Errorf("got %d risks, want ten", len(risks))
	}
	for i, row := range risks {
		if row.id != fmt.Sprintf("API%d:2023", i+1) {
			t.Errorf("owasp-api-2023.tsv, line %d: %s is not in its place", row.line, row.id)
		}
	}
}

// A row that nothing stands behind is found.
func TestSecurityPapersThatSayTooMuchAreFound(t *testing.T) {
	t.Parallel()
	tests := map[string]int{"TestWalls": 1, "TestMain": 2, "internal/httpapi/TestMain": 1}
	good := paper{id: "V1.1.1", verdict: "held", cells: []string{""},
		by: []string{"TestWalls", "internal/httpapi/TestMain", "internal/arch_test.go"}}
	if got := faults([]paper{good}, tests); len(got) != 0 {
		t.Errorf("got %v of a good row", got)
	}
	for want, row := range map[string]paper{
		"there is no test":       {verdict: "held", by: []string{"TestOfNothing"}, cells: []string{""}},
		"there is no file":       {verdict: "held", by: []string{"internal/nothing.go"}, cells: []string{""}},
		"several packages":       {verdict: "held", by: []string{"TestMain"}, cells: []string{""}},
		"no file internal":       {verdict: "held", by: []string{"internal"}, cells: []string{""}},
		"unknown verdict":        {verdict: "mostly", by: []string{"TestWalls"}, cells: []string{""}},
		"by no test and no":      {verdict: "held", cells: []string{"It is so."}},
		"does not say why":       {verdict: "not-held", cells: []string{""}},
		"V1.1.1: is there twice": {id: "V1.1.1", verdict: "held", by: []string{"TestWalls"}, cells: []string{""}},
	} {
		if got := faults([]paper{good, row}, tests); len(got) != 1 || !strings.Contains(got[0], want) {
			t.Errorf("got %v, want %q", got, want)
		}
	}
}

// Package internal holds only tests of rules for the source: which package may import
// which, and the like. If a rule is in the way, discuss it and change it here, with its
// reason.
package internal

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// edges are the packages that use the outside world (database, network, files) or its
// formats. Every other package under internal is core.
var edges = []string{
	"internal/calculation",
	"internal/deliver", "internal/exchange", "internal/httpapi", "internal/identity", "internal/layers", "internal/localpg",
	"internal/pgtest",
	"internal/postgres",
	"internal/recording", "internal/statement", "internal/telemetry", "internal/views", "internal/wire",
}

// coreMayImport are the modules that the core may import beside the standard library
// and itself. They only compute.
var coreMayImport = []string{
	"github.com/cockroachdb/apd/v3",
	// as a type; making one is refused below
	"github.com/google/uuid",
	"codeberg.org/go-pdf/fpdf", "github.com/boombuler/barcode", "golang.org/x/image", // the label's bytes
	"github.com/go-json-experiment/json/jsontext",                // a text in quotes, in a leaf of the log
	"golang.org/x/mod/sumdb/note", "golang.org/x/mod/sumdb/tlog", // the log's hashes and signatures
	"golang.org/x/text",
	"gonum.org/v1/gonum",
}

// coreMayNotImport are standard packages that reach outside, each with the reason why
// the core must not import it.
var coreMayNotImport = map[string]string{
	"crypto/rand":   "an answer would differ each time that it is computed",
	"database/sql":  "the arithmetic could no longer be checked without a database",
	"encoding/json": "the wire's names and types belong to the contract; httpapi converts",
	"expvar":        "it listens",
	"io/ioutil":     "it reads files; data are embedded",
	"log":           "a rule that logs has an effect; it returns findings instead",
	"log/slog":      "a rule that logs has an effect; it returns findings instead",
	"math/rand":     "an answer would differ each time that it is computed",
	"math/rand/v2":  "an answer would differ each time that it is computed",
	"net":           "the core asks nobody",
	"net/http":      "HTTP is httpapi's; a fault's kind says what went wrong, not a status",
	"os":            "the core reads no files and no environment",
	"os/exec":       "the core starts nothing",
	"os/signal":     "the core starts nothing",
	"syscall":       "the core asks nobody",
}

// coreMayWrite are the exceptions to coreMayNotImport: core packages that may import a
// standard package, with the reason.
var coreMayWrite = map[string][]string{
	// JSON-LD: the names are those of published standards; lines of cards: the names are those of the mapping.
	"encoding/json": {"internal/publish", "internal/cardimport"},
}

// coreMayNotCall are calls that make a computation depend on when or where it runs.
// Times and ids are parameters.
var coreMayNotCall = map[string][]string{
	"time":                   {"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker", "LoadLocation"},
	"github.com/google/uuid": {"New", "NewString", "NewV6", "NewV7", "NewRandom", "NewUUID", "SetRand"},
}

// onlyIn lists the only places where a module may be imported.
var onlyIn = []struct {
	module, reason string
	folders        []string
}{
	{"github.com/labstack/echo/v4", "HTTP is spoken in one place", []string{"internal/httpapi"}},
	{"net/http", "whoever speaks HTTP does nothing else", []string{"internal/httpapi", "internal/deliver", "cmd", "deploy"}},
	{"github.com/jackc/pgx/v5", "SQL is spoken in one place", []string{"internal/postgres", "internal/localpg", "internal/pgtest",
		"migrations",
		"deploy/running", // waits until the pooler answers
		"deploy/bench"}}, // measures beside statements of its own, and copies rows
	{"go.opentelemetry.io/otel", "what is measured is at the edges", []string{"internal/telemetry", "internal/httpapi",
		"internal/deliver", "internal/postgres", "cmd"}},
	{"github.com/coreos/go-oidc/v3", "tokens are read in one place", []string{"internal/identity"}},
	{"github.com/go-jose/go-jose/v4", "tokens are read in one place", []string{"internal/identity"}},
	{"database/sql", "queries go through pgx; only the migrations' library wants it", []string{"migrations"}},
	{"github.com/pressly/goose/v3", "the schema has one history", []string{"migrations"}},
	{"github.com/getkin/kin-openapi", "the contract is read by what speaks it", []string{"api", "internal/wire", "internal/httpapi", "deploy/check/fuzz"}},
	{"github.com/fergusstrange/embedded-postgres", "one way to fetch a database", []string{"internal/localpg"}},
	{"github.com/testcontainers/testcontainers-go", "containers are for tests", []string{"internal/pgtest"}},
	{"codeberg.org/go-pdf/fpdf", "one package prints labels, one papers", []string{"internal/label", "internal/paper"}},
	{"github.com/boombuler/barcode", "one package makes codes", []string{"internal/qrcode"}},
	{"golang.org/x/image", "one package measures letters", []string{"internal/typeface"}},
	{"encoding/csv", "one package writes tables, and guards their cells", []string{"internal/sheet"}},
}

// mayNot are pairs of our own packages of which the first must not import the second.
var mayNot = []struct{ from, to, reason string }{
	{"internal/postgres", "internal/httpapi", "the store answers to whoever asks, not to HTTP"},
	{"internal/postgres", "api", "the wire's types end at httpapi; the store keeps what was said, as it was said"},
	{"internal/layers", "internal/httpapi", "layers are read for reports and for verifying too, and not only for HTTP"},
	{"internal/exchange", "internal/httpapi", "what is carried in and out is bytes, however they travel"},
	{"internal/recording", "internal/httpapi", "what is recorded does not depend on how it came"},
	{"internal/wire", "internal/postgres", "JSON is judged before anything is stored"},
	{"internal/statement", "internal/postgres", "words are read before anything is stored"},
	{"internal/calculation", "internal/postgres", "a computation stores nothing"},
	{"internal/calculation", "internal/httpapi", "what is asked and answered does not depend on how it travels"},
	{"internal/views", "internal/postgres", "a view is made of what was read and worked out"},
	{"internal/views", "internal/layers", "a view is made of what was read and worked out"},
	{"internal/views", "internal/httpapi", "what a view says does not depend on how it travels"},
	{"internal/httpapi", "internal/substance", "what is known of a substance is looked up where a computation is read"},
	{"internal/localpg", "internal/postgres", "a private server knows nothing of the schema"},
	{"internal/localpg", "migrations", "a private server knows nothing of the schema"},
	{"migrations", "internal", "an old migration must not change because code did"},
	{"internal", "cmd", "wiring is the end of the chain"},
}

// notInService are modules for tests, which the program must not contain.
var notInService = []string{
	"net/http/httptest", "github.com/testcontainers/testcontainers-go", "github.com/google/go-cmp/cmp",
	"github.com/oauth2-proxy/mockoidc", "github.com/golang-jwt/jwt/v5", "pgregory.net/rapid", "github.com/makiuchi-d/gozxing",
	"meniscus/internal/pgtest", "meniscus/internal/pdftext", "meniscus/internal/httpapi/judge",
}

type source struct {
	folder string // from the top of the repository
	name   string
	test   bool
	file   *ast.File
	files  *token.FileSet
}

func (s source) imports() []string {
	var paths []string
	for _, spec := range s.file.Imports {
		p, _ := strconv.Unquote(spec.Path.Value)
		paths = append(paths, p)
	}
	return paths
}

// sources reads every Go file of the repository.
func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	err := filepath.WalkDir("..", func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == "testdata" && file != "../testdata" ||
			strings.HasPrefix(d.Name(), ".") && len(d.Name()) > 2) {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(file, ".go") {
			return nil
		}
		files := token.NewFileSet()
		parsed, err := parser.ParseFile(files, file, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		slashed := filepath.ToSlash(strings.TrimPrefix(file, ".."+string(filepath.Separator)))
		all = append(all, source{path.Dir(slashed), slashed, strings.HasSuffix(file, "_test.go"), parsed, files})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 50 {
		t.Fatalf("found only %d Go files: the walk is wrong", len(all))
	}
	return all
}

// within tells whether a folder or an import path is one of those named, or below one.
func within(p string, named ...string) bool {
	return slices.ContainsFunc(named, func(n string) bool { return p == n || strings.HasPrefix(p, n+"/") })
}

func isCore(folder string) bool {
	return within(folder, "internal") && folder != "internal" && !within(folder, edges...)
}

func isStandard(importPath string) bool {
	first, _, _ := strings.Cut(importPath, "/")
	return !strings.Contains(first, ".") && first != "meniscus"
}

func TestCoreIsPure(t *testing.T) {
	t.Parallel()
	for _, s := range sources(t) {
		if !isCore(s.folder) || s.test {
			continue
		}
		for _, p := range s.imports() {
			own, isOwn := strings.CutPrefix(p, "meniscus/")
			reason, banned := coreMayNotImport[p]
			switch {
			case banned && !within(s.folder, coreMayWrite[p]...):
				t.Errorf("%s imports %s: %s", s.name, p, reason)
			case isOwn && !isCore(own):
				t.Errorf("%s imports %s: the core imports only the core", s.name, p)
			case !isOwn && !isStandard(p) && !within(p, coreMayImport...):
				t.Errorf("%s imports %s: the core computes with few modules, and this is not one of them", s.name, p)
			}
		}
	}
}

func TestCoreKnowsNoClockAndMakesNoIDs(t *testing.T) {
	t.Parallel()
	for _, s := range sources(t) {
		if !isCore(s.folder) || s.test {
			continue
		}
		for module, calls := range coreMayNotCall {
			for _, name := range used(s.file, module, calls...) {
				t.Errorf("%s uses %s.%s: the moment and the ids are handed in", s.name, module, name)
			}
		}
	}
}

// used lists which of these names of a module a file uses.
func used(f *ast.File, module string, names ...string) []string {
	local := localName(f, module)
	if local == "" {
		return nil
	}
	var found []string
	ast.Inspect(f, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok && slices.Contains(names, sel.Sel.Name) {
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == local {
				found = append(found, sel.Sel.Name)
			}
		}
		return true
	})
	return found
}

// askTheSystem are the files of the packages in timed that use the system's clock, each with
// its purpose. All others use the clock that they are given.
var askTheSystem = map[string]string{
	"internal/httpapi/request_context.go": "a deadline of the connection",
	"internal/httpapi/exports.go":         "a deadline of the connection",
	"internal/httpapi/stream.go":          "a deadline of the connection",
	"internal/httpapi/server.go":          "how long an answer took, and the clock where none is handed in",
	"internal/httpapi/pages.go":           "a deadline of the connection",
	"internal/layers/pass.go":             "what a piece of work costs",
	"internal/layers/refresh.go":          "what a piece of work costs, and the clock where none is handed in",
}

// timed are the packages that are given a clock.
var timed = []string{"internal/httpapi", "internal/exchange", "internal/recording", "internal/layers"}

func TestTheClockIsHandedIn(t *testing.T) {
	t.Parallel()
	for _, s := range sources(t) {
		if s.test || askTheSystem[s.name] != "" || !within(s.folder, timed...) {
			continue
		}
		if len(used(s.file, "time", "Now")) > 0 {
			t.Errorf("%s asks the system's clock; ask the one that was handed in", s.name)
		}
	}
}

// localName is what a file calls a module, or "" when it does not import it.
func localName(f *ast.File, module string) string {
	for _, spec := range f.Imports {
		if p, _ := strconv.Unquote(spec.Path.Value); p == module {
			if spec.Name != nil {
				return spec.Name.Name
			}
			return path.Base(module)
		}
	}
	return ""
}

// A tag for a wire format in the core would tie a rule to a format.
func TestCoreHasNoWireTags(t *testing.T) {
	t.Parallel()
	tagged := regexp.MustCompile("`[^`]*(json|xml|yaml|db):\"")
	for _, s := range sources(t) {
		if !isCore(s.folder) || s.test {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if field, ok := n.(*ast.Field); ok && field.Tag != nil && tagged.MatchString(field.Tag.Value) {
				t.Errorf("%s has the tag %s: wire names belong to the edges", s.name, field.Tag.Value)
			}
			return true
		})
	}
}

func TestModulesStayInTheirPlace(t *testing.T) {
	t.Parallel()
	for _, s := range sources(t) {
		for _, p := range s.imports() {
			for _, rule := range onlyIn {
				if !s.test && within(p, rule.module) && !within(s.folder, rule.folders...) {
					t.Errorf("%s imports %s, which belongs in %v: %s", s.name, p, rule.folders, rule.reason)
				}
			}
			for _, rule := range mayNot {
				if !s.test && within(s.folder, rule.from) && within(p, "meniscus/"+rule.to) {
					t.Errorf("%s imports %s: %s", s.name, p, rule.reason)
				}
			}
		}
	}
}

// A statement outside the store would escape row-level security and its tests. What measures the service beside plain
// statements is no part of it.
func TestStatementsStayInTheStore(t *testing.T) {
	t.Parallel()
	statement := regexp.MustCompile(
		"(?is)^[`\"]\\s*(select\\s.+\\sfrom|insert\\s+into|update\\s+\\w+\\s+set|delete\\s+from|with\\s+\\w+\\s+as)\\s")
	for _, s := range sources(t) {
		if s.test || within(s.folder, "internal/postgres", "internal/pgtest", "migrations", "deploy/bench") {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING && statement.MatchString(lit.Value) {
				t.Errorf("%s holds a statement, %.60s: SQL is spoken in internal/postgres", s.name, lit.Value)
			}
			return true
		})
	}
}

// A second reader of quantities might read them differently.
func TestQuantitiesAreReadInOnePlace(t *testing.T) {
	t.Parallel()
	for _, s := range sources(t) {
		if s.test || within(s.folder, "internal/statement") {
			continue
		}
		for _, name := range used(s.file, "meniscus/internal/quantity", "ParseUnit", "ParseClass") {
			t.Errorf("%s uses quantity.%s: quantities are read in internal/statement", s.name, name)
		}
	}
}

// What is published is made from statements that were read: a second reader of
// statements might read them differently.
func TestPublishingDecodesNothing(t *testing.T) {
	t.Parallel()
	for _, s := range sources(t) {
		if s.test || !within(s.folder, "internal/publish") {
			continue
		}
		for _, name := range used(s.file, "encoding/json", "Unmarshal", "NewDecoder") {
			t.Errorf("%s uses json.%s: statements are read in internal/statement", s.name, name)
		}
	}
}

func TestServiceCarriesNoTestTools(t *testing.T) {
	t.Parallel()
	out, err := exec.Command("go", "list", "-deps", "meniscus/cmd/meniscus").Output()
	if err != nil {
		t.Fatalf("listing what the program links: %v", err)
	}
	linked := strings.Fields(string(out))
	if !slices.Contains(linked, "meniscus/internal/httpapi") {
		t.Fatalf("the program links no httpapi: the list is wrong")
	}
	for _, p := range linked {
		if within(p, notInService...) {
			t.Errorf("the program links %s, which is for tests", p)
		}
	}
}

// Every package has a package comment, in one file.
func TestPackagesSayWhatTheyAreFor(t *testing.T) {
	t.Parallel()
	docs := map[string]int{}
	for _, s := range sources(t) {
		if s.test {
			continue
		}
		if _, seen := docs[s.folder]; !seen {
			docs[s.folder] = 0
		}
		if s.file.Doc.Text() != "" && !ast.IsGenerated(s.file) {
			docs[s.folder]++
		}
	}
	for folder, n := range docs {
		if n != 1 {
			t.Errorf("%s has %d package comments, want one", folder, n)
		}
	}
}

package internal

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strings"
	"testing"
)

// handOn are the files outside internal/statement that copy an entry's words unread,
// each with its purpose. Code that needs their meaning uses the value that package
// statement reads.
var handOn = map[string]string{
	"internal/exchange/card_chunk.go":      "a card that was sent before is held against what came of it",
	"internal/exchange/line_writer.go":     "a line of an export has the words as they stand",
	"internal/exchange/table.go":           "the last cell of a row has the words as they stand",
	"internal/exchange/receive.go":         "the contract judges what comes from elsewhere",
	"internal/exchange/receive_entries.go": "what comes from elsewhere is kept as it was said there",
	"internal/httpapi/amend_many.go":       "what was said before is said again",
	"internal/httpapi/merges.go":           "the words stay while what stands beside them changes",
	"internal/httpapi/plans.go":            "an authorisation is added to what was said",
	"internal/httpapi/records.go":          "an answer shows the words as they stand",
	"internal/httpapi/replayed.go":         "a record is held against others that say the same",
	"internal/httpapi/treatments.go":       "a treatment is held against others that say the same",
	"internal/layers/verify.go":            "a digest is worked out",
	"internal/recording/source.go":         "what a source says is held against what was recorded",
	"internal/postgres/clues.go":           "words that may mean a hazard are picked out, unread",
	"internal/postgres/withheld.go":        "an entry's withheld form is told from its words",
	"internal/postgres/write.go":           "a request that came twice is held against the first",
}

// notWords are files with a Body that is not an entry's.
var notWords = map[string]string{
	"internal/layers/reported.go": "a row of the layers that were worked out",
}

// decoders are the functions that read JSON, by their package.
var decoders = map[string][]string{
	"encoding/json":                               {"Unmarshal", "NewDecoder"},
	"github.com/go-json-experiment/json":          {"Unmarshal", "UnmarshalRead", "UnmarshalDecode"},
	"github.com/go-json-experiment/json/jsontext": {"NewDecoder"},
	"meniscus/internal/wire":                      {"Decode"},
}

// A reading is a place where an entry's words are taken, or read.
type reading struct {
	line int
	what string
}

// readings finds where a file takes the words of entries (taken), and where it may
// decode them (read): where one function takes words and decodes JSON, or decodes JSON
// into a statement of the contract.
func readings(files *token.FileSet, f *ast.File) (taken, read []reading) {
	entries := entryNames(f)
	for _, d := range f.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || fn.Body == nil {
			continue
		}
		at := func(n ast.Node, what string) reading {
			return reading{files.Position(n.Pos()).Line, fn.Name.Name + what}
		}
		words, decodes, into := takes(f, fn.Body, entries), decodings(f, fn.Body), statements(f, fn.Body)
		for _, n := range words {
			taken = append(taken, at(n, " takes the words of an entry"))
		}
		for _, n := range decodes {
			if len(words) > 0 {
				read = append(read, at(n, " reads JSON beside the words of an entry"))
			}
			if len(into) > 0 {
				read = append(read, at(n, " reads JSON into a statement of the contract"))
			}
		}
	}
	return taken, read
}

// entryNames are a file's names for values of statement.Entry: variables, parameters
// and members.
func entryNames(f *ast.File) map[string]bool {
	local, names := localName(f, "meniscus/internal/statement"), map[string]bool{}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.Field:
			if isOf(n.Type, local, "Entry") {
				for _, name := range n.Names {
					names[name.Name] = true
				}
			}
		case *ast.ValueSpec:
			if isOf(n.Type, local, "Entry") {
				names[n.Names[0].Name] = true
			}
		case *ast.AssignStmt:
			call, ok := n.Rhs[0].(*ast.CallExpr)
			if ok && (isOf(call.Fun, local, "OpenEntry") || isOf(call.Fun, local, "EntryFrom")) {
				names[lastName(n.Lhs[0])] = true
			}
		}
		return true
	})
	return names
}

// takes finds the words of entries in a function: a dereferenced body, the result of
// WordsIn, and the statement of an opened entry. Words that are only passed to package
// statement, counted or compared with nil do not count.
func takes(f *ast.File, body ast.Node, entries map[string]bool) []ast.Node {
	local := localName(f, "meniscus/internal/statement")
	var found []ast.Node
	fine := map[ast.Node]bool{}
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			of, isSelector := n.Fun.(*ast.SelectorExpr)
			if isSelector && local != "" && isIdent(of.X, local) || isIdent(n.Fun, "len") {
				for _, arg := range n.Args {
					fine[arg] = true
				}
			}
			behind := isIdent(n.Fun, "deref") && len(n.Args) == 1 && selects(n.Args[0], "Body")
			if !fine[n] && (behind || isOf(n.Fun, local, "WordsIn")) {
				found = append(found, n)
			}
		case *ast.BinaryExpr:
			if isIdent(n.Y, "nil") {
				fine[n.X] = true
			}
		case *ast.StarExpr:
			if !fine[n] && selects(n.X, "Body") {
				found = append(found, n)
			}
		case *ast.SelectorExpr:
			if !fine[n] && n.Sel.Name == "Statement" && entries[lastName(n.X)] {
				found = append(found, n)
			}
		}
		return true
	})
	return found
}

// decodings finds the calls that decode JSON.
func decodings(f *ast.File, body ast.Node) []ast.Node {
	var found []ast.Node
	ast.Inspect(body, func(n ast.Node) bool {
		if of, ok := n.(*ast.SelectorExpr); ok {
			for module, names := range decoders {
				if local := localName(f, module); local != "" && isIdent(of.X, local) && slices.Contains(names, of.Sel.Name) {
					found = append(found, n)
				}
			}
		}
		return true
	})
	return found
}

// statements finds where values of the contract's statement types are made or declared.
func statements(f *ast.File, body ast.Node) []ast.Node {
	local := localName(f, "meniscus/api")
	kinds := strings.Fields("Person Specimen Supply Batch AmountChange Treatment Plan Material")
	var found []ast.Node
	ast.Inspect(body, func(n ast.Node) bool {
		for _, kind := range kinds {
			if e, ok := n.(ast.Expr); ok && local != "" && isOf(e, local, kind+"Statement") {
				found = append(found, n)
			}
		}
		return true
	})
	return found
}

func isIdent(e ast.Expr, name string) bool {
	id, ok := e.(*ast.Ident)
	return ok && id.Name == name
}

// isOf tells whether an expression is a name of a package.
func isOf(e ast.Expr, local, name string) bool {
	of, ok := e.(*ast.SelectorExpr)
	return ok && local != "" && isIdent(of.X, local) && of.Sel.Name == name
}

func selects(e ast.Expr, name string) bool {
	of, ok := e.(*ast.SelectorExpr)
	return ok && of.Sel.Name == name
}

// lastName is the name of a variable, or of the member that an expression ends with.
func lastName(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}

// Only internal/statement reads what an entry says: a second reader might contradict
// it.
func TestEntriesHaveOneReader(t *testing.T) {
	t.Parallel()
	named := map[string]bool{}
	for _, s := range sources(t) {
		ours := within(s.folder, "internal", "cmd") && !within(s.folder, "internal/statement")
		if s.test || !ours || notWords[s.name] != "" {
			continue
		}
		taken, read := readings(s.files, s.file)
		if named[s.name] = len(taken) > 0; named[s.name] && handOn[s.name] == "" {
			for _, r := range taken {
				t.Errorf("%s:%d: %s; ask statement for their value, or say in handOn what for", s.name, r.line, r.what)
			}
		}
		for _, r := range read {
			t.Errorf("%s:%d: %s; only internal/statement reads it", s.name, r.line, r.what)
		}
	}
	for file := range handOn {
		if !named[file] {
			t.Errorf("%s takes no words of entries: take it out of handOn", file)
		}
	}
}

// The rule finds a second reader, however it gets the words.
func TestASecondReaderIsFound(t *testing.T) {
	t.Parallel()
	const head = `package x
import ("encoding/json"; "meniscus/api"; "meniscus/internal/postgres")
import ("meniscus/internal/statement"; "meniscus/internal/wire")
`
	for name, c := range map[string]struct {
		text        string
		taken, read int
	}{
		"a value is asked for":      {`func f(r postgres.Row) { reading, _ := statement.OfEntry(r.Kind, r.Body); use(reading) }`, 0, 0},
		"words are edited":          {`func f(r postgres.Row) { w, _ := statement.With(statement.WordsIn(r.Body), "a", 1); use(w) }`, 0, 0},
		"are there words":           {`func f(r postgres.Row) bool { return r.Body != nil && statement.WordsIn(r.Body) != nil && len(*r.Body) > 0 }`, 0, 0},
		"a body":                    {`func f(r postgres.Row) { var x map[string]any; json.Unmarshal([]byte(*r.Body), &x) }`, 1, 1},
		"a body, once more removed": {`func f(r postgres.Row) { text := deref(r.Body); json.NewDecoder(strings.NewReader(text)) }`, 1, 1},
		"words":                     {`func f(r postgres.Row) { var x any; wire.Decode(statement.WordsIn(r.Body), &x) }`, 1, 1},
		"words given to another":    {`func f(r postgres.Row) { g(statement.WordsIn(r.Body)) }`, 1, 0},
		"an opened entry":           {`func f(r postgres.Row) { e, _ := statement.OpenEntry(r.Body); json.Unmarshal(e.Statement, &x) }`, 1, 1},
		"a member":                  {`type l struct { words statement.Entry }; func (l l) f() { json.Unmarshal(l.words.Statement, &x) }`, 1, 1},
		"a statement":               {`func f(b []byte) { var st api.TreatmentStatement; wire.Decode(b, &st) }`, 0, 1},
		"a made statement":          {`func f(b []byte) { st := new(api.BatchStatement); json.Unmarshal(b, st) }`, 0, 1},
	} {
		files := token.NewFileSet()
		f, err := parser.ParseFile(files, name, head+c.text, 0)
		if err != nil {
			t.Fatal(err)
		}
		taken, read := readings(files, f)
		if len(taken) != c.taken || len(read) != c.read {
			t.Errorf("%s: got %v taken and %v read, want %d and %d", name, taken, read, c.taken, c.read)
		}
	}
}

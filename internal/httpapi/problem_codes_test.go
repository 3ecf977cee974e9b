package httpapi_test

import (
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/api"
)

var update = flag.Bool("update", false, "write problem_codes.tsv anew")

// madeUp are the codes that are not written where the fault is made: the name of a
// kind of record or of a member with an ending, and those that a function is given.
var madeUp = map[string][]string{
	"NotFound": {"person-unknown", "specimen-unknown", "supply-unknown", "batch-unknown", "treatment-unknown", "plan-unknown", "material-unknown", "amount-change-unknown"},
	"Conflict": {"id-taken", "source-record-differs"},
	"Invalid": {
		"person-unknown", "specimen-unknown", "supply-unknown", "batch-unknown", "treatment-unknown", "plan-unknown", "material-unknown", "amount-change-unknown", "density-needed",
		"removal-missing", "test-missing", "examination-missing", "sampling-missing", "label-missing",
		"removal-out-of-place", "test-out-of-place", "examination-out-of-place", "sampling-out-of-place", "label-out-of-place",
	},
}

// TestEveryProblemTypeHasAPage: a problem of one fault has the fault's code for its
// type. Every code that the source makes stands in problem_codes.tsv with its kinds,
// and every one of those has a page.
func TestEveryProblemTypeHasAPage(t *testing.T) {
	t.Parallel()
	codes := codes{}
	for kind, list := range madeUp {
		for _, code := range list {
			codes.add(code, kind)
		}
	}
	codes.read(t, "..")
	want := codes.table()
	if *update {
		if err := os.WriteFile("problem_codes.tsv", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile("problem_codes.tsv")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(got), want); diff != "" {
		t.Errorf("run go test ./internal/httpapi -run EveryProblemType -update: got (-) want (+)\n%s", diff)
	}
	listed := listedCodes(t)
	for _, code := range []string{"path-unknown", "method-not-allowed", "ror-check-digits", "ror-malformed"} {
		listed[code] = true // of no operation
	}
	s := open(t)
	for code := range codes {
		if !listed[code] {
			t.Errorf("%s is of no operation: put it into a group of api/contract/problems.yaml", code)
		}
		if page := s.do(http.MethodGet, "/problems/"+code, nil).want(http.StatusOK); !strings.HasPrefix(string(page.body), code) {
			t.Errorf("%s: got %s", code, page.body)
		}
	}
	s.do(http.MethodGet, "/problems/no-such-problem", nil).wantProblem(http.StatusNotFound, "path-unknown")
}

// listedCodes are the codes that the contract lists for some operation.
func listedCodes(t *testing.T) map[string]bool {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			for _, of := range api.Codes(doc, op) {
				for _, code := range of {
					listed[code] = true
				}
			}
		}
	}
	return listed
}

// codes are the kinds of fault that each code is used for.
type codes map[string]map[string]bool

func (c codes) add(code, kind string) {
	if c[code] == nil {
		c[code] = map[string]bool{}
	}
	c[code][kind] = true
}

func (c codes) table() string {
	out := "code\tkinds\n"
	for _, code := range slices.Sorted(maps.Keys(c)) {
		out += code + "\t" + strings.Join(slices.Sorted(maps.Keys(c[code])), " ") + "\n"
	}
	return out
}

// read finds the codes in the source.
func (c codes) read(t *testing.T, root string) {
	t.Helper()
	err := filepath.WalkDir(root, func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CallExpr:
				c.call(n)
			case *ast.CompositeLit:
				c.literal(n)
			case *ast.AssignStmt:
				c.assignment(n)
			case *ast.ValueSpec:
				c.constant(file.Name.Name, n)
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// call: fault.New(code, …), fault.Of(kind, code, …) and list.Add(code, pointer, …).
func (c codes) call(n *ast.CallExpr) {
	f, ok := n.Fun.(*ast.SelectorExpr)
	if !ok {
		return
	}
	in, _ := f.X.(*ast.Ident)
	switch {
	case in != nil && in.Name == "fault" && f.Sel.Name == "Of":
		c.text(n.Args[1], nameOf(n.Args[0]))
	case in != nil && in.Name == "fault" && f.Sel.Name == "New", f.Sel.Name == "Add" && len(n.Args) >= 3:
		c.text(n.Args[0], "Invalid")
	}
}

// literal: fault.Fault{Kind: …, Code: …}.
func (c codes) literal(n *ast.CompositeLit) {
	if nameOf(n.Type) != "Fault" {
		return
	}
	kind, code := "Invalid", ast.Expr(nil)
	for _, e := range n.Elts {
		member, ok := e.(*ast.KeyValueExpr)
		if !ok {
			continue
		}
		switch nameOf(member.Key) {
		case "Kind":
			kind = nameOf(member.Value)
		case "Code":
			code = member.Value
		}
	}
	c.text(code, kind)
}

// assignment: f.Code, f.Detail = code, detail.
func (c codes) assignment(n *ast.AssignStmt) {
	for i, left := range n.Lhs {
		if f, ok := left.(*ast.SelectorExpr); ok && f.Sel.Name == "Code" && len(n.Rhs) > i {
			c.text(n.Rhs[i], "Invalid")
		}
	}
}

// constant: the refusals of package edtf.
func (c codes) constant(in string, n *ast.ValueSpec) {
	if in != "edtf" {
		return
	}
	for i, name := range n.Names {
		if strings.HasPrefix(name.Name, "Code") && len(n.Values) > i {
			c.text(n.Values[i], "Invalid")
		}
	}
}

func (c codes) text(e ast.Expr, kind string) {
	if l, ok := e.(*ast.BasicLit); ok && l.Kind == token.STRING {
		if code, err := strconv.Unquote(l.Value); err == nil {
			c.add(code, kind)
		}
	}
}

func nameOf(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}

package internal

import (
	"go/ast"
	"go/token"
	"strings"
	"testing"
)

// TestCitationsStandInTheBibliography: no member Source of a value in the code is a text of its
// own; it is a source's key, or comes from the bibliography.
func TestCitationsStandInTheBibliography(t *testing.T) {
	t.Parallel()
	for _, s := range sources(t) {
		if s.test || !strings.HasPrefix(s.folder, "internal/") {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			member, is := n.(*ast.KeyValueExpr)
			if !is {
				return true
			}
			name, _ := member.Key.(*ast.Ident)
			text, _ := member.Value.(*ast.BasicLit)
			if name != nil && text != nil && strings.EqualFold(name.Name, "source") && text.Kind == token.STRING &&
				strings.Contains(text.Value, " ") {
				t.Errorf("%s: a citation outside of the bibliography: %s", s.files.Position(text.Pos()), text.Value)
			}
			return true
		})
	}
}

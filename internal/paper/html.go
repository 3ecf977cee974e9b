package paper

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"strings"

	"meniscus/internal/chart"
	"meniscus/internal/publish"
	"meniscus/internal/qrcode"
)

//go:embed page
var files embed.FS

// style is the one style sheet of papers, which is inlined in each, and Policy the content security
// policy of a paper's page.
var style, Policy = publish.Inlined(files, "page/paper.css")

var page = template.Must(template.New("paper.html").Funcs(template.FuncMap{
	"style": func() template.CSS { return style },
	"rows":  Line.rows,
	"svg":   func(b *chart.Bars) template.HTML { return template.HTML(b.SVG()) },
}).ParseFS(files, "page/paper.html"))

// HTML is the paper as a page that needs nothing besides itself.
func (p Paper) HTML() ([]byte, error) {
	var b bytes.Buffer
	view := struct {
		Paper
		Code *drawn
	}{p, drawCode(p.Address)}
	if err := page.Execute(&b, view); err != nil {
		return nil, fmt.Errorf("rendering the paper: %w", err)
	}
	return b.Bytes(), nil
}

// drawn is a code as a path of SVG, one unit a module.
type drawn struct {
	Side int
	Path string
}

func drawCode(address string) *drawn {
	code := qrcode.Of(address)
	if code == nil {
		return nil
	}
	var path strings.Builder
	for _, r := range code.Dark {
		fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", r.X, r.Y, r.Length, r.Length)
	}
	return &drawn{code.Side, path.String()}
}

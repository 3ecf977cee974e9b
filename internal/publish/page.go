package publish

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"meniscus/internal/material"
)

// PageType is the media type of pages and fragments.
const PageType = "text/html; charset=utf-8"

//go:embed page
var pageFiles embed.FS

// style is the one style sheet, which is inlined in every page, and PagePolicy the content security
// policy of every page and fragment.
var style, PagePolicy = Inlined(pageFiles, "page/style.css")

// formStyle is style with that of forms, and FormPolicy the policy of pages with forms, which go to this service
// alone.
var formStyle, FormPolicy = withForms(Inlined(pageFiles, "page/style.css", "page/form.css"))

func withForms(css template.CSS, policy string) (template.CSS, string) {
	return css, strings.Replace(policy, "form-action 'none'", "form-action 'self'", 1)
}

// Inlined are embedded style sheets to stand in a page together, and the content security policy of that
// page: it allows no loading and no scripts, only the page's own style, by its digest.
func Inlined(files embed.FS, names ...string) (css template.CSS, policy string) {
	var text []byte
	for _, name := range names {
		sheet, err := files.ReadFile(name)
		if err != nil {
			panic("the embedded style sheet is missing: " + err.Error())
		}
		text = append(text, sheet...)
	}
	sum := sha256.Sum256(text)
	return template.CSS(text), "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
		"'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

var pages = template.Must(template.New("").Funcs(template.FuncMap{
	"style":   func() template.CSS { return style },
	"forms":   func() template.CSS { return formStyle },
	"instant": func(t time.Time) string { return t.UTC().Format("2 January 2006, 15:04 UTC") },
	"role":    func(word string) string { return capital(termLabel("role", word)) },
	"part":    func(word string) string { return capital(termLabel("part", word)) },
	"sort":    sortSaid,
	"titled":  Bottle.titled,
	"within":  Bottle.with,
	"list":    func(text string) []string { return []string{text} },
	"in": func(form string, field FormField) any {
		return struct {
			In    string
			Field FormField
		}{form, field}
	},
	"items": unlabelled,
	"path":  breakable,
}).ParseFS(pageFiles, "page/pages.html", "page/bottle.html"))

// breakable lets a line break after each slash of an area's path.
func breakable(path string) template.HTML {
	return template.HTML(strings.ReplaceAll(template.HTMLEscapeString(path), "/", "/<wbr>"))
}

// unlabelled tells whether fields are a list's items; an object's members have labels.
func unlabelled(fields []Field) bool { return len(fields) > 0 && fields[0].Label == "" }

var sortNames = map[string]string{
	"action": "Kinds of treatment", "role": "What a material was for", "relation": "How layers lie to each other",
	"basis": "Bases of strength", "left": "What a removal left", "certainty": "How sure an identification is",
	"part": "Parts that people took", "outcome": "Outcomes of examinations", "observed": "What tests showed",
	"input": "Parts of a mixture", "property": "Properties", "class": "Classes",
}

func sortSaid(sort string) string { return sortNames[sort] }

func render(name string, data any) ([]byte, error) {
	var b bytes.Buffer
	if err := pages.ExecuteTemplate(&b, name, data); err != nil {
		return nil, fmt.Errorf("rendering the page: %w", err)
	}
	return b.Bytes(), nil
}

// TreatmentPage is a treatment for people to read, with what is to be known first of its
// specimen.
func TreatmentPage(t Treatment, of Specimen) ([]byte, error) {
	title := t.Title()
	if !t.Revision.Standing() {
		title = "A treatment, " + t.Specimen.Label
	}
	return render("treatment", struct {
		Title       string
		Treatment   Treatment
		Institution string
		Told        []Told
	}{title, t, of.Institution, of.BeforeWork()})
}

// Told is a notice as a page says it: in a line without weight, or in full and strongly.
type Told struct {
	Text  string
	Quiet bool
}

// Told are the notices of a specimen. What nobody knows of its hazards is no warning.
func (s Specimen) Told() []Told {
	out := make([]Told, len(s.Notices))
	for i, text := range s.Notices {
		out[i] = Told{text, slices.Contains(s.Open, text)}
	}
	return out
}

// BeforeWork are the notices, and what every page that may lead to work defers to.
func (s Specimen) BeforeWork() []Told {
	if slices.Contains(s.Notices, material.SheetFirst) {
		return s.Told()
	}
	return append(s.Told(), Told{material.SheetFirst, true})
}

// mostRows is how many rows of treatments and of layers a page has. What is left out is counted,
// and the page links to all of it.
const mostRows = 500

// specimenView is a specimen with its treatments in reading order, only the
// latest if there are very many.
type specimenView struct {
	Title      string
	Specimen   Specimen
	Treatments []Treatment
	More       int // earlier ones that are left out
	MoreLayers int
}

func viewOf(s Specimen, title string) specimenView {
	all := byDate(s.Treatments)
	v := specimenView{Title: title, Treatments: all[max(0, len(all)-mostRows):]}
	v.More = len(all) - len(v.Treatments)
	s.Present, v.MoreLayers = s.Present.First(mostRows)
	v.Specimen = s
	return v
}

// First is the first rows of what is on a specimen, at most most of them, and how many more there are.
func (p *PresentState) First(most int) (cut *PresentState, more int) {
	if p == nil {
		return nil, 0
	}
	out := *p
	out.Areas = nil
	for _, a := range p.Areas {
		rows := max(1, len(a.Layers)) // an area without layers has a row too
		if most == 0 {
			more += rows
			continue
		}
		kept := min(rows, most)
		more, most = more+rows-kept, most-kept
		a.Layers = a.Layers[:min(kept, len(a.Layers))]
		out.Areas = append(out.Areas, a)
	}
	out.Unplaced = p.Unplaced[:min(most, len(p.Unplaced))]
	return &out, more + p.MoreLayers + len(p.Unplaced) - len(out.Unplaced)
}

// SpecimenPage is a specimen and its treatments for people to read.
func SpecimenPage(s Specimen) ([]byte, error) { return render("specimen", viewOf(s, s.Title)) }

// TermPage is a term for people to read.
func TermPage(base Base, t Term) ([]byte, error) {
	return render("term", struct {
		Term        Term
		IRI, Scheme string
	}{t, base.Term(t.Name), schemeIRI(base)})
}

// VocabularyPage lists every term for people to read.
func VocabularyPage(base Base) ([]byte, error) {
	type entry struct{ IRI, Label, Definition string }
	type list struct {
		Sort  string
		Terms []entry
	}
	var lists []list
	for _, t := range terms() {
		if len(lists) == 0 || lists[len(lists)-1].Sort != t.Sort {
			lists = append(lists, list{Sort: t.Sort})
		}
		last := &lists[len(lists)-1]
		last.Terms = append(last.Terms, entry{base.Term(t.Name), t.Label, t.Definition})
	}
	return render("vocabulary", struct{ Lists []list }{lists})
}

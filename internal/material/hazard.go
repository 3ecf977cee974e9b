package material

import (
	"regexp"
	"slices"
	"strings"
)

// SheetFirst is what every answer that leads to work defers to, in these words.
const SheetFirst = "The safety data sheet of the product, local codes and licensed practice come first."

// HazardKind says what a hazard row holds.
type HazardKind string

// The kinds of hazard row.
const (
	HazardIndex     HazardKind = "index-number"
	HazardClass     HazardKind = "class"     // hazard class and category: "Flam. Liq. 2"
	HazardStatement HazardKind = "statement" // a code of the statements table
	Pictogram       HazardKind = "pictogram" // GHS02 …
	SignalWord      HazardKind = "signal-word"
	HazardNote      HazardKind = "note"
	// SupplierStatement is the code of a statement that suppliers often add by their own
	// classification; it is not part of the harmonised classification.
	SupplierStatement HazardKind = "supplier-statement"
)

var hazardKinds = wordSet(HazardIndex, HazardClass, HazardStatement, Pictogram, SignalWord, HazardNote,
	SupplierStatement)

// Hazard is one element of the harmonised classification of a material, or what goes
// with it. The classification is a minimum; the safety data sheet of the product comes
// first.
type Hazard struct {
	Material string
	Kind     HazardKind
	Value    string
	// OnLabel says that the element stands on the label.
	OnLabel  bool
	Remark   string
	Evidence Evidence
}

// Hazards lists the classification of a material and what goes with it; see
// ClassifiedBy for whether it is known.
func (b *Base) Hazards(id string) []Hazard { return slices.Clone(b.hazards[b.behavesAs(id)]) }

// LabelHazards gives the values of one kind that stand on the label.
func (b *Base) LabelHazards(id string, kind HazardKind) []string {
	var out []string
	for _, h := range b.Hazards(id) {
		if h.Kind == kind && h.OnLabel {
			out = append(out, h.Value)
		}
	}
	return out
}

// StatementKind says what sort of statement it is.
type StatementKind string

// The kinds of statement.
const (
	HazardText       StatementKind = "hazard"
	SupplementalText StatementKind = "supplemental"
	PrecautionText   StatementKind = "precautionary"
)

var (
	statementKinds = wordSet(HazardText, SupplementalText, PrecautionText)
	wordings       = wordSet("current", "older")
)

// Statement is a hazard or precautionary statement word for word.
type Statement struct {
	// Code is H225, EUH066, P303+P361+P353 …
	Code string
	// Template is the text as printed, with the instructions to the writer in angle
	// brackets and what the supplier completes as an ellipsis or in square brackets.
	Template string
	Kind     StatementKind
	// Classes are the hazard classes it belongs to, as printed, or "".
	Classes string
	// Older says that this wording is out of date and still met on bottles.
	Older    bool
	Evidence Evidence
}

var (
	statementCode = regexp.MustCompile(`^(EUH|H|P)[0-9]{3}[A-Za-z]*([+][HP][0-9]{3})*$`)
	instruction   = regexp.MustCompile(` ?<[^>]*>`)
	manySpaces    = regexp.MustCompile(` {2,}`)
)

// Text gives the statement as it is printed on a label when the writer adds
// nothing: without the instructions in angle brackets.
func (s Statement) Text() string {
	return strings.TrimSpace(manySpaces.ReplaceAllString(instruction.ReplaceAllString(s.Template, ""), " "))
}

// Statements lists all statements in the order of the table.
func (b *Base) Statements() []Statement { return slices.Clone(b.statements) }

// Statement finds the current wording of a code.
func (b *Base) Statement(code string) (Statement, bool) {
	i := slices.IndexFunc(b.statements, func(s Statement) bool { return s.Code == code && !s.Older })
	if i < 0 {
		return Statement{}, false
	}
	return b.statements[i], true
}

// Precaution assigns a precautionary statement to a hazard class.
type Precaution struct {
	Class string // "Flam. Liq. 2"
	// Phase is prevention, response, storage or disposal.
	Phase    string
	Code     string
	Evidence Evidence
}

// Precautions lists what the regulation assigns to a hazard class. Only
// flammable liquids are in the tables: for other classes nothing is known here.
func (b *Base) Precautions(class string) []Precaution {
	return slices.DeleteFunc(slices.Clone(b.precautions), func(p Precaution) bool { return p.Class != class })
}

// PrecautionsByCode lists the hazard classes that a precautionary statement is
// assigned to.
func (b *Base) PrecautionsByCode(code string) []Precaution {
	return slices.DeleteFunc(slices.Clone(b.precautions), func(p Precaution) bool { return p.Code != code })
}

// SmallPackage says what may be left off a package of not more than 125 mL for a
// hazard class.
type SmallPackage struct {
	Class string
	// Omitted is hazard-and-precautionary or precautionary.
	Omitted string
	// Public says that it holds for supply to the general public too.
	Public   bool
	Evidence Evidence
}

// SmallPackages lists the classes whose statements may be left off small
// packages; a class that is not listed keeps its statements.
func (b *Base) SmallPackages() []SmallPackage { return slices.Clone(b.smallPackages) }

var (
	yesNo     = wordSet("yes", "no")
	labelMark = wordSet("yes", "no", "")
	phases    = wordSet("prevention", "response", "storage", "disposal")
	omissions = wordSet("hazard-and-precautionary", "precautionary")
)

func readStatements(b *Base, r *reader) {
	r.table("statements.tsv", "code text kind classes wording source status", func(w row) {
		s := Statement{
			Code: w.need("code"), Template: w.need("text"), Kind: word(w, "kind", statementKinds), Classes: w.text("classes"),
			Older: word(w, "wording", wordings) == "older", Evidence: w.evidence(),
		}
		if !statementCode.MatchString(s.Code) {
			w.fail("code: %q is no code of a statement", s.Code)
		}
		if _, twice := b.Statement(s.Code); twice && !s.Older {
			w.fail("statement %s stands twice", s.Code)
		}
		b.statements = append(b.statements, s)
	})
}

func readHazards(b *Base, r *reader) {
	r.table("hazards.tsv", "material kind value label remark source status", func(w row) {
		h := Hazard{
			Material: w.material(b, "material"), Kind: word(w, "kind", hazardKinds), Value: w.need("value"),
			OnLabel: word(w, "label", labelMark) == "yes", Remark: w.text("remark"), Evidence: w.evidence(),
		}
		coded := h.Kind == HazardStatement || h.Kind == SupplierStatement
		if _, ok := b.Statement(h.Value); coded && !ok {
			w.fail("statement %q has no text", h.Value)
		}
		if h.Kind == SupplierStatement && h.OnLabel {
			w.fail("label: %s is no statement of the harmonised label", h.Value)
		}
		b.hazards[h.Material] = append(b.hazards[h.Material], h)
	})
}

func readPrecautions(b *Base, r *reader) {
	r.table("precautions.tsv", "class phase code source status", func(w row) {
		p := Precaution{Class: w.need("class"), Phase: string(word(w, "phase", phases)), Code: w.need("code"),
			Evidence: w.evidence()}
		if _, ok := b.Statement(p.Code); !ok {
			w.fail("statement %q has no text", p.Code)
		}
		b.precautions = append(b.precautions, p)
	})
}

func readSmallPackages(b *Base, r *reader) {
	r.table("small-packages.tsv", "class omitted public source status", func(w row) {
		b.smallPackages = append(b.smallPackages, SmallPackage{
			Class: w.need("class"), Omitted: string(word(w, "omitted", omissions)),
			Public: word(w, "public", yesNo) == "yes", Evidence: w.evidence(),
		})
	})
}

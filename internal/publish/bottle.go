package publish

import "html/template"

// SignIn is the page that says where one may sign in, or why a page for people was refused.
type SignIn struct {
	Title, Detail string
	At            []Link // where one may sign in
	Nowhere       bool   // signing in is not set up
	Instance      string // of a request that was refused, as the service's log has it
}

// SignInPage writes it.
func SignInPage(p SignIn) ([]byte, error) { return render("sign-in", p) }

// Bottle is what the page of a batch or bottle tells at the bench, in the order in which it is read.
type Bottle struct {
	Title       string
	IRI         string
	Institution string
	Notices     []string // that come before everything: retracted, discarded

	Signal      string          // the signal word; empty if there is none
	Pictograms  []template.HTML // drawn
	Hazards     []string        // the statements
	Precautions []string
	Deference   string

	Name     string
	Strength string   // now, or as made where nothing changed it
	Beside   []string // as made, where that is another, and the solvents' shares
	Facts    []Field  // age, what is left, and the like
	Odd      []string // about its amounts
	Uses     []BottleUse
	MoreUses bool

	Signed *Signed  // who signed in; nil for a caller with a key
	Done   string   // what was recorded a moment ago
	Found  []string // what is odd about that
	Forms  []Form
	Faulty bool // a form has a fault
}

// Form is a form of a page. It goes to the page's own address.
type Form struct {
	Name, Title, Button string
	Once                string // sent twice, it is recorded once
	Open                bool
	Faults              []string // of no field
	Fields              []FormField
}

// FormField is a field of a form, with what was typed.
type FormField struct {
	Name, Label, Hint, Value string
	Kind                     FieldKind
	Options                  []Option
	Faults                   []string
}

// FieldKind is what is typed into a field.
type FieldKind string

// The kinds of fields.
const (
	TextField    FieldKind = "text"
	NumberField  FieldKind = "number"
	DateField    FieldKind = "date"
	ChoiceField  FieldKind = "choice"  // one of a list
	ButtonsField FieldKind = "buttons" // one of a few that are all to be seen
)

// Option is one choice of a field.
type Option struct{ Value, Label string }

// BottleUse is a treatment that the bottle was used in.
type BottleUse struct {
	When, What string
	Specimen   Link   // without an address where it cannot be opened
	Treatment  string // the address; empty where it cannot be opened
}

// Signed is the person who signed in, with what their forms bring back.
type Signed struct {
	Name, Token, Out string // Out is where the form for signing out goes
}

// titled is what the browser calls the page.
func (b Bottle) titled() string {
	if b.Faulty {
		return "Not recorded: " + b.Title
	}
	return b.Title
}

// with is a form of the page with what all of them need.
func (b Bottle) with(f Form) any {
	return struct {
		Form       Form
		IRI, Token string
	}{f, b.IRI, b.Signed.Token}
}

// BottlePage writes it.
func BottlePage(b Bottle) ([]byte, error) { return render("bottle", b) }

package record

import (
	"fmt"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
)

// Certainty is how sure an identification is.
type Certainty string

// The degrees of certainty.
const (
	Documented Certainty = "documented"
	Analysed   Certainty = "analysed"
	Inferred   Certainty = "inferred"
	Unknown    Certainty = "unknown"
)

// Use is one material of a treatment: exactly one of Batch, Supply, Material
// and Words is set.
type Use struct {
	Role       string
	Batch      Ref
	Supply     Ref
	Material   string
	Words      string
	Certainty  Certainty
	Candidates []string // the materials that Words may mean
}

// Involvement is one person's part in a treatment.
type Involvement struct {
	Person Ref
	Part   string
}

// Treatment is what the record must know of a treatment; the rest of the
// statement is kept as it was made.
type Treatment struct {
	Specimen Ref
	JoinedTo Ref
	Event    Ref
	Plan     Ref
	Action   string
	Areas    []string // empty when answered with a word
	Date     edtf.Date
	Uses     []Use
	People   []Involvement
	Removes  []Ref

	// What the action asks for.
	HasRemoval     bool
	HasTest        bool
	HasExamination bool
	HasSampling    bool
	HasLabel       bool
}

// Check tells what keeps a treatment from being understood. What should not
// have been done is no fault: it is recorded, and findings say so.
func (t Treatment) Check() error {
	var faults fault.List
	for i, path := range t.Areas {
		if err := faults.Merge(fmt.Sprintf("/areas/paths/%d", i), CheckArea(path)); err != nil {
			return err
		}
	}
	t.checkParts(&faults)
	return faults.Err()
}

// checkParts asks for the part of the statement that the action is about, and
// refuses the others'.
func (t Treatment) checkParts(faults *fault.List) {
	parts := []struct {
		action, member string
		given          bool
		what           string
	}{
		{"removal", "removal", t.HasRemoval, "which treatments it took off and what is known to be left"},
		{"test", "test", t.HasTest, "what was seen"},
		{"examination", "examination", t.HasExamination, "what was found, or that none was found"},
		{"sampling", "sampling", t.HasSampling, "what was taken"},
		{"labelling", "label", t.HasLabel, "whether the number was recorded first"},
	}
	for _, p := range parts {
		switch {
		case t.Action == p.action && !p.given:
			faults.Add(p.member+"-missing", "/"+p.member, "A treatment with the action %q has the member %q: %s.", p.action, p.member, p.what)
		case t.Action != p.action && p.given:
			faults.Add(p.member+"-out-of-place", "/"+p.member, "The member %q belongs to the action %q.", p.member, p.action)
		}
	}
	if t.JoinedTo != (Ref{}) && t.Action != "joining" {
		faults.Add("joined-to-out-of-place", "/joinedTo", "Another specimen is named for the action \"joining\" only.")
	}
}

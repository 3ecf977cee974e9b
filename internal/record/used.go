package record

import "meniscus/internal/quantity"

// Certainty is how sure an identification is.
type Certainty string

// The degrees of certainty.
const (
	Documented Certainty = "documented"
	Analysed   Certainty = "analysed"
	Inferred   Certainty = "inferred"
	Unknown    Certainty = "unknown"
)

// Used is what was used or went in: exactly one of Batch, Supply, Material and
// Words is set. It is documented where nothing else is said.
type Used struct {
	Batch    Ref
	Supply   Ref
	Material string // its id
	Grade    string // of the material
	Words    string // as they stand, where they are not interpreted

	Certainty     Certainty
	CertaintySaid bool
	AnalysedBy    string
	// Candidates are the materials that Words may mean; empty if not interpreted.
	Candidates []string
}

// said tells whether any of the four is set.
func (u Used) said() bool {
	return u.Batch != (Ref{}) || u.Supply != (Ref{}) || u.Material != "" || u.Words != ""
}

// SolventShare is one solvent and its share. The fraction is nil where it was
// not said; By is "volume" or "mass", or "" where that was not said.
type SolventShare struct {
	Material string
	Fraction *quantity.Decimal
	By       string
}

// Use is one material of a treatment.
type Use struct {
	Used
	Role     string
	Strength Said[Strength]       // of a material
	Solvents Said[[]SolventShare] // of a material
	Amount   Amount
	Remark   string
}

// Input is one thing that went into a batch.
type Input struct {
	Used
	Part   string
	Amount Amount
	Asked  *quantity.Quantity // what the recipe asked for
}

// Container is what something is kept in.
type Container struct {
	Material string
	Capacity *quantity.Quantity
	Tint     string
	Rinsed   *bool
}

// Document is something that lies elsewhere.
type Document struct {
	URL   string
	Title string
}

package record

import (
	"fmt"
	"slices"
	"time"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Treatment is what a treatment's statement says.
type Treatment struct {
	Specimen Ref
	JoinedTo Ref
	Event    Ref
	Plan     Said[Ref]
	Action   Action
	Purpose  Text
	Extent   Text
	Date     Date
	Started  *time.Time
	Ended    *time.Time

	Areas           Areas
	PossiblyReached []string
	Method          string
	MethodRemark    string
	PartialBath     Said[bool]
	Coats           int
	Drying          *Drying
	// Uses are the materials; a list without items says that nothing was used.
	Uses          Said[[]Use]
	AmountRemoved Amount
	Exposures     []Exposure
	Environment   Environment
	Support       Text
	Protection    Text // of the people who work on it
	Relations     []Relation

	People        []Involvement
	Authorisation Said[Authorisation]
	// SendersAuthorisation is that of the institution that sent the treatment. It
	// authorises nothing here.
	SendersAuthorisation Said[Authorisation]
	Deviations           []Deviation

	// What the action asks for.
	Removal     *Removal
	Damage      *Damage
	Test        *Test
	Examination *Examination
	Sampling    *Sampling
	Label       *Label
	Joint       *Joint

	ConditionBefore    Text
	ConditionAfter     Text
	Images             Said[[]Image]
	Reversibility      *Reversibility
	UntreatedReference Text
	NextCheck          Date
	NextCheckFor       []string // words of the contract
	InformationGained  Text
	InformationLost    Text
	CatalogueUpdated   Text
	Report             *Document
	RecordCopyLocation Text
	OldCard            *OldCard
	Remarks            string
}

// Involvement is one person's part. Person is the zero UUID where an answer is
// given instead.
type Involvement struct {
	Person       Ref
	Answer       Answer
	Part         string
	Organisation Text
}

// Drying is how dry it was; Days is nil where not said.
type Drying struct {
	State       string
	Days        *quantity.Decimal
	Temperature *quantity.Quantity
	HeldBack    YesNo
}

// Exposure is how long a solvent touched the specimen.
type Exposure struct {
	Solvent string // the id of a material
	Time    Amount
	During  string
}

// Environment is what it was like around the specimen.
type Environment struct {
	AirTemperature     Amount
	SurfaceTemperature Amount
	RelativeHumidity   Amount
	StoreTemperature   Amount
	ClosedCase         YesNo
	PH                 *quantity.Decimal
	Conductivity       *quantity.Quantity
}

// Relation is how a treatment's layer lies to another's.
type Relation struct {
	Kind      string
	Treatment Ref
	Area      string
}

// Authorisation is who allowed something.
type Authorisation struct {
	By        Ref
	Date      Date
	Class     string
	Authority string
}

// Deviation is a departure from the plan.
type Deviation struct {
	What     string
	Approval Said[Authorisation]
}

// Removal is what a treatment took off, and how far.
type Removal struct {
	Treatments  []Ref
	Left        string
	Method      string
	Limit       string
	ConfirmedBy Ref
}

// Test is a small trial; Layer is the treatment that it was made on.
type Test struct {
	Layer    Ref
	Solvent  string // the id of a material
	Reagent  string
	Dwell    Amount
	Observed string
}

// Examination is what was looked for and found.
type Examination struct {
	LookedFor string
	Outcome   string
	How       string
	Limit     string // of detection
}

// Sampling is what was taken.
type Sampling struct {
	Sample   Ref
	Mass     Amount
	TakenFor string
	SentTo   string
}

// Label is a number on the specimen.
type Label struct {
	Number         string
	NumberRecorded Said[bool]
}

// Joint is what a joint bears.
type Joint struct{ CarriesLoad YesNo }

// Image is a picture.
type Image struct {
	Stage string
	Scale Text
	Taken edtf.Date
}

// Reversibility is a person's statement on it, which is no evidence.
type Reversibility struct {
	Says                                  string
	Redissolvable, Removable, Retreatable string
	TestedHow                             Text
	By                                    Said[Ref]
	Date                                  Date
}

// OldCard is the card that a record was taken from.
type OldCard struct {
	Image         *Document
	Verbatim      string
	TranscribedBy Ref
}

// Names are the specimen number and the names of people in a treatment, while they
// have no ids yet.
type Names struct {
	Specimen    Identifier
	Collection  string
	People      []string // in the order of the treatment's people; "" where no name is given
	Transcriber string   // of the old card
}

// Damage is what happened to layers.
type Damage struct {
	Kind       string // slumped, joint-failed …
	Treatments []Ref  // whose layers; none where that is not known
}

// Removes are the treatments that this one took off.
func (t *Treatment) Removes() []Ref {
	if t.Removal == nil {
		return nil
	}
	return t.Removal.Treatments
}

// Names are the treatments that this one names: what it removed, tested, and lies
// beside.
func (t *Treatment) Names() []Ref {
	names := slices.Clone(t.Removes())
	if t.Damage != nil {
		names = append(names, t.Damage.Treatments...)
	}
	for _, r := range t.Relations {
		names = append(names, r.Treatment)
	}
	if t.Test != nil && t.Test.Layer != (Ref{}) {
		names = append(names, t.Test.Layer)
	}
	return names
}

// Check tells what keeps a treatment from being understood. What should not
// have been done is no fault: it is recorded, and findings say so.
func (t *Treatment) Check(Ref) error {
	var faults fault.List
	for i, path := range t.Areas.Value {
		if err := faults.Merge(fmt.Sprintf("/areas/paths/%d", i), CheckArea(path)); err != nil {
			return err
		}
	}
	t.checkParts(&faults)
	return faults.Err()
}

// checkParts asks for the part of the statement that the action needs, and
// refuses those of other actions.
func (t *Treatment) checkParts(faults *fault.List) {
	parts := []struct {
		action Action
		member string
		given  bool
		what   string
	}{
		{ActionRemoval, "removal", t.Removal != nil, "which treatments it took off and what is known to be left"},
		{ActionTest, "test", t.Test != nil, "what was seen"},
		{ActionExamination, "examination", t.Examination != nil, "what was found, or that none was found"},
		{ActionSampling, "sampling", t.Sampling != nil, "what was taken"},
		{ActionLabelling, "label", t.Label != nil, "whether the number was recorded first"},
	}
	for _, p := range parts {
		switch {
		case t.Action == p.action && !p.given:
			faults.Add(p.member+"-missing", "/"+p.member, "A treatment with the action %q has the member %q: %s.", p.action,
				p.member, p.what)
		case t.Action != p.action && p.given:
			faults.Add(p.member+"-out-of-place", "/"+p.member, "The member %q belongs to the action %q.", p.member, p.action)
		}
	}
	if t.Damage != nil && t.Action != ActionDamage {
		faults.Add("damage-out-of-place", "/damage", "The member \"damage\" belongs to the action \"damage\".")
	}
	if t.JoinedTo != (Ref{}) && t.Action != ActionJoining {
		faults.Add("joined-to-out-of-place", "/joinedTo", "Another specimen is named for the action \"joining\" only.")
	}
}

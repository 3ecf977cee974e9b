package stack

import (
	"meniscus/internal/edtf"
)

// Answer is one answer to a question about a specimen, a layer or a body. The
// zero Answer is Unknown: what is not stated is unknown.
type Answer string

const (
	Unknown Answer = ""
	Yes     Answer = "yes"
	Partial Answer = "partly"
	No      Answer = "no"
)

// String writes Unknown as a word.
func (a Answer) String() string {
	if a == Unknown {
		return "unknown"
	}
	return string(a)
}

// Action is what a treatment did.
type Action string

const (
	MechanicalPreparation Action = "mechanical-preparation"
	AcidPreparation       Action = "acid-preparation"
	Cleaning              Action = "cleaning"
	Desalination          Action = "desalination"
	Consolidation         Action = "consolidation"
	Joining               Action = "joining"
	Coating               Action = "coating"
	BarrierCoat           Action = "barrier"
	Filling               Action = "filling"
	Retouching            Action = "retouching"
	Labelling             Action = "labelling"
	Mounting              Action = "mounting"
	Moulding              Action = "moulding"
	Casting               Action = "casting"
	FluidChange           Action = "fluid-change"
	PestTreatment         Action = "pest-treatment"
	Sampling              Action = "sampling"
	Testing               Action = "test"
	Removing              Action = "removal"
	Examining             Action = "examination"
	Damage                Action = "damage"
	OtherAction           Action = "other"
)

// Role is what a layer is there for.
type Role string

const (
	Consolidant            Role = "consolidant"
	PenetratingConsolidant Role = "penetrating-consolidant"
	Coat                   Role = "coating"
	Barrier                Role = "barrier"
	LabelBase              Role = "label-base"
	LabelTop               Role = "label-top"
	Ink                    Role = "ink"
	Adhesive               Role = "adhesive"
	Fill                   Role = "fill"
	Paint                  Role = "paint"
	Mount                  Role = "mount"
	OtherRole              Role = "other"
	UnknownRole            Role = "unknown"
)

// roleOf is the role that an action gives when no other is stated.
var roleOf = map[Action]Role{
	Consolidation: Consolidant, Joining: Adhesive, Coating: Coat, BarrierCoat: Barrier, Filling: Fill,
	Retouching: Paint, Labelling: LabelBase, Mounting: Mount, Moulding: OtherRole, Casting: OtherRole,
	FluidChange: OtherRole, PestTreatment: OtherRole, OtherAction: UnknownRole,
}

// soaksIn tells whether the layer is in the body and not on it.
func (r Role) soaksIn() bool { return r == Consolidant || r == PenetratingConsolidant }

// label tells whether the layer is part of a number on the specimen.
func (r Role) label() bool { return r == LabelBase || r == LabelTop || r == Ink }

// film tells whether the layer lies on the surface as a film.
func (r Role) film() bool {
	return r == Coat || r == Barrier || r == Paint || r == LabelBase || r == LabelTop
}

// Method is how a treatment was brought to the specimen.
type Method string

const (
	Brush         Method = "brush"
	Drip          Method = "drip"
	Pipette       Method = "pipette"
	Spray         Method = "spray"
	Injection     Method = "injection"
	Immersion     Method = "immersion"
	Vacuum        Method = "vacuum"
	Capillary     Method = "capillary"
	Swab          Method = "swab"
	Poultice      Method = "poultice"
	VapourChamber Method = "vapour-chamber"
	Mechanical    Method = "mechanical"
	OtherMethod   Method = "other"
	UnknownMethod Method = "unknown"
)

// bath tells whether the method reaches the whole connected piece.
// A vacuum vessel is a bath.
func (m Method) bath() bool { return m == Immersion || m == Vacuum || m == VapourChamber }

// Ref names a material, with its grade where that is known.
type Ref struct {
	Material, Grade string
}

// Share is one solvent of a mixture; a fraction of zero is not stated.
type Share struct {
	Solvent  string
	Fraction float64
	By       string // volume or mass; empty where not stated
}

// Certainty is how sure an identification is.
type Certainty string

const (
	Documented   Certainty = "documented"
	Analysed     Certainty = "analysed"
	Inferred     Certainty = "inferred"
	Unidentified Certainty = "unknown"
)

// Use is one thing that a treatment put on: what is known of it, from a
// material, a batch or the words of an old card.
type Use struct {
	// Solids are what is in it for certain, one or several.
	Solids []Ref
	// Candidates are what the words may mean: one of them, unknown which.
	Candidates []Ref
	// Verbatim is what an old card says.
	Verbatim  string
	Certainty Certainty
	// Solvents are the liquids that it was brought with; none without NoSolvent
	// means not stated.
	Solvents []Share
	// SolventsOpen says that there were other, unnamed ones too.
	SolventsOpen bool
	// NoSolvent says that it was brought without one (a melt, a reacting resin).
	NoSolvent bool
	Strength  *Strength
	// Role is the layer's, where it is not the treatment's.
	Role Role
	// Batch or Supply is the identifier of what was used, if it is recorded.
	Batch, Supply string
	// ReferenceSample says where a sample of the batch is kept.
	ReferenceSample string
}

// Drying is what is known of how dry a layer was when it was left.
type Drying struct {
	// State is touch-dry, handling-dry, dried or unknown.
	State string
	// Days is how long it dried, for "dried"; zero is not known.
	Days float64
	// TemperatureC is the temperature at which it dried, if known.
	TemperatureC *float64
	// Slowed says that drying was held back (a closed bag, a saturated vapour).
	Slowed Answer
}

const (
	TouchDry    = "touch-dry"
	HandlingDry = "handling-dry"
	Dried       = "dried"
)

// RelationKind is how a treatment's layer lies to another's.
type RelationKind string

const (
	Over       RelationKind = "over"
	Under      RelationKind = "under"
	Inside     RelationKind = "inside"
	Bridges    RelationKind = "bridges"
	BarrierFor RelationKind = "barrier-for"
)

// Relation ties a treatment's layer to another treatment's.
type Relation struct {
	Kind RelationKind
	To   string
}

// Removal is what a removal took off and how far.
type Removal struct {
	// Treatments are the ones whose material was taken off; none means that
	// they are unknown.
	Treatments []string
	// Left is reduced, not-detected or unknown.
	Left          LayerState
	Method, Limit string
}

// DamageDone is what happened to layers.
type DamageDone struct {
	// Treatments are those whose layers were damaged; none means that it was not said.
	Treatments []string
	// Kind is slumped, joint-failed, cracked, flaked, whitened, yellowed, other or unknown.
	Kind string
}

// Trial is a small test on the specimen itself.
type Trial struct {
	// Layer is the treatment whose layer was tested, or "" where unknown.
	Layer    string
	Solvent  string
	Dwell    string
	Observed string
}

// Examination is what was looked for and found.
type Examination struct {
	// Outcome is none-found, found or inconclusive.
	Outcome string
	// Elsewhere tells that it looked for something that no treatment leaves, such as arsenic or tack.
	Elsewhere bool
	How       string
	Limit     string // of detection
}

// bare tells whether an examination found nothing of what treatments leave.
func (x *Examination) bare() bool { return x != nil && x.Outcome == "none-found" && !x.Elsewhere }

// Exposure is how long a solvent stood on the specimen; nil hours are not known.
type Exposure struct {
	Solvent string
	Hours   *float64
	During  string
}

// Environment is the air and the surface at the time, and where the specimen is
// meant to stand afterwards. A nil number was not recorded.
type Environment struct {
	AirC, SurfaceC, RelativeHumidity, PH *float64
	// StoreC is the highest temperature that the specimen is to stand after it.
	StoreC *float64
	// ClosedCase says whether it will stand in a case without exchange of air.
	ClosedCase Answer
}

// Treatment is one action on named areas of one specimen, as it was recorded or
// as it is proposed.
type Treatment struct {
	ID       string
	Specimen string
	Withheld bool // its words are not told to whoever asks
	Action   Action
	Role     Role
	Method   Method
	Coats    int
	Areas    []Area
	// AreasUnknown says that its place is unknown; it may be anywhere.
	AreasUnknown bool
	// PossiblyReached are other areas that may have been reached.
	PossiblyReached []Area
	// Partial says that a bath held only the named areas.
	Partial bool
	// PartialOpen says that it is not known whether it did: the rest was possibly reached.
	PartialOpen bool
	Uses        []Use
	// NothingPut says that nothing was put on, although actions like this do.
	NothingPut bool
	Drying     Drying
	// When holds the earliest and the latest day that it may have happened on; a
	// zero end is not known. Date is what was said, for sentences.
	When        edtf.Period
	Date        edtf.Date
	Relations   []Relation
	Removal     *Removal
	Damage      *DamageDone
	Trial       *Trial
	Examination *Examination
	Environment Environment
	Exposures   []Exposure
	// NumberRecorded says, for a label, whether its number is recorded elsewhere.
	NumberRecorded Answer
	// CarriesLoad says, for a joint, whether it carries load.
	CarriesLoad Answer
	// Supported says whether the piece, the joint or the friable body is held
	// while it is worked on, or a replacement consolidant is named.
	Supported Answer
	// Protected says whether it is stated how the people who work on it are protected
	// from the specimen's hazards.
	Protected Answer
	// Authorised says whether a curator has approved it.
	Authorised Answer
	Retracted  bool
	// Sequence is the log's sequence number of the record, 0 for one that has none yet.
	Sequence int64
}

// dateText says when it was.
func (t *Treatment) dateText() string { return dateText(t.Date, t.When) }

// eachArea calls f with each area that the treatment names.
func (t *Treatment) eachArea(f func(Area)) {
	for _, a := range t.Areas {
		f(a)
	}
	for _, a := range t.PossiblyReached {
		f(a)
	}
}

// roleFor is the role of one of the treatment's layers.
func (t *Treatment) roleFor(u *Use) Role {
	if u.Role != "" {
		return u.Role
	}
	if t.Role != "" {
		return t.Role
	}
	if r, ok := roleOf[t.Action]; ok {
		return r
	}
	return UnknownRole
}

// leavesMaterial tells whether the action puts material on or in the specimen.
func (t *Treatment) leavesMaterial() bool {
	_, ok := roleOf[t.Action]
	return ok
}

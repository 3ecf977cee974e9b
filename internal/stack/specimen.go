package stack

// SpecimenArea is a named area, and whether it is a piece that lies apart.
type SpecimenArea struct {
	Path     Area
	Separate bool
}

// PassedOn is where a specimen that left went.
type PassedOn struct {
	To   string
	Date string // as it was written, or the answer in its place
}

// Unread is a record that is stored and cannot be read.
type Unread struct{ Kind, ID string }

// PlannedSampling is an analysis for which a sample is planned.
type PlannedSampling struct {
	Areas []Area
	// AreasUnknown says that the place is not settled.
	AreasUnknown bool
	Analysis     string
}

// Trait is a property of the body that a rule asks for.
type Trait string

const (
	Porous      Trait = "porous"
	Friable     Trait = "friable"
	SubFossil   Trait = "sub-fossil"
	Pyrite      Trait = "pyrite"
	ActiveSalts Trait = "active-salts"
	UnfiredClay Trait = "unfired-clay"
	Shale       Trait = "shale"
	Calcareous  Trait = "calcareous"
	Fossil      Trait = "fossil"
	Coloured    Trait = "painted-or-coated"
	LeadBronze  Trait = "lead-or-bronze"
)

// Specimen is what the rules need to know of one specimen.
type Specimen struct {
	ID string
	// Collection is what it belongs to, as its record spells it.
	Collection string
	// BodyKind is bone, tooth, antler-horn, ivory, shell, ceramic, unfired-clay,
	// wood, plant, mineral, matrix-rock, shale, pyrite, amber, skin-leather,
	// textile, metal, glass, plaster, mixed, other or unknown.
	BodyKind string
	// Condition is dry, damp, wet, waterlogged, sub-fossil, frozen or unknown.
	Condition string
	// Traits are the stated properties; a missing one follows from the body kind
	// where it can, and is unknown otherwise.
	Traits map[Trait]Answer
	// ByCollection are those of Traits that come from the collection's default and not
	// from the specimen's own record.
	ByCollection []Trait
	// Hazards are those of all records that tell of it, the gravest first.
	Hazards []Hazard
	// PassedOn is nil for a specimen that is still here.
	PassedOn *PassedOn
	// AskedAs is the record that was asked about, if that was merged into this one.
	AskedAs string
	// MoreTreatments is how many further treatments are on record.
	MoreTreatments int
	// Withheld is how many records about it are withheld from whoever asks.
	Withheld int
	// Unread are the records about it that cannot be read.
	Unread []Unread
	Areas  []SpecimenArea
	// Sampling is what is planned; SamplingKnown says that the question was
	// answered, so that an empty list means that none is planned.
	Sampling      []PlannedSampling
	SamplingKnown bool
}

// implied is what follows from the kind of body by what the words mean.
// Common practice; a stated trait comes before it.
var implied = map[string]map[Trait]Answer{
	"bone":         {Porous: Yes, UnfiredClay: No, Shale: No, LeadBronze: No},
	"tooth":        {Porous: Yes, UnfiredClay: No, Shale: No, LeadBronze: No},
	"antler-horn":  {Porous: Yes, UnfiredClay: No, Shale: No, LeadBronze: No},
	"ivory":        {Porous: Yes, UnfiredClay: No, Shale: No, LeadBronze: No},
	"shell":        {Porous: Yes, Calcareous: Yes, UnfiredClay: No, Shale: No, LeadBronze: No},
	"ceramic":      {Porous: Yes, Pyrite: No, UnfiredClay: No, Shale: No, Fossil: No, SubFossil: No, LeadBronze: No},
	"unfired-clay": {Porous: Yes, UnfiredClay: Yes, Shale: No, Fossil: No, SubFossil: No, LeadBronze: No},
	"wood":         {Porous: Yes, UnfiredClay: No, Shale: No, Calcareous: No, LeadBronze: No},
	"plaster":      {Porous: Yes, Fossil: No, SubFossil: No, UnfiredClay: No, Shale: No, Pyrite: No, LeadBronze: No},
	"shale":        {Shale: Yes, LeadBronze: No, SubFossil: No},
	"pyrite":       {Pyrite: Yes, LeadBronze: No, SubFossil: No, UnfiredClay: No},
	"glass": {
		Porous: No, Pyrite: No, UnfiredClay: No, Shale: No, Calcareous: No, Fossil: No, SubFossil: No, LeadBronze: No,
	},
	"amber": {Porous: No, UnfiredClay: No, Shale: No, Calcareous: No, Fossil: Yes, SubFossil: No, LeadBronze: No},
	"metal": {Porous: No, UnfiredClay: No, Shale: No, Calcareous: No, Fossil: No, SubFossil: No},
	"textile": {
		Porous: Yes, Pyrite: No, UnfiredClay: No, Shale: No, Calcareous: No, Fossil: No, SubFossil: No, LeadBronze: No,
	},
	"skin-leather": {Porous: Yes, UnfiredClay: No, Shale: No, Calcareous: No, SubFossil: No, LeadBronze: No},
}

// Is answers whether the body has a trait.
func (s *Specimen) Is(t Trait) Answer {
	if a, ok := s.Traits[t]; ok && a != Unknown {
		return a
	}
	if t == SubFossil && s.Condition == "sub-fossil" {
		return Yes
	}
	return implied[s.BodyKind][t]
}

// waterHurts are the traits of a body that water harms.
var waterHurts = []Trait{Pyrite, ActiveSalts, UnfiredClay, Shale, SubFossil}

// standsWater answers whether the body is known to stand water, and which trait
// decides it; for Unknown, the traits that are not stated.
func (s *Specimen) standsWater() (Answer, []Trait) {
	var open []Trait
	for _, t := range waterHurts {
		switch s.Is(t) {
		case Yes:
			return No, []Trait{t}
		case No:
		default:
			open = append(open, t)
		}
	}
	if len(open) > 0 {
		return Unknown, open
	}
	return Yes, nil
}

// holdsCollagen tells whether the body is of a kind that collagen, DNA or a
// radiocarbon date is sought in.
func (s *Specimen) holdsCollagen() bool {
	switch s.BodyKind {
	case "bone", "tooth", "antler-horn", "ivory", "skin-leather", "mixed", "other", "unknown", "":
		return true
	}
	return false
}

// datable tells whether samples for dating, isotopes, DNA or proteins are
// likely to be asked for.
func (s *Specimen) datable() bool {
	switch s.BodyKind {
	case "shell", "wood", "plant", "textile":
		return true
	}
	return s.holdsCollagen()
}

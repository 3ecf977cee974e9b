package stack_test

import (
	"slices"
	"testing"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// Materials and liquids of the tables.
const (
	copolymer = "ethyl-methacrylate-methyl-acrylate-copolymer"
	isobutyl  = "poly-isobutyl-methacrylate"
	nButyl    = "poly-n-butyl-methacrylate"
	pvbLow    = "pvb-low-hydroxyl"
	pvbHigh   = "pvb-high-hydroxyl"
	acetate   = "poly-vinyl-acetate-resin"
	whiteGlue = "poly-vinyl-acetate-dispersion"
	epoxy     = "epoxy-bisphenol-a-amine"
	nitrate   = "cellulose-nitrate"
	wax       = "microcrystalline-wax"
	silicate  = "ethyl-silicate"
	lime      = "calcium-hydroxide-nanolime"
)

// today is the day on which the tests ask.
var today = edtf.Day{Year: 2026, Month: 3, Day: 2}

// when reads a date; "" is an unknown one.
func when(text string) edtf.Period {
	if text == "" {
		return edtf.Period{}
	}
	return edtf.MustParse(text).Period()
}

func num(x float64) *float64 { return &x }

// of is a use of one material in one liquid; no liquid means that none is said.
func of(material string, liquids ...string) stack.Use {
	u := stack.Use{Solids: []stack.Ref{{Material: material}}}
	for _, l := range liquids {
		u.Solvents = append(u.Solvents, stack.Share{Solvent: l})
	}
	return u
}

// words is a use described on an old card by words that may mean several
// materials.
func words(verbatim string, candidates ...string) stack.Use {
	u := stack.Use{Verbatim: verbatim, Certainty: stack.Inferred}
	for _, c := range candidates {
		u.Candidates = append(u.Candidates, stack.Ref{Material: c})
	}
	return u
}

// at strength.
func (s strength) of(u stack.Use) stack.Use {
	u.Strength = &stack.Strength{Value: float64(s), Unit: "g/dL", Basis: "mass-per-solution-volume"}
	return u
}

type strength float64

// put is an ordinary treatment of one area by brush.
func put(id string, action stack.Action, area stack.Area, date string, uses ...stack.Use) stack.Treatment {
	return stack.Treatment{
		ID: id, Action: action, Method: stack.Brush, Areas: []stack.Area{area}, When: when(date), Uses: uses,
	}
}

// with changes a treatment.
func with(t stack.Treatment, changes ...func(*stack.Treatment)) stack.Treatment {
	for _, change := range changes {
		change(&t)
	}
	return t
}

func role(r stack.Role) func(*stack.Treatment)     { return func(t *stack.Treatment) { t.Role = r } }
func method(m stack.Method) func(*stack.Treatment) { return func(t *stack.Treatment) { t.Method = m } }
func loaded(a stack.Answer) func(*stack.Treatment) {
	return func(t *stack.Treatment) { t.CarriesLoad = a }
}
func numbered(a stack.Answer) func(*stack.Treatment) {
	return func(t *stack.Treatment) { t.NumberRecorded = a }
}
func supported(t *stack.Treatment) { t.Supported = stack.Yes }
func climate(c, rh float64) func(*stack.Treatment) {
	return func(t *stack.Treatment) {
		t.Environment.AirC, t.Environment.RelativeHumidity = num(c), num(rh)
	}
}
func store(c float64) func(*stack.Treatment) {
	return func(t *stack.Treatment) { t.Environment.StoreC = num(c) }
}
func hours(solvent string, h float64) func(*stack.Treatment) {
	return func(t *stack.Treatment) {
		t.Exposures = append(t.Exposures, stack.Exposure{Solvent: solvent, Hours: num(h)})
	}
}
func relation(kind stack.RelationKind, to string) func(*stack.Treatment) {
	return func(t *stack.Treatment) { t.Relations = append(t.Relations, stack.Relation{Kind: kind, To: to}) }
}
func dry(state string, days float64) func(*stack.Treatment) {
	return func(t *stack.Treatment) { t.Drying = stack.Drying{State: state, Days: days} }
}
func areas(a ...stack.Area) func(*stack.Treatment) {
	return func(t *stack.Treatment) { t.Areas = a }
}

// off is a removal of other treatments' layers.
func off(
	id string, area stack.Area, date string, left stack.LayerState, solvent string, targets ...string,
) stack.Treatment {
	t := put(id, stack.Removing, area, date)
	t.Method = stack.Swab
	t.Removal = &stack.Removal{Treatments: targets, Left: left}
	if solvent != "" {
		t.Exposures = []stack.Exposure{{Solvent: solvent, Hours: num(1), During: "removal"}}
	}
	return t
}

// tried is a test on the specimen.
func tried(id string, area stack.Area, date, layer, solvent, observed string) stack.Treatment {
	t := put(id, stack.Testing, area, date)
	t.Trial = &stack.Trial{Layer: layer, Solvent: solvent, Observed: observed}
	return t
}

// examined is an examination that found nothing.
func examined(id string, area stack.Area, date string) stack.Treatment {
	t := put(id, stack.Examining, area, date)
	t.Examination = &stack.Examination{Outcome: "none-found", How: "ultraviolet light"}
	return t
}

// bone is dry, not friable, without what water harms, and not to be sampled: a
// fully recorded body.
func bone(changes ...func(*stack.Specimen)) stack.Specimen {
	s := stack.Specimen{
		ID: "LV.1987/0042", BodyKind: "bone", Condition: "dry", SamplingKnown: true,
		Traits: map[stack.Trait]stack.Answer{
			stack.Fossil: stack.Yes, stack.SubFossil: stack.No, stack.Friable: stack.No, stack.Pyrite: stack.No,
			stack.ActiveSalts: stack.No, stack.Calcareous: stack.No, stack.Coloured: stack.No,
		},
	}
	for _, change := range changes {
		change(&s)
	}
	return s
}

func trait(t stack.Trait, a stack.Answer) func(*stack.Specimen) {
	return func(s *stack.Specimen) { s.Traits[t] = a }
}
func body(kind string) func(*stack.Specimen) { return func(s *stack.Specimen) { s.BodyKind = kind } }
func condition(c string) func(*stack.Specimen) {
	return func(s *stack.Specimen) { s.Condition = c }
}
func sampling(analysis string, areas ...stack.Area) func(*stack.Specimen) {
	return func(s *stack.Specimen) {
		s.Sampling = append(s.Sampling, stack.PlannedSampling{Areas: areas, Analysis: analysis})
	}
}
func pieces(areas ...stack.Area) func(*stack.Specimen) {
	return func(s *stack.Specimen) {
		for _, a := range areas {
			s.Areas = append(s.Areas, stack.SpecimenArea{Path: a, Separate: true})
		}
	}
}

func newStack(t testing.TB, s stack.Specimen, treatments ...stack.Treatment) *stack.Stack {
	t.Helper()
	st, err := stack.New(stack.Config{Specimen: s, Treatments: treatments, Knowledge: material.Builtin(), At: today})
	if err != nil {
		t.Fatalf("got %v, want a stack", err)
	}
	return st
}

func check(t testing.TB, s *stack.Stack, p stack.Treatment, c stack.CheckConfig) stack.Checked {
	t.Helper()
	checked, err := s.Check(p, c)
	if err != nil {
		t.Fatalf("got %v, want a check", err)
	}
	return checked
}

// findings of one rule.
func findings(c stack.Checked, rule string) []stack.Finding {
	return slices.DeleteFunc(slices.Clone(c.Findings), func(f stack.Finding) bool { return f.Rule != rule })
}

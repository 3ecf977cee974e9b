package record

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"meniscus/internal/bibliography"
)

// A Dossier is a record with the others that it points to.
type Dossier struct {
	Value Value
	// Specimen is that of a treatment or a plan, by the record that stands for it;
	// nil where nothing is known of it.
	Specimen *Specimen
	// Others are the people, supplies and batches that are named, and the lineage
	// of those batches, by id.
	Others map[Ref]Value
	// Received says that the statement came from another institution: its
	// authorisations are no consent that can be shown here.
	Received bool
	// Solvents are those of Others, where several records are judged together; if
	// nil, they are worked out for this one.
	Solvents *Solvents
}

// HangsOn gives the specimen, people, supplies and batches that a value names and
// on which its completeness depends.
func HangsOn(v Value) []Ref {
	var ids []Ref
	switch v := v.(type) {
	case *Treatment:
		ids = append(ids, v.Specimen)
		for _, who := range v.People {
			ids = append(ids, who.Person)
		}
		for _, u := range v.Uses.Value {
			ids = append(ids, u.Batch, u.Supply)
		}
	case *Plan:
		ids = append(ids, v.Treatment.Specimen)
	case *Batch:
		for _, in := range v.Inputs.Value {
			ids = append(ids, in.Batch)
		}
	}
	return slices.DeleteFunc(ids, func(id Ref) bool { return id == Ref{} })
}

// A Gap is something that was not answered.
type Gap struct {
	// Rule names the demand in words, as the contract lists them.
	Rule string
	// Field says in words what is missing.
	Field string
	// Pointer is where the record would say it (RFC 6901), in the record named
	// by Of.
	Pointer string
	// Of is the kind of record that would say it.
	Of Kind
	// Why says why it is asked for.
	Why string
	// Source is where the demand comes from.
	Source string
}

// Completeness is how much of what a record must hold is answered. It is never
// one number: Answered of Applicable, and what is missing.
type Completeness struct {
	Answered, Applicable int
	Missing              []Gap
	// The recommendations stand apart and never enter the two numbers.
	RecommendedAnswered, RecommendedApplicable int
	RecommendedMissing                         []Gap
}

// Score judges a record by the demands on its kind. "unknown", "none" and
// "not-examined" are answers. A demand with a condition applies only where the
// condition holds, so a record is not measured by what it cannot have.
func Score(d Dossier) Completeness {
	if d.Specimen == nil {
		d.Specimen = new(Specimen)
	}
	switch v := d.Value.(type) {
	case *Treatment:
		return score(d, v, treatmentRules)
	case *Plan:
		return score(d, v, planRules)
	case *Specimen:
		return score(d, v, specimenRules)
	case *Supply:
		return score(d, v, supplyRules)
	case *Batch:
		return score(d, v, batchRules)
	}
	return Completeness{}
}

func score[T Value](d Dossier, of T, rules []rule[T]) Completeness {
	var c Completeness
	for _, r := range rules {
		gaps, applies := r.missing(d, of)
		if !applies {
			continue
		}
		demand := demands[r.id]
		for i := range gaps {
			gaps[i].Rule, gaps[i].Source = r.id, demand.source
			if gaps[i].Why == "" {
				gaps[i].Why = cmp.Or(reasons[field{r.id, lastName(gaps[i].Pointer)}], demand.why)
			}
		}
		c.count(r.recommended, gaps)
	}
	return c
}

func (c *Completeness) count(recommended bool, gaps []Gap) {
	answered := 0
	if len(gaps) == 0 {
		answered = 1
	}
	if recommended {
		c.RecommendedApplicable++
		c.RecommendedAnswered += answered
		c.RecommendedMissing = append(c.RecommendedMissing, gaps...)
		return
	}
	c.Applicable++
	c.Answered += answered
	c.Missing = append(c.Missing, gaps...)
}

// A rule looks for the gaps of one demand on a kind of record; applies is false
// where the demand has a condition that does not hold.
type rule[T Value] struct {
	id          string
	recommended bool
	missing     func(d Dossier, of T) (gaps []Gap, applies bool)
}

// asked is a field that a rule asks for: where a record says it, its name, and
// whether it is said.
type asked[T any] struct {
	pointer, name string
	answered      func(T) bool
}

// at is a field at a pointer.
func at[T any](pointer, name string, answered func(T) bool) asked[T] {
	return asked[T]{pointer, name, answered}
}

// ask makes a rule of fields that always apply.
func ask[T Value](id string, fields ...asked[T]) rule[T] {
	return rule[T]{id: id, missing: func(_ Dossier, of T) ([]Gap, bool) { return want(of, fields...), true }}
}

func recommend[T Value](r rule[T]) rule[T] {
	r.recommended = true
	return r
}

// want gives a gap for each field that a value does not answer.
func want[T Value](of T, fields ...asked[T]) []Gap {
	var gaps []Gap
	for _, f := range fields {
		gaps = unless(gaps, f.answered(of), of.Kind(), f.pointer, f.name)
	}
	return gaps
}

// unless adds a gap where something is not answered.
func unless(gaps []Gap, answered bool, of Kind, pointer, name string) []Gap {
	if answered {
		return gaps
	}
	return append(gaps, Gap{Of: of, Pointer: pointer, Field: name})
}

// written tells whether a text says anything.
func written(text string) bool { return strings.TrimSpace(text) != "" }

// demand is why a rule asks, and on whose authority.
type demand struct{ why, source string }

var (
	guidelines   = bibliography.Named("aic-commentaries").Citation
	collections  = bibliography.Named("spectrum-5").Citation
	competencies = bibliography.Named("brown-2012").Citation
	terms        = bibliography.Named("en-15898-2019").Citation
	reporting    = bibliography.Named("en-16095-2012").Citation
	ordinary     = bibliography.Named("common-practice").Citation
)

var demands = map[string]demand{
	"specimen-identity":     {"A record that cannot be tied to one specimen, its owner and what it is, is lost as soon as it is filed.", guidelines + ", 24"},
	"reason":                {"Without the reason it cannot be judged later whether the treatment was called for.", guidelines + ", 24"},
	"dates":                 {"The order of treatments, and which supply can have been used, hang on the date and on how well it is known.", guidelines + ", 24 and 27; " + collections},
	"people":                {"Those who did it can be asked, and other work of theirs found.", guidelines + ", 27; " + collections},
	"areas":                 {"A sample can only be planned where it is known what was touched; all of it is said, never assumed.", reporting},
	"action":                {"What kind of act it was decides what is looked for later.", terms},
	"materials":             {"If a material proves bad, everything treated with it must be found.", guidelines + ", 27; " + competencies},
	"solvents":              {"The solvent stays for months, decides what it did to the layers below, and can disturb analyses.", competencies},
	"strength-basis":        {"A percentage without its basis can be wrong by more than half.", ordinary},
	"amounts":               {"What was added is on the specimen, and what was removed is gone.", guidelines + ", 27"},
	"application":           {"How far a consolidant went and how dry it became depend on how it was put on, and in what air.", ordinary},
	"condition":             {"Change is only seen against a condition that was written down.", guidelines + ", 27"},
	"images":                {"What a treatment hides or alters can only be seen in a picture that says when it was taken and how large things are.", guidelines + ", 27"},
	"consent":               {"Treatment, sampling and mounting need consent that can be shown.", guidelines + ", 6; " + collections},
	"approval":              {"A departure from an approved plan needs the same approval as the plan.", guidelines + ", 26"},
	"certainty-of-words":    {"An old word for a material is a guess until it is said how sure it is.", ordinary},
	"reversibility":         {"Whether it comes off again depends on this body and this use, and changes with age.", terms},
	"information-uncovered": {"Treatment uncovers and destroys information; the catalogue must be told of both.", collections},
	"samples":               {"Demands on samples change; an untreated place kept on purpose can be found again.", ordinary},
	"next-check":            {"Treatments age; the next look is booked or forgotten.", collections},
	"record-copies":         {"The record must outlive the one copy that it is kept in.", guidelines + ", 28"},
}

// field is what one rule asks for.
type field struct{ rule, name string }

// reasons are why one field is asked for, where the rule asks for several, by
// the rule and the last name of the field's pointer.
var reasons = map[field]string{
	{"dates", "proposed"}:               "A plan is judged by what was known when it was made.",
	{"people", "organisation"}:          "The organisation keeps the papers, and answers for the work, when the person has gone.",
	{"amounts", "amount"}:               "How much is there decides how long it takes to dry, and what has to come off again.",
	{"amounts", "amountRemoved"}:        "What was removed is gone: only the record tells how much it was.",
	{"application", "method"}:           "How it was done decides how far anything went in, and what else it reached.",
	{"application", "airTemperature"}:   "How fast things dry and set depends on how warm the air was.",
	{"application", "relativeHumidity"}: "How fast things dry, and how a film looks afterwards, depend on how damp the air was.",
	{"application", "coats"}:            "Coats add up: they decide how thick the film is, and how much has to come off again.",
	{"application", "drying"}:           "Solvent that is still there keeps a film soft and can disturb analyses.",
	{"consent", "authority"}:            "Only the owner, or a person who may act for the owner, can consent.",
	{"approval", "options"}:             "Those who approve must know what else could be done, doing nothing among it.",
	{"approval", "risks"}:               "Those who approve must know what may go wrong.",
	{"approval", "estimate"}:            "Those who approve must know how long it will take.",
	{"samples", "plannedSampling"}:      "Samples are taken before anything is put on, so what is planned must be known by then.",
	{"samples", "referenceSample"}:      "If a batch is doubted later, what was kept of it can be examined.",
	{"record-copies", "report"}:         "The report is what the owner keeps of the treatment.",
}

// lastName is the last member that a pointer names.
func lastName(pointer string) string { return pointer[strings.LastIndexByte(pointer, '/')+1:] }

func item(pointer string, i int, rest string) string {
	return fmt.Sprintf("%s/%d%s", pointer, i, rest)
}

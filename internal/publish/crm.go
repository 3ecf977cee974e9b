package publish

import (
	_ "embed"
	"fmt"
	"slices"
	"time"

	"meniscus/internal/edtf"
	"meniscus/internal/record"
)

// linkedArtContext is the URL of the documents' context.
const linkedArtContext = "https://linked.art/ns/v1/linked-art.json"

// LinkedArtType is the media type of a document in that context.
const LinkedArtType = LinkedDataType + `;profile="` + linkedArtContext + `"`

// Context is the part of that context that the documents use, with the same
// meaning, for readers that do not fetch it.
//
//go:embed data/linked-art-context.json
var Context []byte

const aat = "http://vocab.getty.edu/aat/"

// Concepts of the Art & Architecture Thesaurus that the Linked Art model itself
// names. The identifiers were taken from its documentation and from open
// alignments, not read at the thesaurus.
var (
	conservation    = typeNode(aat+"300404519", "conservation (process)")
	materials       = briefText(aat+"300435429", "Materials Statement")
	condition       = briefText(aat+"300435425", "Condition Statement")
	description     = briefText(aat+"300435416", "Description")
	plainNote       = briefText(aat+"300027200", "Note")
	accessionNumber = typeNode(aat+"300312355", "Accession Number")
	localNumber     = typeNode(aat+"300404621", "Local Number")
	systemNumber    = typeNode(aat+"300435704", "System Number")
)

// SpecimenCRM is a specimen with its treatments: CIDOC CRM 7.1.3 in the Linked
// Art JSON-LD context. It does not claim the profile, whose top level admits only
// made objects: a specimen is typed as what it is.
//
// Source of classes, properties and their domains: CIDOC CRM 7.1.3, RDFS of
// February 2024; of keys and patterns: Linked Art 1.0.
func SpecimenCRM(base Base, s Specimen) ([]byte, error) {
	doc := specimenNode(s)
	var modified, attributed []any
	for _, t := range byDate(s.Treatments) {
		if changesSpecimen(t.Action) {
			modified = append(modified, modification(base, t))
		} else {
			attributed = append(attributed, assessment(base, t))
		}
	}
	put(doc, "modified_by", modified)
	put(doc, "attributed_by", attributed)
	return encode(doc)
}

// TreatmentCRM is the specimen with one treatment: in this profile a modification
// is nested in the thing that it modified.
func TreatmentCRM(base Base, t Treatment, of Specimen) ([]byte, error) {
	of.Treatments = nil
	if t.Revision.Standing() {
		of.Treatments = []Treatment{t}
	}
	return SpecimenCRM(base, of)
}

func specimenNode(s Specimen) node {
	n := node{"@context": linkedArtContext, "id": s.IRI, "type": classOf(s.Body), "_label": s.Title}
	var identified []any
	for _, id := range s.Identifiers {
		identified = append(identified, identifierNode(id))
	}
	for _, m := range s.Merged {
		for _, id := range m.Identifiers {
			identified = append(identified, identifierNode(id))
		}
	}
	put(n, "identified_by", identified)
	var said []any
	for _, notice := range s.Notices {
		said = append(said, statement(plainNote, "Notice", notice))
	}
	for _, text := range []struct {
		concept        node
		label, content string
	}{
		{description, "Description", s.Description},
		{description, "Classification", s.Classification},
		{plainNote, "Collection", s.Collection},
		{plainNote, "Owner", s.Owner},
		{plainNote, "Standing", s.Standing()},
	} {
		if text.content != "" {
			said = append(said, statement(text.concept, text.label, text.content))
		}
	}
	put(n, "referred_to_by", said)
	return n
}

// classOf is the class of a specimen, from the kind of its body alone: E20 for
// what lived or grew (a comb of bone too), E22 for made objects, E19 for
// everything else.
func classOf(body string) string {
	switch body {
	case "bone", "tooth", "antler-horn", "ivory", "shell", "wood", "plant", "amber":
		return "BiologicalObject"
	case "ceramic", "unfired-clay", "textile", "plaster":
		return "HumanMadeObject"
	}
	return "PhysicalObject"
}

func identifierNode(id Identifier) node {
	concept := localNumber
	switch id.Kind {
	case "accession-number":
		concept = accessionNumber
	case "guid", "ark", "doi", "igsn":
		concept = systemNumber
	}
	label := capital(spaced(id.Kind))
	return node{"type": "Identifier", "content": id.Value, "_label": label, "classified_as": []any{concept}}
}

func typeNode(iri, label string) node { return node{"id": iri, "type": "Type", "_label": label} }

// changesSpecimen is false for examinations and damage. An application that
// changed nothing is still a modification (scope note of E11), and so is a test.
func changesSpecimen(action string) bool {
	return action != string(record.ActionExamination) && action != string(record.ActionDamage)
}

// modification is a treatment as E11.
func modification(base Base, t Treatment) node {
	n := node{"id": t.IRI, "type": "Modification", "_label": t.Title(),
		"classified_as": []any{conservation},
		"technique":     technique(base, t.Action),
	}
	event(n, t)
	var employed, objects []any
	for _, u := range t.Uses {
		for _, m := range slices.Concat(u.Materials, u.Solvents) {
			if m.IRI == "" {
				continue
			}
			employed = append(employed, node{"id": m.IRI, "type": "Material", "_label": m.Label})
		}
		if u.From != nil {
			objects = append(objects, node{"id": u.From.IRI, "type": "HumanMadeObject", "_label": u.From.Label})
		}
	}
	for _, x := range t.Exposures {
		employed = append(employed, node{"id": x.Solvent.IRI, "type": "Material", "_label": x.Solvent.Label})
	}
	put(n, "employed", distinct(employed))
	put(n, "used_specific_object", distinct(objects))
	return n
}

// distinct drops duplicate references.
func distinct(list []any) []any {
	seen := map[any]bool{}
	return slices.DeleteFunc(list, func(v any) bool {
		id := v.(node)["id"]
		was := seen[id]
		seen[id] = true
		return was
	})
}

// assessment is an examination, or damage that was seen, as E13: it says
// something about the specimen and changes nothing.
func assessment(base Base, t Treatment) node {
	n := node{"id": t.IRI, "type": "AttributeAssignment", "_label": t.Title(), "assigned_property": "classified_as"}
	assigned := typeNode(base.word("action", t.Action), termLabel("action", t.Action))
	if t.Outcome != "" {
		assigned = typeNode(base.word("outcome", t.Outcome), termLabel("outcome", t.Outcome))
	}
	n["assigned"] = []any{assigned}
	n["classified_as"] = []any{typeNode(base.word("action", t.Action), termLabel("action", t.Action))}
	event(n, t)
	return n
}

// technique is our own term, with another vocabulary's concept where an open
// alignment gives one. Its label marks it as unconfirmed.
func technique(base Base, action string) []any {
	list := []any{typeNode(base.word("action", action), termLabel("action", action))}
	if term, ok := FindTerm("action-" + action); ok && term.Match == "exact" {
		list = append(list, typeNode(term.MatchIRI, term.Label+" ("+unconfirmed+")"))
	}
	return list
}

// event adds what modifications and assessments share.
func event(n node, t Treatment) {
	n["identified_by"] = []any{node{"type": "Identifier", "content": t.IRI}}
	put(n, "timespan", timeSpan(t))
	var people []any
	for _, who := range t.People {
		if who.IRI != "" && slices.Contains([]string{"carried-out", "sampled", "examined"}, who.Part) {
			people = append(people, node{"id": who.iri(), "type": "Person", "_label": who.Label()})
		}
	}
	put(n, "carried_out_by", distinct(people))
	put(n, "referred_to_by", statements(t))
}

func statements(t Treatment) []any {
	said := []any{statement(plainNote, "Areas", t.Where())}
	if t.Origin != nil {
		said = append(said, statement(plainNote, "Origin", capital(t.Origin.Said())))
	}
	if what := t.MaterialsSaid(); what != "" {
		said = append(said, statement(materials, "Materials", what))
	}
	if how := t.How(); how != "" {
		said = append(said, statement(plainNote, "Method", how))
	}
	if result := t.Result(); result != "" {
		said = append(said, statement(plainNote, "Result", result))
	}
	for _, note := range t.Notes {
		concept := plainNote
		if note.Kind == "condition-before" || note.Kind == "condition-after" {
			concept = condition
		}
		said = append(said, statement(concept, capital(spaced(note.Kind)), note.Content))
	}
	return said
}

// statement is a short text about something.
func statement(concept node, label, content string) node {
	return node{"type": "LinguisticObject", "_label": label, "content": content, "classified_as": []any{concept}}
}

// briefText is the concept of a text that is itself a brief text.
func briefText(iri, label string) node {
	n := typeNode(iri, label)
	n["classified_as"] = []any{typeNode(aat+"300418049", "Brief Text")}
	return n
}

// timeSpan is the date as it was written, with its outer bounds. The format
// requires moments: the first day begins and the last day ends in UTC. This
// padding is never read back. An open or unknown end is left out.
func timeSpan(t Treatment) node {
	if t.Date.IsZero() {
		return nil
	}
	n := node{"type": "TimeSpan", "identified_by": []any{node{"type": "Name", "content": t.Date.String()}}}
	period := t.Date.Period()
	if !period.From.IsZero() {
		n["begin_of_the_begin"] = moment(t.Started, period.From, "00:00:00")
	}
	if !period.To.IsZero() {
		n["end_of_the_end"] = moment(t.Ended, period.To, "23:59:59")
	}
	return n
}

func moment(at *time.Time, day edtf.Day, clock string) string {
	if at != nil {
		return at.UTC().Format(time.RFC3339)
	}
	return fmt.Sprintf("%sT%sZ", day, clock)
}

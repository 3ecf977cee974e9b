package httpapi

import (
	"crypto/sha256"
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
	"meniscus/internal/wire"
)

// bottleForm is a form of a bottle's page: what it records, by which operation, and where its fields stand in the
// statement.
type bottleForm struct {
	name, title, button string
	done                string
	needs               record.Kind // whose scope it takes to see it
	fields              []string
	states              func(*bottleDesk) (record.Kind, map[string]any, error)
	at                  map[string]string // fields by the beginnings of pointers
}

// bottleForms are the forms, in the order of the page.
var bottleForms = []bottleForm{
	{"use", "Record a use", "Record the use", "The use is recorded.", record.KindAmountChange,
		[]string{"specimen", "which", "action", "role", "area", "amount", "unit", "date"}, (*bottleDesk).use, map[string]string{
			"/statement/specimen": "specimen", "/statement/which": "which", "/statement/action": "action", "/statement/areas": "area",
			"/statement/dates": "date", "/statement/date": "date", "/statement/materials/0/role": "role",
			"/statement/materials/0/amount": "amount", "/statement/amount": "amount"}},
	{"solvent", "Solvent was added", "Record what was added", "What was added is recorded.", record.KindAmountChange,
		[]string{"with", "words", "amount", "unit", "date"}, (*bottleDesk).solvent, map[string]string{
			"/statement/with/words": "words", "/statement/with": "with", "/statement/amount": "amount", "/statement/date": "date"}},
	{"measured", "What is left was measured", "Record what is left", "What is left is recorded.", record.KindAmountChange,
		[]string{"amount", "unit", "date"}, (*bottleDesk).measured, map[string]string{
			"/statement/amount": "amount", "/statement/date": "date"}},
}

// creating are the operations by which the forms record.
var creating = map[record.Kind]string{record.KindTreatment: "createTreatment", record.KindAmountChange: "createAmountChange"}

// bottleDesk is what the forms of a bottle's page are filled in with.
type bottleDesk struct {
	*requestContext
	batch    uuid.UUID
	sent     string // the name of the form that was sent; empty if none was
	unit     string // in which the batch is measured
	solvents []publish.Option
	today    string
	which    []publish.Option // the specimens that may be meant, when that has to be asked
	faults   map[string][]string
}

// newDesk has the forms for a batch, as they are before anything is typed.
func (c *requestContext) newDesk(batch uuid.UUID, book *stock.Book) (*bottleDesk, error) {
	d := &bottleDesk{requestContext: c, batch: batch, unit: string(book.Shelf().Unit(batch.String()))}
	if held := book.Shelf().Contents(batch.String()); held.Mixture != nil {
		for _, p := range held.Mixture.Parts {
			if p.Phase == solution.Liquid && p.ID != "" {
				d.solvents = append(d.solvents, publish.Option{Value: p.ID, Label: p.Name})
			}
		}
	}
	in, err := c.tenant().Institution(c.ctx())
	if err != nil {
		return nil, err
	}
	zone, err := time.LoadLocation(in.TimeZone)
	if err != nil {
		zone = time.UTC
	}
	d.today = c.server.now().In(zone).Format(time.DateOnly)
	return d, nil
}

// forms are those that the person may send.
func (d *bottleDesk) forms() (list []publish.Form) {
	for _, f := range bottleForms {
		if d.mayWrite(f.needs) != nil && !(f.name == "use" && d.mayWrite(record.KindTreatment) == nil) {
			continue
		}
		form := publish.Form{Name: f.name, Title: f.title, Button: f.button, Once: newRequestID().String()}
		sent := d.sent == f.name
		if sent {
			form.Open, form.Faults = true, d.faults[""]
		}
		for _, name := range f.fields {
			field := d.field(f, name)
			if sent {
				field.Value, field.Faults = d.form.Get(name), d.faults[name]
			}
			if field.Kind != publish.ButtonsField || len(field.Options) > 0 {
				form.Fields = append(form.Fields, field)
			}
		}
		list = append(list, form)
	}
	return list
}

// field is a field of a form, before anything is typed.
func (d *bottleDesk) field(f bottleForm, name string) publish.FormField {
	field := publish.FormField{Name: name, Kind: publish.TextField}
	switch name {
	case "specimen":
		field.Label, field.Hint = "Specimen", "Its number, or its link. Leave it empty to record the amount alone."
	case "which":
		field.Label, field.Kind, field.Options = "Which specimen is it?", publish.ButtonsField, d.which
	case "action":
		field.Label, field.Kind, field.Options = "What was done", publish.ChoiceField, d.words("action", "action")
	case "role":
		field.Label, field.Kind = "What it was for (may be left)", publish.ChoiceField
		field.Options = d.words("role", "materials", "role")
	case "area":
		field.Label, field.Hint = "Where on it (may be left)", "Such as skull/left-orbit. Empty: not known."
	case "amount":
		field.Label, field.Kind, field.Hint = "Amount", publish.NumberField, "Empty: not measured."
		if f.name == "measured" {
			field.Label, field.Hint = "What is left", ""
		}
	case "unit":
		field.Label, field.Kind, field.Value = "Unit", publish.ChoiceField, d.unit
		field.Options = []publish.Option{{Value: "mL", Label: "mL"}, {Value: "g", Label: "g"}}
	case "with":
		field.Label, field.Kind = "Solvent", publish.ChoiceField
		field.Options = append([]publish.Option{{Label: "Not known, or another"}}, d.solvents...)
		if len(d.solvents) == 1 {
			field.Value = d.solvents[0].Value
		}
	case "words":
		field.Label = "Another solvent, in words"
	case "date":
		field.Label, field.Kind, field.Value = "Date", publish.DateField, d.today
	}
	return field
}

// words are the words that the contract has for a member of a treatment, none chosen first.
func (d *bottleDesk) words(sort string, path ...string) []publish.Option {
	list := []publish.Option{{Label: "Choose"}}
	at := d.server.ops["createTreatment"].bodies[jsonType].Properties["statement"].Value
	for _, name := range path {
		if at = at.Properties[name].Value; at.Items != nil {
			at = at.Items.Value
		}
	}
	for _, word := range at.Enum {
		list = append(list, publish.Option{Value: word.(string), Label: publish.TermLabel(sort, word.(string))})
	}
	return list
}

// recordAtBottle records what a form of a bottle's page says. What is wrong with it comes back on the page.
func recordAtBottle(s *Server, c *requestContext) (*answer, error) {
	id := c.id("batchId")
	if err := s.mustExist(c, record.KindBatch, id); err != nil {
		return nil, err
	}
	i := slices.IndexFunc(bottleForms, func(f bottleForm) bool { return f.name == c.form.Get("form") })
	if i < 0 {
		return nil, fault.Of(fault.Malformed, "body-not-read", "This is no form of the page; open the page again.")
	}
	f := bottleForms[i]
	d := &bottleDesk{requestContext: c, batch: id}
	told, err := s.recordForm(d, f)
	page, broken := s.bottle(c, id, func(now *bottleDesk) {
		if err != nil {
			now.sent, now.which, now.faults = f.name, d.which, f.faultsIn(err)
		}
	})
	if len(fault.From(err)) == 0 && err != nil || broken != nil {
		if err == nil {
			err = broken
		}
		return nil, err
	}
	if err != nil {
		page.Faulty = true
		a, broken := personalPage(publish.BottlePage(page))
		if broken == nil {
			a.status = statuses[fault.From(err)[0].Kind].status
		}
		return a, broken
	}
	page.Done = f.done
	for _, found := range told.Findings {
		page.Found = append(page.Found, strings.TrimSpace(found.Sentence+" "+deref(found.Remedy)))
	}
	return personalPage(publish.BottlePage(page))
}

// recordForm records what a form says, by the operation that programs have for it.
func (s *Server) recordForm(d *bottleDesk, f bottleForm) (beside, error) {
	once, err := uuid.Parse(d.form.Get("once"))
	if err != nil {
		return beside{}, fault.Of(fault.Malformed, "body-not-read", "The form is not whole; open the page again.")
	}
	kind, statement, err := f.states(d)
	if err != nil {
		return beside{}, err
	}
	if err := d.mayWrite(kind); err != nil {
		return beside{}, err
	}
	raw, err := json.Marshal(map[string]any{"statement": statement})
	if err != nil {
		return beside{}, err
	}
	if err := wire.Check(d.ctx(), s.ops[creating[kind]].bodies[jsonType], raw); err != nil {
		return beside{}, err
	}
	var request creation
	if err := wire.Decode(raw, &request); err != nil {
		return beside{}, err
	}
	typed := d.form
	delete(typed, "token")
	written, err := s.record(d.requestContext, kind, request, &postgres.RequestKey{
		Digest:      sha256.Sum256([]byte("page " + d.batch.String() + once.String())),
		Fingerprint: sha256.Sum256([]byte(typed.Encode()))})
	if err == nil && written.Replayed {
		return s.besideAgain(d.requestContext, written.Primary())
	}
	return written.beside, err
}

// faultsIn puts what is wrong beside the fields that say it; under "" what is in none.
func (f bottleForm) faultsIn(err error) map[string][]string {
	list := map[string][]string{}
	for _, found := range fault.From(err) {
		field, longest := "", ""
		for pointer, name := range f.at {
			if strings.HasPrefix(found.Pointer, pointer) && len(pointer) > len(longest) {
				field, longest = name, pointer
			}
		}
		if !slices.Contains(list[field], found.Detail) {
			list[field] = append(list[field], found.Detail)
		}
	}
	return list
}

// aNumber is an amount as a person types it. A comma before three digits is read in two ways.
var aNumber, inTwoWays = regexp.MustCompile(`^[0-9]{1,9}([.,][0-9]{1,9})?$`), regexp.MustCompile(`,[0-9]{3}$`)

// amount is the amount that was typed, or that it was not measured.
func (d *bottleDesk) amount(pointer string) (map[string]any, error) {
	text := d.form.Get("amount")
	switch {
	case text == "":
		return map[string]any{"answer": "unknown"}, nil
	case !aNumber.MatchString(text):
		return nil, fault.New("number-malformed", pointer, "Write the amount as a number alone, such as 12.5; choose its unit beside it.")
	case inTwoWays.MatchString(text):
		return nil, fault.New("number-malformed", pointer,
			"A comma before three digits is read in two ways: write a point, or leave the comma out.")
	}
	if trimmed := strings.TrimLeft(text, "0"); trimmed != "" && trimmed[0] >= '1' && trimmed[0] <= '9' {
		text = trimmed // JSON has no leading zeros
	} else {
		text = "0" + trimmed
	}
	return map[string]any{"quantity": map[string]any{"value": json.Number(strings.Replace(text, ",", ".", 1)),
		"unit": d.form.Get("unit")}}, nil
}

// date is the date that was typed, or that it is not known.
func (d *bottleDesk) date() map[string]any {
	if text := d.form.Get("date"); text != "" {
		return map[string]any{"edtf": text}
	}
	return map[string]any{"answer": "unknown"}
}

// change is a change of the amount, by who signed in.
func (d *bottleDesk) change(kind string) (record.Kind, map[string]any, error) {
	amount, err := d.amount("/statement/amount")
	return record.KindAmountChange, map[string]any{"batch": api.Ref(d.batch), "kind": kind, "amount": amount, "date": d.date(),
		"by": api.Ref(d.principal.Person)}, err
}

func (d *bottleDesk) measured() (record.Kind, map[string]any, error) {
	if d.form.Get("amount") == "" {
		return "", nil, fault.New("missing", "/statement/amount", "Write how much is left.")
	}
	return d.change(string(stock.Weighed))
}

func (d *bottleDesk) solvent() (record.Kind, map[string]any, error) {
	kind, statement, err := d.change(string(stock.ToppedUp))
	with, words := d.form.Get("with"), d.form.Get("words")
	switch {
	case err != nil:
	case with != "" && words != "":
		err = fault.New("choice", "/statement/with/words", "Choose the solvent, or name another; not both.")
	case with != "":
		statement["with"] = map[string]any{"material": map[string]any{"id": with}}
	case words != "":
		statement["with"] = map[string]any{"words": map[string]any{"verbatim": words, "certainty": "unknown"}}
	}
	return kind, statement, err
}

// use is a treatment of a specimen, or without one a change of the amount.
func (d *bottleDesk) use() (record.Kind, map[string]any, error) {
	if d.form.Get("specimen") == "" {
		return d.change(string(stock.Used))
	}
	var faults fault.List
	note := func(err error) { faults = append(faults, fault.From(err)...) }
	specimen, err := d.specimen()
	if err != nil && len(fault.From(err)) == 0 {
		return "", nil, err
	}
	note(err)
	if d.form.Get("action") == "" {
		note(fault.New("missing", "/statement/action", "Choose what was done."))
	}
	used := map[string]any{"used": map[string]any{"batch": api.Ref(d.batch)}}
	if d.form.Get("amount") != "" {
		amount, err := d.amount("/statement/materials/0/amount")
		note(err)
		used["amount"] = amount
	}
	if role := d.form.Get("role"); role != "" {
		used["role"] = role
	}
	areas := map[string]any{"answer": "unknown"}
	if area := d.form.Get("area"); area != "" {
		areas = map[string]any{"paths": []string{area}}
	}
	return record.KindTreatment, map[string]any{"specimen": specimen, "action": d.form.Get("action"), "areas": areas, "dates": d.date(),
		"materials": []any{used},
		"people":    []any{map[string]any{"person": api.Ref(d.principal.Person), "part": "carried-out"}}}, faults.Err()
}

// specimenLink is the id in a specimen's link, or alone.
var specimenLink = regexp.MustCompile(`^(?:\S*/v1/specimens/)?([0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12})(?:[/?#]\S*)?$`)

// another is the choice that a number is none of the specimens that are known.
const another = "another"

// specimen finds the specimen by what was typed. It is asked about unless exactly one carries the number: a slip of the
// finger makes no new specimen.
func (d *bottleDesk) specimen() (map[string]any, error) {
	typed, which := d.form.Get("specimen"), d.form.Get("which")
	if link := specimenLink.FindStringSubmatch(typed); link != nil {
		return map[string]any{"id": strings.ToLower(link[1])}, nil
	}
	found, err := d.server.lookUp(d.requestContext, []api.LookupAsked{{Number: typed}})
	if err != nil {
		return nil, err
	}
	hits, unknown := found[0].Specimens, len(found[0].Specimens) == 0
	if unknown {
		hits = found[0].NearSpellings
	}
	var distinct []any
	for _, hit := range hits {
		id := hit.Specimen.Id.String()
		if slices.ContainsFunc(d.which, func(o publish.Option) bool { return o.Value == id }) {
			continue
		}
		label := hit.Number
		if hit.Collection != nil {
			label += ", " + *hit.Collection
		}
		d.which, distinct = append(d.which, publish.Option{Value: id, Label: label}), append(distinct, api.Ref(hit.Specimen.Id))
	}
	if !unknown && len(d.which) == 1 {
		return map[string]any{"id": d.which[0].Value}, nil
	}
	if unknown {
		d.which = append(d.which, publish.Option{Value: another, Label: "None of those known here: register " + typed})
	}
	switch {
	case !slices.ContainsFunc(d.which, func(o publish.Option) bool { return o.Value == which }):
		return nil, d.ask(unknown, len(distinct) > 0)
	case which != another:
		return map[string]any{"id": which}, nil
	}
	number := map[string]any{"kind": "catalogue-number", "value": typed}
	if len(distinct) > 0 {
		number["distinctFrom"] = distinct
	}
	return map[string]any{"identifier": number}, nil
}

// ask is the question which specimen is meant.
func (d *bottleDesk) ask(unknown, near bool) error {
	detail := "Several specimens here carry this number: choose one."
	switch {
	case near:
		detail = "No specimen here carries this number; these have one like it. Choose one, or register another."
	case unknown:
		detail = "No specimen here carries this number. Correct it above, or choose to register it."
	}
	return &fault.Fault{Kind: fault.Conflict, Code: "number-nearly-known", Pointer: "/statement/which", Detail: detail}
}

package cardimport

import (
	"encoding/json"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// An assembler makes one card's statement.
type assembler struct {
	mapping Mapping
	words   Vocabulary
	cells   cells
	card    *Card
	out     record.Statement
}

// fault says why the card cannot be taken, at a column.
func (a *assembler) fault(c cell, code, format string, args ...any) {
	a.card.Faults.Add(code, "/"+fault.Escape(c.column.Name), format, args...)
}

func (a *assembler) doubt(c cell, code, sentence string) {
	a.card.Doubts = append(a.card.Doubts, Doubt{Code: code, Column: c.column.Name, Sentence: sentence})
}

func (a *assembler) assemble() {
	a.out = record.Statement{}
	a.formulas()
	a.specimen()
	a.action()
	a.areas()
	a.dates()
	a.texts()
	a.people()
	if action, _ := a.out["action"].(string); action == "" || record.Action(action).Adds() {
		a.addMaterials()
	} else {
		a.passing(action)
	}
	a.card.Statement = a.out
}

// cell gives a field's first cell, or an empty one in the column where it would
// stand.
func (a *assembler) cell(f Field) cell {
	if c := a.cells.one(f); c.text != "" {
		return c
	}
	if columns := a.mapping.columnsOf(f); len(columns) > 0 {
		return cell{column: columns[0]}
	}
	return cell{column: Column{Name: string(f), Field: f}}
}

var (
	formula          = regexp.MustCompile(`^[=@]\s*[A-Za-z.]+\s*\(|^=\s*[+-]?\$?[A-Z]{1,3}\$?\d+([^A-Za-z0-9]|$)`)
	spreadsheetError = regexp.MustCompile(`^#(REF|VALUE|NAME\?|N/A|DIV/0|NUM|NULL)!?$`)
)

// formulas refuses cells that hold a formula or a spreadsheet's error in the
// place of a value: what the card said is no longer there.
func (a *assembler) formulas() {
	for _, c := range a.cells {
		switch {
		case c.column.Field == Ignored:
		case formula.MatchString(c.text):
			a.fault(c, "cell-formula", "The cell holds a spreadsheet's formula and not what the card says; save the table with values.")
		case spreadsheetError.MatchString(c.text):
			a.fault(c, "cell-spreadsheet-error", "The cell holds a spreadsheet's error and not what the card says; copy it from the card.")
		}
	}
}

func (a *assembler) specimen() {
	number := a.cell(Number)
	if number.text == "" {
		a.fault(number, "number-missing", "The card names no specimen; write its number, as the catalogue writes it.")
		return
	}
	kind := number.column.NumberKind
	if kind == "" {
		kind = "catalogue-number"
	}
	identifier := map[string]any{"kind": kind, "value": number.text}
	if collection := a.text(Collection); collection != "" {
		identifier["collection"] = collection
	}
	a.out["specimen"] = map[string]any{"identifier": identifier}
}

// text gives a field's cell, or what is constant.
func (a *assembler) text(f Field) string {
	if t := a.cells.joined(f); t != "" {
		return t
	}
	return a.mapping.Constants[f]
}

// word puts a card's word for an action or a method into the word of the list.
func word(list map[string]string, text string, known func(string) bool) (string, bool) {
	for words, meaning := range list {
		if strings.EqualFold(words, text) {
			return meaning, true
		}
	}
	listed := strings.ToLower(strings.ReplaceAll(text, " ", "-"))
	return listed, known(listed)
}

func (a *assembler) action() {
	text := a.text(Action)
	cell := a.cell(Action)
	if text == "" {
		a.fault(cell, "action-missing", "The card does not say what was done; write it, or say in the mapping's constants what empty cells mean.")
		return
	}
	action, known := word(a.mapping.Actions, text, func(w string) bool { return record.Action(w).Known() })
	if !known {
		a.fault(cell, "action-unknown", "The word for what was done is in no list; say in the mapping's actions what it means.")
		return
	}
	a.out["action"] = action
	for member, value := range a.required(record.Action(action)) {
		a.out[member] = value
	}
}

// required is what a statement of this action cannot do without, answered as far
// as an old card answers it.
func (a *assembler) required(action record.Action) map[string]any {
	switch action {
	case record.ActionRemoval:
		return map[string]any{"removal": map[string]any{"treatments": []any{}, "left": "unknown"}}
	case record.ActionTest:
		return map[string]any{"test": map[string]any{"observed": "unknown"}}
	case record.ActionExamination:
		return map[string]any{"examination": map[string]any{"outcome": "inconclusive"}}
	case record.ActionSampling:
		return map[string]any{"sampling": map[string]any{"mass": map[string]any{"answer": "unknown"}}}
	case record.ActionLabelling:
		// The card itself holds the number.
		return map[string]any{"label": map[string]any{"number": a.cells.one(Number).text, "numberRecorded": true}}
	}
	return nil
}

// saysUnknown tells whether a cell says that nobody knows.
func saysUnknown(text string) bool {
	switch strings.ToLower(strings.Trim(text, " ().-–—")) {
	case "", "?", "??", "unknown", "not known", "n.d", "n. d", "undated", "no date":
		return true
	}
	return false
}

func (a *assembler) areas() {
	var paths []any
	for _, c := range a.cells.all(Areas) {
		if saysUnknown(c.text) {
			continue
		}
		for _, path := range a.split(c.text) {
			if err := record.CheckArea(path); err != nil {
				a.fault(c, "area-unreadable", "%s", fault.From(err)[0].Detail)
				return
			}
			paths = append(paths, path)
		}
	}
	if constant := a.mapping.Constants[Areas]; len(paths) == 0 && constant != "" {
		paths = append(paths, constant)
	}
	if len(paths) == 0 {
		a.out["areas"] = unknown()
		return
	}
	a.out["areas"] = map[string]any{"paths": paths}
}

func (a *assembler) split(text string) []string {
	var parts []string
	for _, part := range strings.Split(text, a.mapping.separator()) {
		if part = strings.TrimSpace(part); part != "" {
			parts = append(parts, part)
		}
	}
	return parts
}

// separator stands between the items of a list in one cell.
func (m Mapping) separator() string {
	if m.ListSeparator == "" {
		return ";"
	}
	return m.ListSeparator
}

func unknown() map[string]any { return map[string]any{"answer": "unknown"} }

func (a *assembler) dates() {
	from, to := a.date(Date), a.date(DateEnd)
	switch {
	case from == "" && to == "":
		a.out["dates"] = unknown()
		return
	case to != "":
		joined := from + "/" + to
		if strings.Contains(from+to, "/") || edtfFault(joined) != "" {
			a.fault(a.cell(DateEnd), "dates-do-not-join", "The beginning and the end do not make an interval; each must be one date, and the earlier one first.")
		}
		from = joined
	}
	a.out["dates"] = map[string]any{"edtf": from}
}

func edtfFault(text string) string {
	if _, err := edtf.Parse(text); err != nil {
		return err.Error()
	}
	return ""
}

// date reads one cell; "" if it is empty or is kept as unknown.
func (a *assembler) date(f Field) string {
	c := a.cell(f)
	text := a.text(f)
	if text == "" || saysUnknown(text) {
		return ""
	}
	read, err := a.mapping.readDate(text)
	if err == nil {
		return read
	}
	detail := err.Error()
	if found := fault.From(err); len(found) > 0 {
		detail = found[0].Detail
	}
	if a.mapping.KeepUnreadableDates {
		a.doubt(c, DoubtDateUnreadable, "The date could not be read and is answered with \"unknown\"; its words stay on the card. "+detail)
		return ""
	}
	a.fault(c, "date-unreadable", "The date cannot be read: %s", detail)
	return ""
}

// textMembers are the fields that are kept as they are written.
var textMembers = []struct {
	field  Field
	member string
}{
	{Purpose, "purpose"}, {ConditionBefore, "conditionBefore"}, {ConditionAfter, "conditionAfter"},
	{InformationGained, "informationGained"}, {InformationLost, "informationLost"}, {RecordCopy, "recordCopyLocation"},
}

func (a *assembler) texts() {
	for _, m := range textMembers {
		if t := a.text(m.field); t != "" {
			a.out[m.member] = map[string]any{"text": t}
		}
	}
	if t := a.text(Remarks); t != "" {
		a.out["remarks"] = t
	}
	a.method()
	if t := a.text(Coats); t != "" {
		n, err := strconv.Atoi(t)
		if err != nil || n < 1 || n > 1000 {
			a.fault(a.cell(Coats), "coats-unreadable", "The number of coats is not a whole number from 1 to 1000.")
		}
		a.out["coats"] = json.Number(strconv.Itoa(n))
	}
	a.out["oldCard"] = a.oldCard()
}

// methods are the words of the contract's list.
var methods = []string{"brush", "drip", "pipette", "spray", "injection", "immersion", "vacuum", "capillary", "swab", "poultice",
	"vapour-chamber", "mechanical", "other", "unknown"}

// method keeps a word that is in no list as a remark: how something was put on
// can be said in any words.
func (a *assembler) method() {
	text := a.text(Method)
	if text == "" {
		return
	}
	method, known := word(a.mapping.Methods, text, func(w string) bool { return slices.Contains(methods, w) })
	if !known {
		a.out["method"], a.out["methodRemark"] = "other", text
		return
	}
	a.out["method"] = method
}

// oldCard keeps every cell word for word, whatever was understood of it.
func (a *assembler) oldCard() map[string]any {
	var verbatim strings.Builder
	for _, c := range a.cells {
		verbatim.WriteString(c.column.Name + ": " + c.text + "\n")
	}
	card := map[string]any{"verbatim": strings.TrimSuffix(verbatim.String(), "\n")}
	if image := a.text(CardImage); image != "" {
		card["image"] = map[string]any{"url": image}
	}
	if transcriber := a.text(Transcriber); transcriber != "" {
		card["transcribedBy"] = map[string]any{"name": transcriber}
	}
	return card
}

func (a *assembler) people() {
	var people []any
	add := func(names string) {
		for _, name := range a.split(names) {
			who := map[string]any{"name": name}
			if saysUnknown(name) {
				who = unknown()
			}
			involved := map[string]any{"person": who, "part": "carried-out"}
			if organisation := a.text(Organisation); organisation != "" {
				involved["organisation"] = organisation
			}
			people = append(people, involved)
		}
	}
	for _, c := range a.cells.all(Person) {
		add(c.text)
	}
	if len(people) == 0 {
		add(a.mapping.Constants[Person])
	}
	if len(people) > 0 {
		a.out["people"] = people
	}
}

package cardimport

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// An assembler makes one card's treatment.
type assembler struct {
	mapping Mapping
	words   Vocabulary
	cells   cells
	card    *Card
	out     *record.Treatment
}

// fault says why the card cannot be taken, at a column.
func (a *assembler) fault(c cell, code, format string, args ...any) {
	a.card.Faults.Add(code, "/"+fault.Escape(c.column.Name), format, args...)
}

func (a *assembler) doubt(c cell, code, sentence string) {
	a.card.Doubts = append(a.card.Doubts, Doubt{Code: code, Column: c.column.Name, Sentence: sentence})
}

func (a *assembler) assemble() {
	a.out = &a.card.Treatment
	a.formulas()
	a.specimen()
	a.action()
	a.areas()
	a.dates()
	a.texts()
	a.people()
	if a.out.Action == "" || a.out.Action.Adds() {
		a.addMaterials()
	} else {
		a.passing()
	}
}

// cell gives a field's first cell, or an empty one in the column where it would
// be.
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

// formulas refuses cells that hold a formula or a spreadsheet's error instead of
// a value: the card's own value is lost.
func (a *assembler) formulas() {
	for _, c := range a.cells {
		switch {
		case c.column.Field == Ignored:
		case formula.MatchString(c.text):
			a.fault(c, "cell-formula",
				"The cell holds a spreadsheet's formula and not what the card says; save the table with values.")
		case spreadsheetError.MatchString(c.text):
			a.fault(c, "cell-spreadsheet-error",
				"The cell holds a spreadsheet's error and not what the card says; copy it from the card.")
		}
	}
}

func (a *assembler) specimen() {
	number := a.cell(Number)
	if number.text == "" {
		a.fault(number, "number-missing", "The card names no specimen; write its number, as the catalogue writes it.")
		return
	}
	if saysUnknown(number.text) {
		a.fault(number, "number-unknown", "The card does not know the specimen's number; a person who can tell which "+
			"specimen it is writes its number.")
		return
	}
	if several := readsAsSeveral(number.text); several != "" && !a.mapping.NumbersAsWritten {
		a.fault(number, "number-of-several", "The number reads as several, %s. Write a line for each that the card means, "+
			"or set numbersAsWritten where such a number is one.", several)
		return
	}
	kind := number.column.NumberKind
	if kind == "" {
		kind = "catalogue-number"
	}
	a.card.Names.Specimen = record.Identifier{Kind: kind, Value: number.text}
	a.card.Names.Collection = a.text(Collection)
}

// text gives a field's cell, or the mapping's constant.
func (a *assembler) text(f Field) string {
	if t := a.cells.joined(f); t != "" {
		return t
	}
	return a.mapping.Constants[f]
}

// word translates a card's word for an action or a method into the word of the list.
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
		a.fault(cell, "action-missing",
			"The card does not say what was done; write it, or say in the mapping's constants what empty cells mean.")
		return
	}
	action, known := word(a.mapping.Actions, text, func(w string) bool { return record.Action(w).Known() })
	if !known {
		a.fault(cell, "action-unknown",
			"The word for what was done is in no list; say in the mapping's actions what it means.")
		return
	}
	a.out.Action = record.Action(action)
	a.required()
}

// required fills in what a treatment of this action must have, as far as an old
// card says it.
func (a *assembler) required() {
	switch a.out.Action {
	case record.ActionRemoval:
		a.out.Removal = &record.Removal{Treatments: []record.Ref{}, Left: "unknown"}
	case record.ActionTest:
		a.out.Test = &record.Test{Observed: "unknown"}
	case record.ActionExamination:
		a.out.Examination = &record.Examination{Outcome: "inconclusive"}
	case record.ActionSampling:
		a.out.Sampling = &record.Sampling{Mass: record.Amount{Answer: record.AnswerUnknown}}
	case record.ActionLabelling:
		// The card itself holds the number.
		a.out.Label = &record.Label{Number: a.cells.one(Number).text, NumberRecorded: record.Give(true)}
	}
}

// saysUnknown tells whether a cell says "unknown" in some form.
func saysUnknown(text string) bool {
	switch strings.ToLower(strings.Trim(text, " ().-–—")) {
	case "", "?", "??", "unknown", "not known", "n.d", "n. d", "undated", "no date":
		return true
	}
	return false
}

func (a *assembler) areas() {
	var paths []string
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
		a.out.Areas.Answer = record.AnswerUnknown
		return
	}
	a.out.Areas = record.Give(paths)
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

// separator separates the items of a list in one cell.
func (m Mapping) separator() string {
	if m.ListSeparator == "" {
		return ";"
	}
	return m.ListSeparator
}

func (a *assembler) dates() {
	from, to := a.date(Date), a.date(DateEnd)
	text := from
	switch {
	case from == "" && to == "":
		a.out.Date.Answer = record.AnswerUnknown
		return
	case to != "":
		text = from + "/" + to
	}
	date, err := edtf.Parse(text)
	if err != nil || to != "" && strings.Contains(from+to, "/") {
		a.fault(a.cell(DateEnd), "dates-do-not-join",
			"The beginning and the end do not make an interval; each must be one date, and the earlier one first.")
		return
	}
	a.out.Date = record.Give(date)
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
		a.doubt(c, DoubtDateUnreadable,
			"The date could not be read and is answered with \"unknown\"; its words stay on the card. "+detail)
		return ""
	}
	a.fault(c, "date-unreadable", "The date cannot be read: %s", detail)
	return ""
}

// texts copies what is kept as it is written.
func (a *assembler) texts() {
	for field, into := range map[Field]*record.Text{
		Purpose: &a.out.Purpose, ConditionBefore: &a.out.ConditionBefore, ConditionAfter: &a.out.ConditionAfter,
		InformationGained: &a.out.InformationGained, InformationLost: &a.out.InformationLost,
		RecordCopy: &a.out.RecordCopyLocation,
	} {
		if t := a.text(field); t != "" {
			*into = record.Give(t)
		}
	}
	a.out.Remarks = a.text(Remarks)
	a.method()
	if t := a.text(Coats); t != "" {
		n, err := strconv.Atoi(t)
		if err != nil || n < 1 || n > 1000 {
			a.fault(a.cell(Coats), "coats-unreadable", "The number of coats is not a whole number from 1 to 1000.")
		}
		a.out.Coats = n
	}
	a.oldCard()
}

// methods are the words of the contract's list.
var methods = []string{"brush", "drip", "pipette", "spray", "injection", "immersion", "vacuum", "capillary", "swab",
	"poultice", "vapour-chamber", "mechanical", "other", "unknown"}

// method keeps a word that is not in the list as a remark: cards may describe a
// method in any words.
func (a *assembler) method() {
	text := a.text(Method)
	if text == "" {
		return
	}
	method, known := word(a.mapping.Methods, text, func(w string) bool { return slices.Contains(methods, w) })
	if !known {
		method, a.out.MethodRemark = "other", text
	}
	a.out.Method = method
}

// oldCard keeps every cell word for word, understood or not.
func (a *assembler) oldCard() {
	var verbatim strings.Builder
	for _, c := range a.cells {
		verbatim.WriteString(c.column.Name + ": " + c.text + "\n")
	}
	a.out.OldCard = &record.OldCard{Verbatim: strings.TrimSuffix(verbatim.String(), "\n")}
	if image := a.text(CardImage); image != "" {
		a.out.OldCard.Image = &record.Document{URL: image}
	}
	a.card.Names.Transcriber = a.text(Transcriber)
}

func (a *assembler) people() {
	add := func(names string) {
		for _, name := range a.split(names) {
			who := record.Involvement{Part: "carried-out"}
			if saysUnknown(name) {
				who.Answer, name = record.AnswerUnknown, ""
			}
			if organisation := a.text(Organisation); organisation != "" {
				who.Organisation = record.Give(organisation)
			}
			a.out.People, a.card.Names.People = append(a.out.People, who), append(a.card.Names.People, name)
		}
	}
	for _, c := range a.cells.all(Person) {
		add(c.text)
	}
	if len(a.out.People) == 0 {
		add(a.mapping.Constants[Person])
	}
}

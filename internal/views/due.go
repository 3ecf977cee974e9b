package views

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/plain"
	"meniscus/internal/record"
)

// DueSentence says what is to be done; action is that of the treatment or plan.
func DueSentence(x api.DueItem, action string) string {
	specimen := dueSpecimen(x)
	done, code := strings.ReplaceAll(action, "-", " "), deref(x.Code)
	switch string(x.What) {
	case record.DueNextCheck:
		return "Look at " + specimen + " again, as was asked after its " + done + "."
	case record.DueDrying:
		return "See how the " + done + " on " + specimen + " has dried, with its tack and gloss: it was touch-dry or " +
			"handling-dry, and no later examination is on record."
	case record.DueAuthorisation:
		return "The plan for " + specimen + " (" + done + ") waits to be authorised."
	case record.DueSupplyExpires:
		return "The last day of the supply " + code + "."
	case record.DueBatchExpires:
		return "The last day of the batch " + code + "."
	case record.DueClearCheck:
		return "See whether the batch " + code + " has cleared."
	}
	return "Measure the strength of the batch " + code + ": an unknown amount evaporated or was added."
}

// dueSpecimen names the specimen of something that is due.
func dueSpecimen(x api.DueItem) string {
	if number := deref(x.Number); number != "" || x.Specimen == nil {
		return number
	}
	return "the specimen " + x.Specimen.Id.String()
}

// DueColumns are the columns of what is due as a table.
var DueColumns = []string{
	"date", "what", "record", "sentence", "cautions", "specimen", "number", "batch", "code",
}

// DueCells are the cells of a row.
func DueCells(x api.DueItem) []string {
	cells := []string{dayText(x.Date), string(x.What), x.Record.Id.String(), x.Sentence,
		strings.Join(deref(x.Cautions), " "),
		"", deref(x.Number), "", deref(x.Code)}
	if x.Specimen != nil {
		cells[5] = x.Specimen.Id.String()
	}
	if x.Batch != nil {
		cells[7] = x.Batch.Id.String()
	}
	return cells
}

// DueText says a page of what is due: first what is to be known of its specimens, of each once.
func DueText(list api.DueList) plain.Text {
	var t plain.Text
	if len(list.Items) == 0 && list.Next == nil {
		t.Keep("Nothing is due up to " + dayText(&list.Until) + ".")
	}
	told := map[api.RecordRef]bool{}
	for _, x := range list.Items {
		if x.Specimen != nil && !told[*x.Specimen] && len(deref(x.Cautions)) > 0 {
			told[*x.Specimen] = true
			t.Keep(dueSpecimen(x) + ": " + strings.Join(*x.Cautions, " "))
		}
	}
	for _, x := range list.Items {
		day := "No date"
		if x.Date != nil {
			day = dayText(x.Date)
		}
		t.Keep(day + ": " + x.Sentence)
	}
	if list.Next != nil {
		t.Keep("There may be more at " + list.Next.Href)
	}
	return t
}

package views

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/plain"
	"meniscus/internal/record"
)

// DueOf is what a sentence about what is due says beside the item itself.
type DueOf struct {
	Action string   // of the treatment or plan
	For    []string // what to look for
	Left   string   // of the batch that runs low; "" where that is not known
}

// DueSentence says what is to be done.
func DueSentence(x api.DueItem, of DueOf) string {
	specimen := dueSpecimen(x)
	done, code := strings.ReplaceAll(of.Action, "-", " "), deref(x.Code)
	switch string(x.What) {
	case record.DueNextCheck:
		look := "Look at " + specimen + " again"
		if len(of.For) > 0 {
			look += " for " + strings.Join(of.For, ", ")
		}
		return look + ", as was asked after its " + done + "."
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
	return dueStock(x, of.Left)
}

// dueStock says what is to be done about a supply or a batch of which little may be left.
func dueStock(x api.DueItem, left string) string {
	switch code := deref(x.Code); {
	case x.What == record.DueStrengthCheck:
		return "Measure the strength of the batch " + code + ": an unknown amount evaporated or was added."
	case x.Batch == nil:
		return "The supply " + code + " runs low."
	case left == "":
		return "Measure what is left of the batch " + code + ": it is to be told when it runs low, and is not known."
	default:
		return "The batch " + code + " runs low: " + left + " left."
	}
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

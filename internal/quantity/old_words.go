package quantity

import "strings"

// oldWords are the words of old recipes and bottles, folded, with the units that each may
// name: the measures of the United Kingdom since 1824 and those of the United States,
// weights by the avoirdupois and by the apothecaries' pound, and an ounce or a drachm by
// volume.
//
// Source: Cooley's Cyclopaedia of Practical Receipts, sixth edition, volume II, weights and
// measures.
var oldWords = map[string][]Unit{
	"floz": {"[foz_br]", "[foz_us]"}, "fluidounce": {"[foz_br]", "[foz_us]"},
	"fldr": {"[fdr_br]", "[fdr_us]"}, "fluiddrachm": {"[fdr_br]", "[fdr_us]"}, "fluiddram": {"[fdr_br]", "[fdr_us]"},
	"minim": {"[min_br]", "[min_us]"},
	"gill":  {"[gil_br]", "[gil_us]"},
	"pt":    {"[pt_br]", "[pt_us]"}, "pint": {"[pt_br]", "[pt_us]"},
	"qt": {"[qt_br]", "[qt_us]"}, "quart": {"[qt_br]", "[qt_us]"},
	"gal": {"[gal_br]", "[gal_us]"}, "gallon": {"[gal_br]", "[gal_us]"},
	"oz": {"[oz_av]", "[oz_ap]", "[foz_br]", "[foz_us]"}, "ounce": {"[oz_av]", "[oz_ap]", "[foz_br]", "[foz_us]"},
	"dr":   {"[dr_ap]", "[dr_av]", "[fdr_br]", "[fdr_us]"},
	"dram": {"[dr_ap]", "[dr_av]", "[fdr_br]", "[fdr_us]"}, "drachm": {"[dr_ap]", "[dr_av]", "[fdr_br]", "[fdr_us]"},
	"lb": {"[lb_av]", "[lb_ap]"}, "pound": {"[lb_av]", "[lb_ap]"},
	"scruple": {"[sc_ap]"},
	"grain":   {"[gr]"}, "gr": {"[gr]", "g"},
}

// Meanings are the units that a word of an old recipe may name; none for a code, and for
// what is no such word. Case, spaces, full stops and a last s do not count.
func Meanings(word string) []Unit {
	if _, err := ParseUnit(word); err == nil {
		return nil
	}
	folded := strings.NewReplacer(" ", "", ".", "").Replace(strings.ToLower(word))
	if units, known := oldWords[folded]; known {
		return units
	}
	return oldWords[strings.TrimSuffix(folded, "s")]
}

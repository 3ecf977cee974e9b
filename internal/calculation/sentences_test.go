package calculation

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/plain"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/wire"
)

// asker answers a request in JSON: in full, in brief, and as text; nothing where it is refused.
type asker func(t *testing.T, body string) (full, brief any, text string)

func asking[Q, A any](schema string, work Computation[Q, A], text func(A) plain.Text) asker {
	return func(t *testing.T, body string) (full, brief any, said string) {
		t.Helper()
		if err := wire.Check(t.Context(), wire.Schema(schema), []byte(body)); err != nil {
			t.Fatalf("%s: %v", body, err)
		}
		var q Q
		if err := wire.Decode([]byte(body), &q); err != nil {
			t.Fatalf("%s: %v", body, err)
		}
		a, err := work(material.Builtin(), q, api.Full)
		if err != nil {
			var refused []any
			for _, f := range fault.From(err) {
				refused = append(refused, f.Detail)
			}
			if len(refused) == 0 {
				t.Fatalf("%s: %v", body, err)
			}
			return refused, nil, ""
		}
		short, err := work(material.Builtin(), q, api.Brief)
		if err != nil {
			t.Fatalf("%s, in brief: %v", body, err)
		}
		return inJSON(t, a), inJSON(t, short), text(short).Whole() + text(a).Whole()
	}
}

// inJSON is an answer as its reader has it.
func inJSON(t *testing.T, answer any) (read any) {
	t.Helper()
	raw, err := json.Marshal(answer)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &read); err != nil {
		t.Fatal(err)
	}
	return read
}

var askers = map[string]asker{
	"make-up":       asking("MakeUpRequest", MakeUp, MakeUpText),
	"dilute":        asking("DiluteRequest", Dilution, DilutionText),
	"convert":       asking("ConvertRequest", Conversion, ConversionText),
	"blend":         asking("BlendRequest", Blend, BlendText),
	"adjust":        asking("AdjustRequest", Adjustment, AdjustmentText),
	"dry-check":     asking("DryCheckRequest", DryCheck, DryCheckText),
	"container":     asking("ContainerRequest", Container, ContainerText),
	"ethanol-water": asking("EthanolWaterRequest", EthanolWater, EthanolWaterText),
	"formaldehyde":  asking("FormaldehydeRequest", Formaldehyde, FormaldehydeText),
	"solvent-blend": asking("SolventBlendRequest", SolventBlend, SolventBlendText),
	"uptake":        asking("UptakeRequest", Uptake, UptakeText),
	"vapour":        asking("VapourRequest", Vapour, VapourText),
}

// grid fills the places $0, $1 … of a request with every combination of the choices.
func grid(body string, choices ...[]string) []string {
	all := []string{body}
	for i, these := range choices {
		var next []string
		for _, b := range all {
			for _, choice := range these {
				next = append(next, strings.ReplaceAll(b, "$"+strconv.Itoa(i), choice))
			}
		}
		all = next
	}
	return all
}

const resinGiven = `{"material":"ethyl-methacrylate-methyl-acrylate-copolymer"}`

var (
	scales = []string{`"instruments":{"scale":{"readability":{"value":0.1,"unit":"g"}}},`,
		`"instruments":{"scale":{"readability":{"value":1,"unit":"g"}},"measure":{"readability":{"value":5,"unit":"mL"}}},`,
		`"instruments":{"measure":{"uncertainty":{"class":"iso-4788-b"}}},`, ``}
	solvents = []string{`{"liquid":{"material":"acetone"}}`,
		`{"blend":{"by":"volume","shares":[{"material":"acetone","fraction":0.7},{"material":"ethanol","fraction":0.3,"afterDissolving":true}]}}`,
		`{"liquid":{"material":"water"}}`, `{"liquid":{"name":"a thinner"}}`}
	strengthsAsked = []string{`{"basis":"mass-per-solution-volume","value":5}`, `{"basis":"mass-fraction","value":0.3}`,
		`{"basis":"mass-per-solvent-volume","value":60}`, `{"basis":"one-in","in":200}`, `{"basis":"volume-fraction","value":40}`}
	sizes = []string{`{"value":5,"unit":"mL"}`, `{"value":1000,"unit":"L"}`, `{"value":20,"unit":"g"}`}
)

// asked is the grid: the requests of each computation.
func asked() map[string][]string {
	stock := `{"solution":{"solute":` + resinGiven + `,"solvent":$0,"strength":$1}}`
	spirit := []string{`{"basis":"volume-fraction","value":96,"unit":"%","uncertainty":{"standard":0.2}}`,
		`{"basis":"mass-fraction","value":40,"unit":"%"}`, `{"basis":"volume-fraction","value":0,"unit":"%"}`,
		`{"basis":"volume-fraction","value":100,"unit":"%"}`}
	warmth := []string{``, `"temperature":{"value":30,"unit":"Cel"},`}
	all := map[string][]string{
		"make-up": append(grid(`{"resin":{"solid":`+resinGiven+`},"solvent":$0,"strength":$1,"amount":{"finished":$2},$3"tolerance":{"value":5,"unit":"%"}}`,
			solvents, strengthsAsked, sizes, scales),
			append(grid(`{"resin":{"twoPart":{"by":"$0","parts":[{"name":"resin","ratio":100},{"name":"hardener","ratio":30}]}},`+
				`$1"amount":{"finished":{"value":$2,"unit":"g"}}}`, []string{"mass"}, scales, []string{"0.3", "7", "5000"}),
				grid(`{"resin":{"recipe":{"parts":[{"name":"starch"$0,"amount":{"value":2,"unit":"[oz_av]"}},`+
					`{"material":"water","amount":{"value":1,"unit":"[pt_br]"}},`+
					`{"material":"ethanol","amount":{"value":40,"unit":"mL"}}]}},$1"amount":{"$2":{"value":$3,"unit":"$4"}}}`,
					[]string{``, `,"density":{"value":1.5,"unit":"g/mL"}`}, scales, []string{"finished", "onHand"},
					[]string{"0.3", "700"}, []string{"g", "mL"})...)...),
		"dilute": grid(`{"stock":`+stock+`,$2$3"strength":$4,"amount":{"$5":{"value":37,"unit":"mL"}}}`, solvents[:3],
			strengthsAsked, scales, warmth, append(strengthsAsked, `{"basis":"parts-by-volume","parts":[1,3]}`),
			[]string{"onHand", "finished"}),
		"convert": append(grid(`{"stock":`+stock+`}`, solvents, append(strengthsAsked, `{"basis":"mass-fraction","value":100}`,
			`{"basis":"mass-per-solution-volume","value":114}`, `{"basis":"unknown","value":20}`)),
			grid(`{"stock":{"contents":{"parts":[{"material":"$0","amount":{"value":7,"unit":"g"}}]}}}`,
				[]string{"acetone", "ethyl-methacrylate-methyl-acrylate-copolymer"})...),
		"blend": grid(`{"stocks":[{"stock":`+stock+`,"onHand":{"value":80,"unit":"mL"}},{"stock":{"solution":{"name":"the weak one",`+
			`"solute":`+resinGiven+`,"solvent":{"liquid":{"material":"acetone"}},"strength":{"basis":"mass-fraction","value":2}}},`+
			`"onHand":{"value":9,"unit":"g"}}],$2"fresh":{"liquid":{"material":"acetone"}},"freshOnHand":{"value":40,"unit":"mL"}$3}`,
			solvents[:2], strengthsAsked, scales,
			[]string{``, `,"strength":{"basis":"mass-fraction","value":2.5}`, `,"strength":{"basis":"mass-fraction","value":0.2}`}),
		"adjust": grid(`{"stock":`+stock+`,$2"onHand":{"value":90,"unit":"mL"},$3}`, solvents[:3], strengthsAsked, scales,
			[]string{`"restore":{"byMass":{"before":{"value":300,"unit":"g"},"after":{"value":299.96,"unit":"g"},"takenOut":"no"}}`,
				`"restore":{"byMass":{"before":{"value":300,"unit":"g"},"after":{"value":280,"unit":"g"},"takenOut":"yes","taken":{"value":12,"unit":"g"}}}`,
				`"restore":{"byLevel":{"mark":{"value":90,"unit":"mL"},"now":{"value":80,"unit":"mL"},"takenOut":"no"}}`,
				`"strengthen":{"strength":{"basis":"mass-fraction","value":30}}`,
				`"weaken":{"strength":{"basis":"mass-fraction","value":0.1}}`}),
		"dry-check": grid(`{"solute":`+resinGiven+`,"solvent":$0,"portionVolume":{"value":10,"unit":"mL"},$1$2"residue":{"value":$3,"unit":"g"},"label":$4}`,
			solvents[:3], scales, []string{``, `"retained":{"value":4,"unit":"%"},`}, []string{"0.5", "2"}, strengthsAsked),
		"container": grid(`{"body":$0,"closure":{"material":"pp"},"solvents":["$1","ethanol"]}`,
			[]string{`{"code":"2"}`, `{"code":"1"}`, `{"material":"ptfe"}`}, []string{"acetone", "water", "toluene", "benzene"}),
		"uptake": append(grid(`{"byVolume":{"strength":{"basis":"mass-per-solution-volume","value":5,"unit":"g/dL"},`+
			`"applied":{"value":$0,"unit":"mL"},"returned":{"value":$1,"unit":"mL"},"per":{"area":{"value":200,"unit":"cm2"}}}}`,
			[]string{"0.5", "40", "900"}, []string{"0", "0.4"}),
			grid(`{"byWeight":{"before":{"value":412.6,"unit":"g","uncertainty":{"readability":$0}},`+
				`"after":{"value":$1,"unit":"g","uncertainty":{"readability":$0}},"drying":{"state":"$2"}}}`,
				[]string{"0.1", "1"}, []string{"412.7", "421.9"}, []string{"dried", "touch-dry", "unknown"})...),
		"vapour": slices.Concat(grid(`{"work":{"solvents":[{"material":"$0","amount":{"value":$1,"unit":"mL"}}],"release":{"steady":{"duration":{"value":2,"unit":"h"}}},`+
			`"room":{"volume":{"value":60,"unit":"m3"},"air":{"changes":{"value":$2,"unit":"1/h"}}}}}`,
			[]string{"acetone", "toluene", "benzene"}, []string{"1", "150"}, []string{"0", "2"}),
			grid(`{"work":{"solvents":[{"material":"$0"$1}],"release":{$2},"country":"$3",`+
				`"room":{"volume":{"value":60,"unit":"m3"},"air":{"flow":{"value":100,"unit":"m3/h"}}}}}`,
				[]string{"acetone", "white-spirit-stoddard-solvent", "water"},
				[]string{``, `,"amount":{"value":50,"unit":"mL"},"incoming":{"value":3,"unit":"[ppm]"}`},
				[]string{`"steady":{"duration":{"value":2,"unit":"h"}}`, `"atOnce":true`,
					`"spill":{"area":{"value":500,"unit":"cm2"}}`},
				[]string{"US", "DE", "CH"}),
			grid(`{"airChanges":{"first":{"value":$0,"unit":"[ppm]"},"second":{"value":$1,"unit":"[ppm]"},`+
				`"between":{"value":1,"unit":"h"}$2}}`, []string{"100", "1400.5"}, []string{"1", "99.9"},
				[]string{``, `,"volume":{"value":60,"unit":"m3"}`}),
			grid(`{"bottleInWarmth":{"solvents":[{"material":"$0","amount":{"value":$1,"unit":"mL"}}],"capacity":{"value":520,"unit":"mL"}}}`,
				[]string{"acetone", "ethanol"}, []string{"100", "450"})),
		"formaldehyde": grid(`{"stock":{"strength":{"basis":"mass-fraction","value":$0,"unit":"%"}},"target":{"basis":"$1","value":$2,"unit":"%"},`+
			`$3"amount":{"value":$4,"unit":"L"}}`, []string{"37", "40"}, []string{"as-supplied-volume",
			"mass-fraction"}, []string{"4", "10"},
			scales, []string{"0.02", "1"}),
		"ethanol-water": append(grid(`{"dilution":{"stock":$0,"target":{"basis":"volume-fraction","value":70,"unit":"%"},`+
			`"amount":{"$1":{"value":1,"unit":"L"}}}}`, spirit, []string{"stock", "finished"}),
			append(grid(`{"properties":{"strength":$0,"temperature":{"value":$1,"unit":"Cel"}}}`, spirit, []string{"-10", "0", "20"}),
				grid(`{"mixing":{"parts":[{"strength":$0,"amount":{"value":100,"unit":"mL"}},{"amount":{"value":$1,"unit":"mL"}}]}}`, spirit,
					[]string{"0.4", "90"})...)...),
		"solvent-blend": grid(`{"by":"volume","solvents":[{"material":"$0","fraction":{"value":80,"unit":"%"}},`+
			`{"material":"$1","fraction":{"value":20,"unit":"%"}}]$2}`, []string{"acetone", "toluene", "benzene"},
			[]string{"ethanol", "water"},
			[]string{``, `,"amount":{"value":50,"unit":"mL"},"instruments":{"measure":{"readability":{"value":5,"unit":"mL"}}}`}),
	}
	all["convert"] = append(all["convert"], grid(`{"stock":{"solution":{"solute":{"material":"$0"$1},"solvent":{"liquid":{"material":"$2"}},`+
		`"strength":{"basis":"mass-fraction","value":$3}}},"amount":{"value":37,"unit":"g"}}`,
		[]string{"polyethylene-glycol", "poly-vinyl-alcohol", "shellac"}, []string{``, `,"grade":"4000"`}, []string{"water", "ethanol"},
		[]string{"2", "40"})...)
	all["vapour"] = append(all["vapour"],
		grid(`{"work":{"solvents":[{"material":"$0","amount":{"value":40,"unit":"mL"}},{"material":"$1","amount":{"value":$2,"unit":"g"}}],`+
			`"release":{"spill":{"area":{"value":500,"unit":"cm2"}}},"room":{"volume":{"value":60,"unit":"m3"},`+
			`"air":{"flow":{"readings":[$3],"unit":"m3/h"}}}}}`, []string{"acetone", "ethanol-96", "benzene"},
			[]string{"toluene", "water", "white-spirit-stoddard-solvent"}, []string{"0.3", "700"}, []string{"95,105", "60,61,66"})...)
	all["make-up"] = append(all["make-up"],
		grid(`{"resin":{"recipe":{"parts":[{"material":"water","amount":{"value":100,"unit":"mL"}},{"material":"ethanol",`+
			`"amount":{"value":40,"unit":"$0"}}]}},"container":{"capacity":{"value":$1,"unit":"mL"},"headspace":{"value":10,"unit":"%"}},`+
			`"amount":{"$2":{"value":300,"unit":"g"}}}`, []string{"mL", "g"}, []string{"100", "320", "2000"}, []string{"finished", "onHand"})...)
	all["vapour"] = append(all["vapour"],
		grid(`{"air":{"solvents":[{"material":"$0","concentration":{"value":$1,"unit":"$2","uncertainty":{"standard":$3}}}]$4}}`,
			[]string{"acetone", "toluene"}, []string{"0.4", "87.5", "2100"}, []string{"[ppm]", "mg/m3"}, []string{"0.013", "7"},
			[]string{``, `,"temperature":{"value":4,"unit":"Cel"}`,
				`,"room":{"volume":{"value":60,"unit":"m3"},"air":{"changes":{"value":2,"unit":"1/h"}}},"after":[{"value":30,"unit":"min"}]`})...)
	all["formaldehyde"] = append(all["formaldehyde"],
		grid(`{"stock":{"strength":{"basis":"$0","value":$1,"unit":"$2"},"buffered":$3},"target":$4,$5$6`+
			`"amount":{"value":$7,"unit":"$8"}}`, []string{"mass-per-solution-volume"}, []string{"40", "4"},
			[]string{"g/dL"}, []string{"true", "false"},
			[]string{`{"basis":"parts-by-volume","parts":[1,9]}`, `{"basis":"mass-fraction","value":2}`, `{"basis":"one-in","in":50}`},
			[]string{``, `"buffer":{"monobasic":"dihydrate","dibasic":"heptahydrate"},`, `"buffer":{},`,
				`"buffer":{"monobasic":"monohydrate","alone":true},`}, scales[1:], []string{"3", "40", "900"},
			[]string{"L", "kg"})...)
	all["ethanol-water"] = append(all["ethanol-water"],
		grid(`{"dilution":{"stock":$0,"target":{"basis":"mass-fraction","value":$1,"unit":"%"},$2$3`+
			`"amount":{"finished":{"value":$4,"unit":"mL"}}}}`, spirit, []string{"5", "62.4"}, scales, warmth, []string{"3", "2500"})...)
	all["ethanol-water"] = append(all["ethanol-water"], append(
		grid(`{"solution":{"solute":"$0","density":{"value":$1,"unit":"g/mL","uncertainty":{"readability":$2}},`+
			`"temperature":{"value":$3,"unit":"Cel"}$4}}`, solution.Solutes(), []string{"0.998", "1.0125", "1.2"}, []string{"0.0005", "0.01"},
			[]string{"4", "20"}, []string{``, `,"volume":{"value":12,"unit":"L"}`}),
		grid(`{"solution":{"solute":"$0","strength":{"basis":"mass-fraction","value":$1},"temperature":{"value":25,"unit":"Cel"}}}`,
			solution.Solutes(), []string{"0", "0.3", "12"})...)...)
	all["solvent-blend"] = append(all["solvent-blend"],
		grid(`{"by":"mass","solvents":[{"material":"$0","fraction":{"value":0.333,"unit":"1"}},`+
			`{"material":"ethanol","fraction":{"value":0.333,"unit":"1"}},{"material":"$1","fraction":{"value":0.334,"unit":"1"}}],$2"amount":{"value":$3,"unit":"$4"}$5}`,
			[]string{"acetone", "propan-2-ol"}, []string{"water", "toluene"}, scales, []string{"1", "40", "700000"}, []string{"g", "mL"},
			[]string{``, `,"resin":` + resinGiven})...)
	all["uptake"] = append(all["uptake"],
		grid(`{"byVolume":{"strength":{"basis":"mass-per-solution-volume","value":5,"unit":"g/dL","uncertainty":{"standard":$0}},`+
			`"applied":{"value":$1,"unit":"mL","uncertainty":{"class":"iso-4788-b"}},"per":{"specimenMass":{"value":$2,"unit":"g"}}}}`,
			[]string{"0.003", "0.8"}, []string{"2", "250"}, []string{"0.7", "41000"})...)
	return all
}

// never are what no sentence holds.
var never = map[string]*regexp.Regexp{
	"an empty clause":      regexp.MustCompile(`, ,|: ,|: \.|\(\)|  |^[ ,.]| [,;.:]( |$)|\b(with|and|the)[,.;:]( |$)`),
	"no number":            regexp.MustCompile(`NaN|Inf\b|%!|<nil>`),
	"a negative amount":    regexp.MustCompile(`(^|[ (])[-−]\d[\d.]* (to .*)?(g|mL|%|kg|L)\b`),
	"nothing weighed in":   regexp.MustCompile(`\b(shows|[Ww]eigh in|[Mm]easure|[Aa]dd|[Pp]our in) 0 (g|mL)\b`),
	"more digits than any": regexp.MustCompile(`(^|[^\d.])[1-9]\d*\.\d{7}|\.0*[1-9]\d{6}|[1-9]\d{2,}\.\d{4}`),
}

var (
	words     = regexp.MustCompile(`[A-Za-z]+`)
	rangeSaid = regexp.MustCompile(`(\d+(?:\.\d+)?) to (\d+(?:\.\d+)?) (?:g|mL|%)`)
)

// wrong tells what is wrong with a sentence; nothing where it can be said.
func wrong(sentence string) string {
	for what, pattern := range never {
		if found := pattern.FindString(sentence); found != "" {
			return fmt.Sprintf("%s (%q)", what, found)
		}
	}
	at := words.FindAllStringIndex(sentence, -1)
	for i := 1; i < len(at); i++ {
		a, b := sentence[at[i-1][0]:at[i-1][1]], sentence[at[i][0]:at[i][1]]
		if sentence[at[i-1][1]:at[i][0]] == " " && len(a) > 1 && strings.EqualFold(a, b) {
			return fmt.Sprintf("a doubled word (%q)", a+" "+b)
		}
	}
	for _, ends := range rangeSaid.FindAllStringSubmatch(sentence, -1) {
		low, _ := strconv.ParseFloat(ends[1], 64)
		high, _ := strconv.ParseFloat(ends[2], 64)
		if low > high {
			return fmt.Sprintf("a range with its ends swapped (%q)", ends[0])
		}
	}
	return ""
}

// tooFine tells whether a strength as said has more digits than its uncertainty bears: more places
// than the one at which the expanded uncertainty has its second digit.
func tooFine(said string, expanded float64) bool {
	number := regexp.MustCompile(`\d+\.(\d+)`).FindStringSubmatch(said)
	return number != nil && expanded > 0 && len(number[1]) > max(1, 1-int(math.Floor(math.Log10(expanded))))
}

// sentencesOf gives every text of an answer to see, and every object.
func sentencesOf(v any, see func(string), object func(map[string]any)) {
	switch x := v.(type) {
	case string:
		see(x)
	case []any:
		for _, item := range x {
			sentencesOf(item, see, object)
		}
	case map[string]any:
		object(x)
		for name, member := range x {
			if name != "citation" { // a source's own words
				sentencesOf(member, see, object)
			}
		}
	}
}

// overFine names a number of an object of a brief answer that has more digits than its uncertainty bears: places
// beyond that at which the expanded uncertainty has its second digit. What has no uncertainty has seven digits at most.
func overFine(o map[string]any) string {
	u, _ := o["uncertainty"].(map[string]any)
	expanded, _ := u["expanded"].(float64)
	for name, member := range o {
		x, is := member.(float64)
		switch {
		case !is || x == 0:
		case expanded == 0 && quantity.Significant(x, 7) != x:
			return fmt.Sprintf("%s is %v", name, x)
		case expanded > 0 && quantity.Significant(x, 1) != x &&
			quantity.RoundTo(x, math.Pow(10, math.Floor(math.Log10(expanded))-1)) != x:
			return fmt.Sprintf("%s is %v ± %v", name, x, expanded)
		}
	}
	return ""
}

// Every sentence of every computation over a grid of inputs can be said to somebody, and no number of an answer in
// brief has more digits than its uncertainty bears.
func TestSentencesCanBeSaid(t *testing.T) {
	t.Parallel()
	for name, bodies := range asked() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			answered := 0
			for _, body := range bodies {
				full, brief, text := askers[name](t, body)
				if text != "" {
					answered++
				}
				see := func(sentence string) {
					if why := wrong(sentence); why != "" {
						t.Errorf("%s: %s in %q", body, why, sentence)
					}
				}
				sentencesOf(full, see, func(o map[string]any) {
					u, _ := o["uncertainty"].(map[string]any)
					said, _ := o["said"].(string)
					expanded, _ := u["expanded"].(float64)
					if tooFine(said, expanded) {
						t.Errorf("%s: %q is ± %v", body, said, expanded)
					}
				})
				sentencesOf(brief, see, func(o map[string]any) {
					if what := overFine(o); what != "" {
						t.Errorf("%s: %s", body, what)
					}
				})
				if t.Failed() {
					return
				}
			}
			if answered < len(bodies)/8 {
				t.Errorf("answered %d of %d", answered, len(bodies))
			}
		})
	}
}

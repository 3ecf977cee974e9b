package views

import (
	"fmt"
	"slices"
	"strings"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/plain"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// StrengthsAsked is what strengths are asked for.
type StrengthsAsked struct {
	Role    material.Role // AnyRole for all
	Body    string        // material.AnyBody for all
	Solvent string        // the liquid at hand, or ""
}

// nearest is how many ranges a brief answer gives.
const nearest = 5

// Strengths are the strengths at which practice uses a material, each with the
// request that makes it.
func Strengths(
	known *material.Base, m material.Material, asked StrengthsAsked, detail api.Detail,
) api.StrengthsInPractice {
	rows, others := known.StrengthsOn(m.ID, asked.Role, asked.Body)
	out := api.StrengthsInPractice{
		Answer: practice(m, asked, rows), Material: m.ID, Name: m.Name, Ranges: []api.StrengthInPractice{},
		ForOtherBodies: int32(others), Cautions: []string{material.SheetFirst},
	}
	if detail == api.Full {
		out.Sources = new(sourcesOf(rows))
	} else if more := len(rows) - nearest; more > 0 {
		out.MoreRanges, rows = int32(more), rows[:nearest]
	}
	for _, row := range rows {
		one := strengthInPractice(known, row)
		one.Request, one.Lacks = requestFor(known, m, row, asked.Solvent)
		out.Ranges = append(out.Ranges, one)
	}
	return out
}

// StrengthsText is the same as text.
func StrengthsText(a api.StrengthsInPractice) plain.Text {
	var t plain.Text
	t.Keep(a.Answer)
	for _, one := range a.Ranges {
		said := "- " + one.Said
		if one.Remark != nil {
			said += " (" + *one.Remark + ")"
		}
		t.Say(said + " [" + one.Source + "]")
	}
	if a.MoreRanges > 0 {
		t.Say(fmt.Sprintf("%d more ranges are on record.", a.MoreRanges))
	}
	if a.ForOtherBodies > 0 {
		t.Say(fmt.Sprintf("%d are for other bodies.", a.ForOtherBodies))
	}
	t.Keep(a.Cautions...)
	return t
}

// sourcesOf are the sources of ranges, each once.
func sourcesOf(rows []material.Strength) []api.AnswerSource {
	out := []api.AnswerSource{}
	for _, row := range rows {
		from := api.AnswerSource{Id: row.Evidence.Source.Key, Citation: row.Evidence.Source.Citation,
			Status: api.ValueStatus(row.Evidence.Status)}
		if !slices.Contains(out, from) {
			out = append(out, from)
		}
	}
	return out
}

// practice is the answer in a sentence or two.
func practice(m material.Material, asked StrengthsAsked, rows []material.Strength) string {
	to := ""
	if asked.Role != material.AnyRole {
		to = " as " + strings.ReplaceAll(string(asked.Role), "-", " ")
	}
	if len(rows) == 0 {
		return fmt.Sprintf("No strength at which practice uses %s%s is known here.", m.Name, to)
	}
	unknown := 0
	for _, row := range rows {
		if row.Basis == string(solution.UnknownBasis) {
			unknown++
		}
	}
	said := fmt.Sprintf("What practice uses of %s%s: %s on record", m.Name, to, ranges(len(rows)))
	if unknown > 0 {
		said += fmt.Sprintf(", %d on an unknown basis: see its readings before you weigh", unknown)
	}
	return said + "."
}

func ranges(n int) string {
	if n == 1 {
		return "1 range is"
	}
	return fmt.Sprintf("%d ranges are", n)
}

func strengthInPractice(known *material.Base, row material.Strength) api.StrengthInPractice {
	out := api.StrengthInPractice{
		Said: saidInPractice(known, row), Role: api.LayerRole(row.Role), Low: quantity.MustDecimal(row.Written[0]),
		High: quantity.MustDecimal(row.Written[1]), Unit: row.Unit, Basis: api.StrengthBasis(row.Basis),
		Source: row.Evidence.Source.Key, Status: api.ValueStatus(row.Evidence.Status),
	}
	if row.Solvent != "" {
		out.Solvent = new(row.Solvent)
	}
	if row.Remark != "" {
		out.Remark = new(row.Remark)
	}
	if len(row.Bodies) > 0 {
		out.Bodies = new(each(row.Bodies, func(b string) api.BodyKind { return api.BodyKind(b) }))
	}
	return out
}

// saidInPractice is a range in words.
func saidInPractice(known *material.Base, row material.Strength) string {
	number := row.Written[0]
	if row.Written[1] != number {
		number += " to " + row.Written[1]
	}
	unit := row.Unit
	switch row.Unit {
	case "g/g":
		unit = "g to 1 g"
	case "{part}/{part}":
		unit = "parts to 1"
	}
	said := fmt.Sprintf("%s: %s %s", strings.ReplaceAll(string(row.Role), "-", " "), number, unit)
	if row.Basis == string(solution.UnknownBasis) {
		said += ", basis not stated"
	} else {
		said += ", " + strings.ReplaceAll(row.Basis, "-", " ")
	}
	if in, ok := known.Material(row.Solvent); ok {
		said += ", in " + in.Name
	}
	return said
}

// requestFor is the request that makes the weakest of a range, or that shows the
// readings of a number on an unknown basis; or what such a request lacks.
func requestFor(
	known *material.Base, m material.Material, row material.Strength, atHand string,
) (*api.StrengthRequest, *string) {
	solvent := atHand
	if row.Solvent != "" {
		solvent = row.Solvent
	}
	liquid, found := known.Material(solvent)
	switch {
	case m.Kind.Mixing() != material.Dissolves:
		return nil, new(
			"It is not a solid that is dissolved: say the solids of the product as supplied to make-up or dilute.")
	case row.Unit == "{part}/{part}" || row.Unit == "g/g":
		return nil, new("Parts are not turned into an amount of solution.")
	case len(known.Property(m.ID, material.DensityProperty, material.AnyGrade).Grades) > 1:
		return nil, new("Its density depends on the grade, and the source names none: say the grade to make-up or convert.")
	case !found:
		return nil, new("The source names no liquid: say which with `solvent`.")
	case liquid.Kind.Mixing() != material.Liquid:
		return nil, new("The source names a class of liquids, or a mixture whose proportions are not known: choose one.")
	}
	in := api.AskedSolvent{Liquid: &api.Substance{Material: &liquid.ID}}
	value, basis := quantity.MustDecimal(row.Written[0]), api.StrengthBasis(row.Basis)
	strength := api.AskedStrength{Value: &value, Basis: &basis}
	if row.Basis == string(solution.UnknownBasis) {
		return &api.StrengthRequest{Convert: &api.ConvertRequest{Stock: api.AskedStock{
			Solution: &api.AskedSolution{Solute: api.Substance{Material: &m.ID}, Solvent: in, Strength: strength},
		}}}, nil
	}
	strength.Unit = &row.Unit
	return &api.StrengthRequest{MakeUp: &api.MakeUpRequest{
		Resin: api.AskedResin{Solid: &api.AskedSolid{Material: &m.ID}}, Solvent: &in, Strength: &strength,
		Amount: api.AskedAmount{Finished: &api.Quantity{Value: quantity.MustDecimal("100"), Unit: "mL"}},
	}}, nil
}

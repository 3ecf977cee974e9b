package stock_test

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/stock"
)

func measured(value, standard float64) *quantity.Measured {
	return &quantity.Measured{Value: value, Standard: standard}
}

func change(id string, kind stock.Kind, date string, amount *quantity.Measured) stock.Change {
	c := stock.Change{ID: id, Kind: kind, Amount: amount}
	if date != "" {
		c.Date = edtf.MustParse(date)
	}
	return c
}

func toppedUp(id, date string, amount, strength float64) stock.Change {
	c := change(id, stock.ToppedUp, date, measured(amount, 0))
	c.Strength = measured(strength, 0)
	return c
}

func rules(found []stock.Finding) []string {
	var out []string
	for _, f := range found {
		out = append(out, f.Rule)
	}
	return out
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

// 150 mL at 0.2 g/mL hold 30 g. The figures follow from the conservation of mass
// and are worked out beside each row.
func TestReckon(t *testing.T) {
	t.Parallel()
	opening := stock.Opening{Unit: "mL", Amount: measured(150, 0), Strength: measured(0.2, 0)}
	for name, row := range map[string]struct {
		changes           []stock.Change
		remains, strength float64
		rules             []string
	}{
		"nothing happened": {nil, 150, 0.2, nil},
		"what leaves is as strong as what stays": {
			[]stock.Change{
				change("a", stock.Used, "2024-03-12", measured(10, 0)), change("b", stock.Decanted, "2024-03-13", measured(40, 0)),
			},
			100, 0.2, nil},
		"30 g in 120 mL after 30 mL of solvent evaporated": {
			[]stock.Change{change("a", stock.Evaporated, "2024-06-01", measured(30, 0))},
			120, 0.25, nil},
		"30 g in 300 mL after 150 mL of solvent was added": {
			[]stock.Change{toppedUp("a", "2024-06-01", 150, 0)},
			300, 0.1, nil},
		"30 g and 5 g in 200 mL": {
			[]stock.Change{toppedUp("a", "2024-06-01", 50, 0.1)},
			200, 0.175, nil},
		"the order is that of the dates: 75 mL leave first, then 15 g in 75 + 75 mL": {
			[]stock.Change{toppedUp("a", "2024-06-02", 75, 0), change("b", stock.Used, "2024-06-01", measured(75, 0))},
			150, 0.1, nil},
		"a top-up of the same month is taken to come first, so nothing is below zero": {
			[]stock.Change{change("a", stock.Used, "2024-06-10", measured(200, 0)), toppedUp("b", "2024-06", 100, 0.2)},
			50, 0.2, nil},
		"two people emptied it: both stand, and the second is found": {
			[]stock.Change{change("a", stock.Discarded, "2024-06-01", measured(150, 0)),
				change("b", stock.Discarded, "2024-06-01", measured(150, 0))},
			-150, 0.2, []string{"stock-below-zero"}},
		"a top-up after the overdraft puts its own strength there": {
			[]stock.Change{change("a", stock.Used, "2024-06-01", measured(160, 0)), toppedUp("b", "2024-07", 110, 0.1)},
			100, 0.1, []string{"stock-below-zero"}},
		"poured back": {
			[]stock.Change{
				change("a", stock.Used, "2024-06-01", measured(20, 0)), change("b", stock.Returned, "2024-06-01", measured(5, 0)),
			},
			135, 0.2, []string{"stock-returned"}},
		"a weighing that agrees changes nothing": {
			[]stock.Change{change("a", stock.Weighed, "2024-06-01", measured(150.5, 0.5))},
			150.5, 0.2, nil},
		"a weighing that finds 100 mL: 0.2 if poured, 0.3 if evaporated": {
			[]stock.Change{change("a", stock.Weighed, "2024-06-01", measured(100, 0.5))},
			100, 0.25, []string{"stock-unexplained-difference"}},
		"a weighing that finds 200 mL: 0.2 if poured in, 0.15 if topped up": {
			[]stock.Change{change("a", stock.Weighed, "2024-06-01", measured(200, 0.5))},
			200, 0.175, []string{"stock-unexplained-difference"}},
	} {
		got := stock.Reckon(opening, row.changes)
		if !near(got.Remaining.Value, row.remains) || got.Strength == nil || !near(got.Strength.Value, row.strength) ||
			got.Knowledge != stock.Known {
			t.Errorf("%s: got %v at %v (%s), want %v at %v",
				name, got.Remaining, got.Strength, got.Knowledge, row.remains, row.strength)
		}
		if diff := cmp.Diff(rules(got.Findings), row.rules); diff != "" {
			t.Errorf("%s, findings (-got +want):\n%s", name, diff)
		}
	}
}

func TestReckonSaysWhatNobodyKnows(t *testing.T) {
	t.Parallel()
	whole := stock.Opening{Unit: "mL", Amount: measured(150, 0), Strength: measured(0.2, 0)}
	for name, row := range map[string]struct {
		opening   stock.Opening
		changes   []stock.Change
		knowledge stock.Knowledge
		strength  bool
		rules     []string
	}{
		"something was used":  {whole, []stock.Change{change("a", stock.Used, "", nil)}, stock.AtMost, true, []string{"stock-amount-unknown"}},
		"some evaporated":     {whole, []stock.Change{change("a", stock.Evaporated, "", nil)}, stock.AtMost, false, []string{"stock-amount-unknown"}},
		"something was added": {whole, []stock.Change{change("a", stock.ToppedUp, "", nil)}, stock.Unknown, false, []string{"stock-amount-unknown"}},
		"added, then overdrawn: nobody can tell": {whole, []stock.Change{change("a", stock.ToppedUp, "2020", nil), change("b", stock.Used, "2021", measured(500, 0))},
			stock.Unknown, false, []string{"stock-amount-unknown"}},
		"used, then overdrawn even at most": {whole, []stock.Change{change("a", stock.Used, "2020", nil), change("b", stock.Used, "2021", measured(500, 0))},
			stock.AtMost, true, []string{"stock-below-zero", "stock-amount-unknown"}},
		"used, then weighed": {whole, []stock.Change{change("a", stock.Used, "2020", nil), change("b", stock.Weighed, "2021", measured(80, 1))},
			stock.Known, false, []string{"stock-amount-unknown"}},
		"all of it evaporated":             {whole, []stock.Change{change("a", stock.Evaporated, "", measured(150, 0))}, stock.Known, false, []string{"stock-dried-out"}},
		"no opening amount":                {stock.Opening{Unit: "mL", Strength: measured(0.2, 0)}, []stock.Change{change("a", stock.Used, "", measured(500, 0))}, stock.Unknown, true, nil},
		"topped up with no one knows what": {whole, []stock.Change{change("a", stock.ToppedUp, "", measured(10, 0))}, stock.Known, false, nil},
		"perhaps a used brush": {whole, []stock.Change{{ID: "a", Kind: stock.Returned, Amount: measured(1, 0),
			DippedBrush: record.Said[bool]{Answer: record.AnswerUnknown}}}, stock.Known, true, []string{"stock-returned-from-brush"}},
		"a used brush": {whole, []stock.Change{{ID: "a", Kind: stock.Returned, Amount: measured(1, 0),
			DippedBrush: record.Give(true)}}, stock.Known, true, []string{"stock-returned-from-brush"}},
	} {
		got := stock.Reckon(row.opening, row.changes)
		if got.Knowledge != row.knowledge || (got.Strength != nil) != row.strength {
			t.Errorf("%s: got %s, strength %v, want %s, known %v",
				name, got.Knowledge, got.Strength, row.knowledge, row.strength)
		}
		if diff := cmp.Diff(rules(got.Findings), row.rules); diff != "" {
			t.Errorf("%s, findings (-got +want):\n%s", name, diff)
		}
	}
}

func TestBelowZeroIsJudgedWithinTheUncertainty(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		standard float64
		found    bool
	}{{0, true}, {0.4, true}, {0.6, false}, {5, false}} {
		opening := stock.Opening{Unit: "mL", Amount: measured(100, row.standard)}
		got := stock.Reckon(opening, []stock.Change{change("a", stock.Used, "", measured(101, 0))})
		if (len(got.Findings) == 1) != row.found {
			t.Errorf("101 mL from 100 mL with u = %v mL: got %v, want found %v", row.standard, got.Findings, row.found)
		}
	}
}

func TestOneFindingNamesEveryEntry(t *testing.T) {
	t.Parallel()
	var changes []stock.Change
	for i := range 40 {
		changes = append(changes, change(fmt.Sprint(i), stock.Used, "", nil))
	}
	got := stock.Reckon(stock.Opening{Unit: "mL", Amount: measured(100, 0)}, changes)
	if len(got.Findings) != 1 || len(got.Findings[0].Of) != 40 {
		t.Errorf("got %d findings, want one that names 40 entries", len(got.Findings))
	}
}

// rational is the reference model: exact amounts of solids and of the whole.
type rational struct{ amount, solids *big.Rat }

func rat(x float64) *big.Rat { return new(big.Rat).SetFloat64(x) }

func (m rational) take(c stock.Change) {
	q := rat(c.Amount.Value)
	strength := new(big.Rat).Quo(m.solids, m.amount)
	switch c.Kind {
	case stock.Evaporated:
		m.amount.Sub(m.amount, q)
	case stock.ToppedUp:
		m.amount.Add(m.amount, q)
		m.solids.Add(m.solids, q.Mul(q, rat(c.Strength.Value)))
	case stock.Returned:
		m.amount.Add(m.amount, q)
		m.solids.Add(m.solids, q.Mul(q, strength))
	default:
		m.amount.Sub(m.amount, q)
		m.solids.Sub(m.solids, q.Mul(q, strength))
	}
}

func TestReckonAgreesWithExactBookkeeping(t *testing.T) {
	t.Parallel()
	kinds := []stock.Kind{stock.Used, stock.Decanted, stock.Discarded, stock.Evaporated, stock.ToppedUp, stock.Returned}
	rapid.Check(t, func(t *rapid.T) {
		model := rational{rat(1000), rat(200)}
		opening := stock.Opening{Unit: "mL", Amount: measured(1000, 0), Strength: measured(0.2, 0)}
		var changes []stock.Change
		for i := range rapid.IntRange(0, 20).Draw(t, "changes") {
			kind := rapid.SampledFrom(kinds).Draw(t, "kind")
			left, _ := model.amount.Float64()
			amount := rapid.Float64Range(0, left/2).Draw(t, "amount")
			c := change(fmt.Sprint(i), kind, edtf.Day{Year: 2024, Month: 1, Day: 1}.AddDays(i).String(), measured(amount, 0))
			if kind == stock.ToppedUp {
				c.Strength = measured(rapid.Float64Range(0, 0.5).Draw(t, "strength"), 0)
			}
			model.take(c)
			changes = append(changes, c)
		}
		mixed := rapid.Permutation(changes).Draw(t, "order of arrival")
		got := stock.Reckon(opening, mixed)
		wantAmount, _ := model.amount.Float64()
		wantStrength, _ := new(big.Rat).Quo(model.solids, model.amount).Float64()
		if !near(got.Remaining.Value, wantAmount) || !near(got.Strength.Value, wantStrength) {
			t.Fatalf("got %v at %v, want %v at %v", got.Remaining.Value, got.Strength.Value, wantAmount, wantStrength)
		}
		for _, f := range got.Findings {
			if f.Rule == "stock-below-zero" || f.Rule == "stock-dried-out" {
				t.Fatalf("never below zero, and got %v", f)
			}
		}
	})
}

// The uncertainty that is carried from step to step is what the law of
// propagation gives for all amounts at once.
func TestUncertaintyAgreesWithPropagationAtOnce(t *testing.T) {
	t.Parallel()
	kinds := []stock.Kind{stock.Used, stock.Evaporated, stock.ToppedUp, stock.Returned}
	rapid.Check(t, func(t *rapid.T) {
		inputs := []quantity.Input{{Measured: *measured(1000, 3)}, {Measured: *measured(0.2, 0.002)}}
		var sequence []stock.Kind
		for range rapid.IntRange(1, 10).Draw(t, "changes") {
			kind := rapid.SampledFrom(kinds).Draw(t, "kind")
			sequence = append(sequence, kind)
			inputs = append(inputs, quantity.Input{
				Measured: *measured(rapid.Float64Range(1, 80).Draw(t, "amount"), rapid.Float64Range(0, 1).Draw(t, "u")),
			})
			inputs = append(inputs, quantity.Input{Measured: *measured(rapid.Float64Range(0, 0.4).Draw(t, "strength"), 0.001)})
		}
		build := func(x []float64, u func(i int) float64) stock.Account {
			var changes []stock.Change
			for i, kind := range sequence {
				c := change(fmt.Sprint(i), kind, edtf.Day{Year: 2024, Month: 1, Day: 1}.AddDays(i).String(),
					measured(x[2+2*i], u(2+2*i)))
				if kind == stock.ToppedUp {
					c.Strength = measured(x[3+2*i], u(3+2*i))
				}
				changes = append(changes, c)
			}
			return stock.Reckon(stock.Opening{Unit: "mL", Amount: measured(x[0], u(0)), Strength: measured(x[1], u(1))}, changes)
		}
		want := quantity.PropagateAll(inputs, 2, func(x, out []float64) {
			a := build(x, func(int) float64 { return 0 })
			out[0], out[1] = a.Remaining.Value, a.Strength.Value
		})
		x := make([]float64, len(inputs))
		for i, in := range inputs {
			x[i] = in.Value
		}
		got := build(x, func(i int) float64 { return inputs[i].Standard })
		if math.Abs(got.Remaining.Standard-want[0].Standard) > 1e-6 ||
			math.Abs(got.Strength.Standard-want[1].Standard) > 1e-8 {
			t.Fatalf("%v: got u = %v and %v, want %v and %v", sequence, got.Remaining.Standard, got.Strength.Standard,
				want[0].Standard, want[1].Standard)
		}
	})
}

func TestUncertaintyAgreesWithMonteCarlo(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2))
	run := func(v, c, evaporated, added float64) float64 {
		a := stock.Reckon(stock.Opening{Unit: "mL", Amount: measured(v, 0), Strength: measured(c, 0)}, []stock.Change{
			change("a", stock.Evaporated, "2024-01-01", measured(evaporated, 0)), toppedUp("b", "2024-02-01", added, 0)})
		return a.Strength.Value
	}
	const n = 20000
	var sum, squares float64
	for range n {
		x := run(150+random.NormFloat64(), 0.2+0.002*random.NormFloat64(), 30+3*random.NormFloat64(), 20+random.NormFloat64())
		sum += x
		squares += x * x
	}
	want := math.Sqrt(squares/n - (sum/n)*(sum/n))
	second := toppedUp("b", "2024-02-01", 20, 0)
	second.Amount.Standard = 1
	got := stock.Reckon(stock.Opening{Unit: "mL", Amount: measured(150, 1), Strength: measured(0.2, 0.002)},
		[]stock.Change{
			change("a", stock.Evaporated, "2024-01-01", measured(30, 3)), second}).Strength.Standard
	if math.Abs(got-want) > 0.03*want {
		t.Errorf("got u = %v, want %v within 3 %%", got, want)
	}
}

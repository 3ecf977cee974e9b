package quantity

import (
	"math"
	"sort"
	"strings"

	"meniscus/internal/fault"
)

// Class names a class of instrument whose standard states the largest error.
type Class string

// limit is the largest error of an instrument up to a size.
type limit struct {
	upTo float64 // nominal capacity (mL), or load in scale intervals e
	most float64 // half-width (mL), or in scale intervals e
}

// classRow is what a standard says of one class.
type classRow struct {
	class        Class
	said         string
	unit         Unit // of upTo and most; empty for multiples of the scale interval
	distribution Distribution
	limits       []limit
	source       string
	status       string
}

// classTable holds the known classes, each with its source and whether that
// source was read. Glassware is triangular about its mark and a balance
// rectangular: EURACHEM/CITAC guide QUAM, examples A1 and A2 (recalled).
var classTable = []classRow{
	{
		class: "iso-1042-a", said: "class A volumetric flask", unit: Millilitre, distribution: Triangular,
		limits: []limit{{10, 0.025}, {25, 0.04}, {50, 0.06}, {100, 0.10}, {250, 0.15}, {500, 0.25}, {1000, 0.40},
			{2000, 0.60}, {5000, 1.2}},
		source: "ISO 1042, one-mark volumetric flasks; the same in Eichordnung, Anlage 12, 3.2", status: "read",
	},
	{
		class: "iso-1042-b", said: "class B volumetric flask", unit: Millilitre, distribution: Triangular,
		limits: []limit{{10, 0.05}, {25, 0.08}, {50, 0.12}, {100, 0.20}, {250, 0.30}, {500, 0.50}, {1000, 0.80},
			{2000, 1.2}, {5000, 2.4}},
		source: "ISO 1042, one-mark volumetric flasks", status: "memory",
	},
	{
		class: "iso-4788-a", said: "class A measuring cylinder", unit: Millilitre, distribution: Triangular,
		limits: []limit{{5, 0.05}, {10, 0.10}, {25, 0.25}, {50, 0.5}, {100, 0.5}, {250, 1.0}, {500, 2.5}, {1000, 5.0},
			{2000, 10}},
		source: "ISO 4788, graduated measuring cylinders", status: "memory",
	},
	{
		class: "iso-4788-b", said: "class B measuring cylinder", unit: Millilitre, distribution: Triangular,
		limits: []limit{{5, 0.1}, {10, 0.2}, {25, 0.5}, {50, 1.0}, {100, 1.0}, {250, 2.0}, {500, 5.0}, {1000, 10},
			{2000, 20}},
		source: "ISO 4788, graduated measuring cylinders", status: "memory",
	},
	{
		class: "oiml-r76-ii", said: "balance of class II", distribution: Rectangular,
		limits: []limit{{5000, 0.5}, {20000, 1.0}, {100000, 1.5}},
		source: "OIML R 76, Table 6, on initial verification", status: "verified",
	},
	{
		class: "oiml-r76-iii", said: "scale of class III", distribution: Rectangular,
		limits: []limit{{500, 0.5}, {2000, 1.0}, {10000, 1.5}},
		source: "OIML R 76, Table 6, on initial verification", status: "verified",
	},
	{
		class: "oiml-r76-ii-in-service", said: "balance of class II in service", distribution: Rectangular,
		limits: []limit{{5000, 1.0}, {20000, 2.0}, {100000, 3.0}},
		source: "OIML R 76, Table 6, doubled in service", status: "verified",
	},
	{
		class: "oiml-r76-iii-in-service", said: "scale of class III in service", distribution: Rectangular,
		limits: []limit{{500, 1.0}, {2000, 2.0}, {10000, 3.0}},
		source: "OIML R 76, Table 6, doubled in service", status: "verified",
	},
}

// Classes lists the names of the known classes.
func Classes() []Class {
	list := make([]Class, len(classTable))
	for i, row := range classTable {
		list[i] = row.class
	}
	sort.Slice(list, func(i, j int) bool { return list[i] < list[j] })
	return list
}

// ParseClass gives the class of this name, or a fault that lists the known ones.
func ParseClass(name string) (Class, error) {
	if _, ok := Class(name).row(); ok {
		return Class(name), nil
	}
	names := make([]string, 0, len(classTable))
	for _, c := range Classes() {
		names = append(names, string(c))
	}
	return "", fault.New("class-unknown", "", "The instrument class is not known here; known are %s.",
		strings.Join(names, ", "))
}

func (c Class) row() (classRow, bool) {
	for _, row := range classTable {
		if row.class == c {
			return row, true
		}
	}
	return classRow{}, false
}

// Source gives the standard that the class's limits come from, and whether it was
// read (verified) or recalled (memory).
func (c Class) Source() (source, status string) {
	row, _ := c.row()
	return row.source, row.status
}

// HalfWidth gives the largest error that the class allows: for glassware, of the
// smallest size that holds the amount (mL); for a weighing instrument, at the load
// and scale interval given, both in one unit.
func (c Class) HalfWidth(amount, interval float64) (float64, error) {
	row, ok := c.row()
	if !ok {
		return 0, fault.New("class-unknown", "/uncertainty/class", "The instrument class is not known here.")
	}
	if row.unit != "" {
		interval = 1
	}
	if !(interval > 0) {
		return 0, fault.New("class-interval", "/uncertainty/interval",
			"A weighing class needs the scale interval e of the instrument, greater than zero.")
	}
	for _, l := range row.limits {
		if math.Abs(amount) <= l.upTo*interval {
			return l.most * interval, nil
		}
	}
	last := row.limits[len(row.limits)-1]
	return 0, fault.New("class-range", "/uncertainty/class",
		"The amount is above what the class covers, which is up to %g %s.", last.upTo*interval, orWord(row.unit))
}

func orWord(u Unit) Unit {
	if u == "" {
		return "in the unit of the amount"
	}
	return u
}

// standard gives the standard uncertainty of q in its own unit.
func (c Class) standard(q Quantity, interval float64) (float64, error) {
	row, ok := c.row()
	if !ok {
		return 0, fault.New("class-unknown", "/uncertainty/class", "The instrument class is not known here.")
	}
	unit, kind := q.Unit, Mass
	if row.unit != "" {
		unit, kind = row.unit, row.unit.Kind()
	}
	if q.Unit.Kind() != kind {
		return 0, fault.New("class-kind", "/uncertainty/class",
			"This class is of instruments for %s, and the amount is not one.", kind)
	}
	amount, err := q.In(unit)
	if err != nil {
		return 0, err
	}
	most, err := c.HalfWidth(amount, interval)
	if err != nil {
		return 0, err
	}
	u, err := row.distribution.standard(most)
	return u * Factor(unit, q.Unit), err
}

package quantity

import (
	"math"
	"sort"
	"strings"

	"meniscus/internal/bibliography"
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
	oneMark      bool // it measures its nominal capacities and nothing between them
	distribution Distribution
	limits       []limit
	source       string // its key in the bibliography
	status       bibliography.Status
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
	return "", fault.New("class-unknown", "",
		"The instrument class is not known here. A class is named with its standard, since class A of another standard has "+
			"other limits; known are %s.",
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

// Source gives the key of the source of the class's limits, and whether they were read
// there or are recalled.
func (c Class) Source() (key string, status bibliography.Status) {
	row, _ := c.row()
	return row.source, row.status
}

// HalfWidth gives the largest error that the class allows: for glassware, of the
// smallest size that holds the amount (mL), and for one-mark pipettes of the size that is
// the amount; for a weighing instrument, at the load
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
		size := l.upTo * interval
		if row.oneMark && math.Abs(amount-size) > 1e-9*size {
			continue
		}
		if math.Abs(amount) <= size {
			return l.most * interval, nil
		}
	}
	if row.oneMark {
		return 0, fault.New("class-size", "/uncertainty/class",
			"A %s measures its own size alone: one of %s mL. Measure another amount with a cylinder, or in several portions.",
			row.said, row.sizes())
	}
	last := row.limits[len(row.limits)-1]
	return 0, fault.New("class-range", "/uncertainty/class",
		"The amount is above what is known of the class, which is up to %g %s.", last.upTo*interval, orWord(row.unit))
}

// sizes lists the nominal capacities.
func (r classRow) sizes() string {
	texts := make([]string, len(r.limits))
	for i, l := range r.limits {
		texts[i] = Digits(l.upTo, 4)
	}
	return strings.Join(texts, ", ")
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

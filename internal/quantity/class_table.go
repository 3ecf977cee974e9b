package quantity

import "meniscus/internal/bibliography"

// The sources of the classes; flasks of ISO 1042 A are read in eichordnung-12.
const (
	flasksISO     = "iso-1042"
	flasksASTM    = "astm-e288"
	pipettesISO   = "iso-648"
	pipettesASTM  = "astm-e969"
	cylindersISO  = "iso-4788"
	cylindersASTM = "astm-e1272"
	weighing      = "oiml-r76"
)

// classTable holds the known classes, each with its source and whether that
// source was read. Glassware is triangular about its mark and a balance
// rectangular: EURACHEM/CITAC guide QUAM, examples A1 and A2 (recalled). The table of
// American cylinders was read to 500 mL. The guide beside ASTM E969 prints smaller limits
// for cylinders (0.35 mL at 100 mL, class A), which are not those of E1272.
var classTable = []classRow{
	glass("iso-1042-a", "class A volumetric flask", "eichordnung-12", bibliography.Read,
		limit{10, 0.025}, limit{25, 0.04}, limit{50, 0.06}, limit{100, 0.10}, limit{250, 0.15}, limit{500, 0.25},
		limit{1000, 0.40}, limit{2000, 0.60}, limit{5000, 1.2}),
	glass("iso-1042-b", "class B volumetric flask", flasksISO, bibliography.Memory,
		limit{10, 0.05}, limit{25, 0.08}, limit{50, 0.12}, limit{100, 0.20}, limit{250, 0.30}, limit{500, 0.50},
		limit{1000, 0.80}, limit{2000, 1.2}, limit{5000, 2.4}),
	glass("astm-e288-a", "class A volumetric flask", flasksASTM, bibliography.Memory,
		limit{10, 0.02}, limit{25, 0.03}, limit{50, 0.05}, limit{100, 0.08}, limit{200, 0.10}, limit{250, 0.12},
		limit{500, 0.20}, limit{1000, 0.30}, limit{2000, 0.50}),
	glass("astm-e288-b", "class B volumetric flask", flasksASTM, bibliography.Memory,
		limit{10, 0.04}, limit{25, 0.06}, limit{50, 0.10}, limit{100, 0.16}, limit{200, 0.20}, limit{250, 0.24},
		limit{500, 0.40}, limit{1000, 0.60}, limit{2000, 1.0}),
	glass("iso-4788-a", "class A measuring cylinder", cylindersISO, bibliography.Memory,
		limit{5, 0.05}, limit{10, 0.10}, limit{25, 0.25}, limit{50, 0.5}, limit{100, 0.5}, limit{250, 1.0}, limit{500, 2.5},
		limit{1000, 5.0}, limit{2000, 10}),
	glass("iso-4788-b", "class B measuring cylinder", cylindersISO, bibliography.Memory,
		limit{5, 0.1}, limit{10, 0.2}, limit{25, 0.5}, limit{50, 1.0}, limit{100, 1.0}, limit{250, 2.0}, limit{500, 5.0},
		limit{1000, 10}, limit{2000, 20}),
	glass("astm-e1272-a", "class A graduated cylinder", cylindersASTM, bibliography.Read,
		limit{5, 0.05}, limit{10, 0.10}, limit{25, 0.17}, limit{50, 0.25}, limit{100, 0.50}, limit{250, 1.00},
		limit{500, 2.00}),
	glass("astm-e1272-b", "class B graduated cylinder", cylindersASTM, bibliography.Read,
		limit{5, 0.10}, limit{10, 0.20}, limit{25, 0.34}, limit{50, 0.50}, limit{100, 1.00}, limit{250, 2.00},
		limit{500, 4.00}),
	pipette("iso-648-a", "one-mark pipette of class A", pipettesISO, bibliography.Memory,
		limit{0.5, 0.005}, limit{1, 0.008}, limit{2, 0.010}, limit{5, 0.015}, limit{10, 0.020}, limit{20, 0.030},
		limit{25, 0.030}, limit{50, 0.050}, limit{100, 0.080}),
	pipette("iso-648-b", "one-mark pipette of class B", pipettesISO, bibliography.Memory,
		limit{0.5, 0.010}, limit{1, 0.016}, limit{2, 0.020}, limit{5, 0.030}, limit{10, 0.040}, limit{20, 0.060},
		limit{25, 0.060}, limit{50, 0.100}, limit{100, 0.160}),
	pipette("astm-e969-a", "one-mark pipette of class A", pipettesASTM, bibliography.Read,
		limit{0.5, 0.006}, limit{1, 0.006}, limit{2, 0.006}, limit{3, 0.01}, limit{4, 0.01}, limit{5, 0.01}, limit{6, 0.01},
		limit{7, 0.01}, limit{10, 0.02}, limit{25, 0.03}, limit{50, 0.05}, limit{100, 0.08}),
	pipette("astm-e969-b", "one-mark pipette of class B", pipettesASTM, bibliography.Read,
		limit{0.5, 0.012}, limit{1, 0.012}, limit{2, 0.012}, limit{3, 0.02}, limit{4, 0.02}, limit{5, 0.02}, limit{6, 0.03},
		limit{7, 0.03}, limit{10, 0.04}, limit{25, 0.06}, limit{50, 0.10}, limit{100, 0.16}),
	balance("oiml-r76-ii", "balance of class II", limit{5000, 0.5}, limit{20000, 1.0}, limit{100000, 1.5}),
	balance("oiml-r76-iii", "scale of class III", limit{500, 0.5}, limit{2000, 1.0}, limit{10000, 1.5}),
	// In service the limits are doubled.
	balance("oiml-r76-ii-in-service", "balance of class II in service",
		limit{5000, 1.0}, limit{20000, 2.0}, limit{100000, 3.0}),
	balance("oiml-r76-iii-in-service", "scale of class III in service",
		limit{500, 1.0}, limit{2000, 2.0}, limit{10000, 3.0}),
}

// glass is a row of a class of glassware, its sizes in mL.
func glass(class Class, said, source string, status bibliography.Status, limits ...limit) classRow {
	return classRow{class: class, said: said, unit: Millilitre, distribution: Triangular, limits: limits,
		source: source, status: status}
}

// pipette is glass with one mark.
func pipette(class Class, said, source string, status bibliography.Status, limits ...limit) classRow {
	row := glass(class, said, source, status, limits...)
	row.oneMark = true
	return row
}

// balance is a row of OIML R 76, Table 6, on initial verification, in intervals e.
func balance(class Class, said string, limits ...limit) classRow {
	return classRow{class: class, said: said, distribution: Rectangular, limits: limits, source: weighing,
		status: bibliography.Read}
}

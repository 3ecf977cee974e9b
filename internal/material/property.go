package material

// Property names what a fact is about: "density", "glass-transition".
type Property string

// Properties that computations ask for; definitions holds them all.
const (
	MolarMass           Property = "molar-mass"            // g/mol
	DensityProperty     Property = "density"               // g/mL; of solids the true density, never that of pellets
	DensitySlope        Property = "density-slope"         // g/mL/K near 20 Cel
	BulkDensity         Property = "bulk-density"          // g/mL of the loose pellets or powder
	BoilingPoint        Property = "boiling-point"         // Cel at 101.325 kPa
	FlashPoint          Property = "flash-point"           // Cel, closed cup
	LowerExplosiveLimit Property = "lower-explosive-limit" // % by volume in air
	UpperExplosiveLimit Property = "upper-explosive-limit" // % by volume in air
	VapourPressure      Property = "vapour-pressure"       // kPa
	SaturatedVapour     Property = "saturated-vapour"      // [ppm] at 20 Cel and 101.325 kPa
	VapourDensity       Property = "vapour-density"        // air = 1
	VapourConversion    Property = "vapour-conversion"     // mg/m3 for each ppm at 25 Cel
	EvaporationRate     Property = "evaporation-rate"      // n-butyl acetate = 1
	Viscosity           Property = "viscosity"             // mPa.s
	SurfaceTension      Property = "surface-tension"       // mN/m
	RefractiveIndex     Property = "refractive-index"      //
	TeasDispersion      Property = "teas-dispersion"       // % of the three
	TeasPolar           Property = "teas-polar"            // % of the three
	TeasHydrogen        Property = "teas-hydrogen"         // % of the three
	HansenDispersion    Property = "hansen-dispersion"     // {MPa^0.5}
	HansenPolar         Property = "hansen-polar"          // {MPa^0.5}
	HansenHydrogen      Property = "hansen-hydrogen"       // {MPa^0.5}
	HansenRadius        Property = "hansen-radius"         // {MPa^0.5}, of a polymer's sphere
	GlassTransition     Property = "glass-transition"      // Cel
	CarbonOrigin        Property = "carbon"                // petroleum, modern-plant …
	ServiceTemperature  Property = "service-temperature"   // Cel
	FaultTemperature    Property = "fault-temperature"     // Cel
	AgeingClass         Property = "ageing-class"          // class of Feller's scale
	CASNumber           Property = "cas-number"            //
	Formula             Property = "formula"               //
	UNNumber            Property = "un-number"             // for carriage
)

// Definition says what a property means.
type Definition struct {
	// Label is what a reader sees.
	Label string
	// Units are the UCUM codes that a row may carry; words carry none.
	Units []string
	// Many values stand side by side and are never compared: faults, uses.
	Many bool
	// Relative and Absolute say how far apart two figures may lie before they are
	// called a disagreement; the wider of the two holds.
	Relative, Absolute float64
}

// Definition gives the meaning of a property.
func (p Property) Definition() (Definition, bool) {
	d, ok := definitions[p]
	return d, ok
}

// words says that values of the property are words only, even when they look
// like numbers (class 3).
func (d Definition) words() bool { return len(d.Units) == 0 }

// apart tells whether two values lie further apart than the tolerance: the
// gap between the nearer ends of their ranges.
func (d Definition) apart(a, b Value) bool {
	if !a.Closed() || !b.Closed() {
		return false
	}
	gap := max(b.Low-a.High, a.Low-b.High)
	middle, _ := a.Mid()
	if middle < 0 {
		middle = -middle
	}
	const rounding = 1e-9
	return gap > max(d.Absolute, d.Relative*middle)+rounding
}

func figure(label string, relative, absolute float64, units ...string) Definition {
	return Definition{Label: label, Units: units, Relative: relative, Absolute: absolute}
}

func several(label string, units ...string) Definition {
	return Definition{Label: label, Units: units, Many: true}
}

// definitions are all properties. The tolerances are ours: the size below which
// a difference between handbooks does not matter at a bench.
var definitions = map[Property]Definition{
	// Identity and carriage.
	CASNumber:         figure("CAS number", 0, 0),
	"ec-number":       figure("EC number", 0, 0),
	Formula:           figure("formula", 0, 0),
	MolarMass:         figure("molar mass", 0.001, 0, "g/mol"),
	UNNumber:          figure("UN number", 0, 0),
	"transport-class": figure("class for carriage", 0, 0),
	"packing-group":   figure("packing group", 0, 0),
	"carriage":        several("carriage"),

	// Volume and mass.
	DensityProperty:         figure("density", 0.005, 0, "g/mL"),
	DensitySlope:            figure("change of density with temperature", 0.05, 0, "g/mL/K"),
	BulkDensity:             figure("bulk density", 0.05, 0, "g/mL"),
	"solution-density":      figure("specific gravity of the solution", 0.005, 0, "1"),
	"ethanol-mass-fraction": figure("ethanol by mass", 0.001, 0, "%"),
	"active-content":        figure("active content", 0.01, 0, "%"),
	"vinyl-alcohol-content": figure("vinyl alcohol units", 0.1, 0, "%"),

	// Fire and vapour.
	BoilingPoint:        figure("boiling point", 0, 1, "Cel"),
	FlashPoint:          figure("flash point, closed cup", 0, 2.5, "Cel"),
	LowerExplosiveLimit: figure("lower explosive limit", 0.1, 0, "%"),
	UpperExplosiveLimit: figure("upper explosive limit", 0.1, 0, "%"),
	VapourPressure:      figure("vapour pressure", 0.05, 0, "kPa"),
	SaturatedVapour:     figure("saturated vapour", 0.05, 0, "[ppm]"),
	VapourDensity:       figure("vapour density, air = 1", 0.02, 0, "1"),
	VapourConversion:    figure("mass of vapour for each part per million", 0.004, 0, "mg/m3/[ppm]"),
	EvaporationRate:     figure("evaporation rate, n-butyl acetate = 1", 0.25, 0, "1"),

	// Flow and optics.
	Viscosity:               figure("viscosity", 0.05, 0, "mPa.s"),
	SurfaceTension:          figure("surface tension", 0.03, 0, "mN/m"),
	RefractiveIndex:         figure("refractive index", 0, 0.003, "1"),
	TeasDispersion:          figure("Teas fraction, dispersion", 0, 3, "%"),
	TeasPolar:               figure("Teas fraction, polar", 0, 3, "%"),
	TeasHydrogen:            figure("Teas fraction, hydrogen bonding", 0, 3, "%"),
	HansenDispersion:        figure("Hansen parameter, dispersion", 0, 0.5, "{MPa^0.5}"),
	HansenPolar:             figure("Hansen parameter, polar", 0, 0.5, "{MPa^0.5}"),
	HansenHydrogen:          figure("Hansen parameter, hydrogen bonding", 0, 0.5, "{MPa^0.5}"),
	HansenRadius:            figure("Hansen radius", 0, 0.5, "{MPa^0.5}"),
	"solubility-parameter":  figure("solubility parameter, total", 0, 0.5, "{MPa^0.5}"),
	"hansen-distance-ratio": several("distance relative to the radius, an estimate", "1"),
	"flory-huggins-chi":     several("Flory-Huggins interaction parameter", "1"),

	// Heat.
	GlassTransition:          figure("glass transition", 0, 2, "Cel"),
	"glass-transition-shift": several("shift of the glass transition of a cast film", "K"),
	"melting-point":          figure("melting point", 0, 2, "Cel"),
	"softening-point":        figure("softening point", 0, 2, "Cel"),
	"decomposition":          figure("decomposition", 0, 5, "Cel"),
	"dehydration":            figure("dehydration", 0, 5, "Cel"),
	"gelling":                figure("gels or flocculates in water", 0, 2, "Cel"),
	ServiceTemperature:       several("temperature in service", "Cel"),
	FaultTemperature:         several("temperature of failure", "Cel"),

	// Use and drying.
	"use":                        several("use"),
	"remark":                     several("remark"),
	"remedy":                     several("remedy"),
	"penetration":                several("penetration"),
	"residue":                    several("residue"),
	"drying-effect":              several("effect of drying"),
	"drying-time":                several("drying time", "min", "h"),
	"joint-drying-time":          several("drying time of a joint", "h", "wk"),
	"dissolution-time":           figure("time to dissolve", 0.2, 0, "h"),
	"cure-time":                  figure("time to cure", 0.2, 0, "wk"),
	"water-repellent-period":     figure("repels water for", 0.2, 0, "wk"),
	"application-temperature":    figure("temperature of application", 0, 2, "Cel"),
	"application-humidity":       several("relative humidity of application", "%"),
	"application-humidity-limit": figure("highest relative humidity of application", 0, 5, "%"),
	"dew-point-margin":           figure("margin above the dew point", 0, 1, "K"),
	"solvent-retention":          several("retained solvent", "%", "a"),
	"shrinkage":                  figure("shrinkage", 0.2, 0, "%"),
	"sublimation-rate":           figure("rate of sublimation", 0.5, 0, "mm/d"),
	"sublimation-time":           several("time to sublime", "wk"),

	// Strength and ageing.
	"joint-strength-shear":               figure("strength of a joint in shear", 0.1, 0, "kPa"),
	"joint-strength-tension":             figure("strength of a joint in tension", 0.1, 0, "kPa"),
	"vapour-diffusion-activation-energy": figure("activation energy of the diffusion of water vapour", 0.1, 0, "kJ/mol"),
	AgeingClass:                          figure("ageing class", 0, 0),
	"ageing-words":                       several("ageing"),
	"class-life":                         several("life of the class", "a"),
	"class-exposure":                     figure("light exposure of the class", 0.2, 0, "lx.h/a"),
	"service-life":                       figure("life in service", 0.2, 0, "a"),
	"insoluble-fraction":                 figure("insoluble fraction", 0.2, 0, "%"),
	"fault":                              several("fault"),
	"hazard":                             several("hazard"),
	CarbonOrigin:                         figure("origin of the carbon", 0, 0),
}

package quantity

// The kinds, each with the unit that the table's factors lead to.
const (
	Mass          Kind = "mass"            // g
	Volume        Kind = "volume"          // mL
	MassPerVolume Kind = "mass-per-volume" // g/mL; densities, strengths, vapour in air
	VolumePerMass Kind = "volume-per-mass" // mL/g
	Ratio         Kind = "ratio"           // 1
	Temperature   Kind = "temperature"     // K
	Time          Kind = "time"            // s
	Length        Kind = "length"          // m
	Area          Kind = "area"            // m2
	Pressure      Kind = "pressure"        // Pa
	Speed         Kind = "speed"           // m/s
	Flow          Kind = "flow"            // m3/s
	Rate          Kind = "rate"            // 1/s
	MassFlow      Kind = "mass-flow"       // g/s
	MassPerArea   Kind = "mass-per-area"   // g/m2
	Flux          Kind = "flux"            // g/m2/s
	MolarMass     Kind = "molar-mass"      // g/mol
	Viscosity     Kind = "viscosity"       // Pa.s
	Conductivity  Kind = "conductivity"    // S/m, of rinse water
)

// The units that the computations use by name.
const (
	Gram         Unit = "g"
	Millilitre   Unit = "mL"
	GramsPerDL   Unit = "g/dL"
	GramsPerML   Unit = "g/mL"
	MLPerGram    Unit = "mL/g"
	Percent      Unit = "%"
	One          Unit = "1"
	Celsius      Unit = "Cel"
	Second       Unit = "s"
	Hour         Unit = "h"
	Day          Unit = "d"
	Metre        Unit = "m"
	SquareMetre  Unit = "m2"
	KiloPascal   Unit = "kPa"
	PPM          Unit = "[ppm]"
	MgPerM3      Unit = "mg/m3"
	MetresPerSec Unit = "m/s"
	USProof      Unit = "US proof"
	BritishProof Unit = "British proof"
)

// proofTable holds the proofs of spirits, which have no UCUM code: only strengths
// are read in them, not quantities. Both are of the volume fraction at 60 °F.
//
// Sources: US proof is twice the percentage by volume, 27 CFR 30.11 (the rule is used
// in the published examples of 27 CFR 30.66); British proof is seven fourths of it, to
// 0.1 % (recalled).
var proofTable = []unitRow{
	{USProof, Ratio, "1/200", "", "US proof"},
	{BritishProof, Ratio, "1/175", "", "British proof"},
}

// unitTable holds the units that are accepted. All factors are exact.
//
// Source: the definitions of the Unified Code for Units of Measure, version 2.1,
// tables 1 to 9 (recalled; the codes and factors are checked in the tests against
// the relations that define them). Avoirdupois pound 453.59237 g and inch 25.4 mm:
// international yard and pound agreement of 1959; US gallon 231 cubic inches; UK gallon
// 4.54609 dm3, of 160 fl oz; a pound of 7000 grains, an apothecaries' ounce of 480;
// standard gravity 9.80665 m/s2; atmosphere 101 325 Pa; UCUM's conventional
// millimetre of mercury is 133.3220 Pa.
var unitTable = []unitRow{
	{"g", Mass, "1", "", "g"},
	{"kg", Mass, "1000", "", "kg"},
	{"mg", Mass, "1/1000", "", "mg"},
	{"ug", Mass, "1/1000000", "", "µg"},
	{"[lb_av]", Mass, "453.59237", "", "lb"},
	{"[oz_av]", Mass, "28.349523125", "", "oz"},
	{"[gr]", Mass, "0.06479891", "", "grains"},
	{"[dr_av]", Mass, "1.7718451953125", "", "avoirdupois dr"},
	{"[sc_ap]", Mass, "1.2959782", "", "scruple"},
	{"[dr_ap]", Mass, "3.8879346", "", "apothecaries' dr"},
	{"[oz_ap]", Mass, "31.1034768", "", "apothecaries' oz"},
	{"[lb_ap]", Mass, "373.2417216", "", "apothecaries' lb"},

	{"mL", Volume, "1", "", "mL"},
	{"L", Volume, "1000", "", "L"},
	{"uL", Volume, "1/1000", "", "µL"},
	{"cL", Volume, "10", "", "cL"},
	{"dL", Volume, "100", "", "dL"},
	{"cm3", Volume, "1", "", "cm³"},
	{"dm3", Volume, "1000", "", "dm³"},
	{"m3", Volume, "1000000", "", "m³"},
	{"[gal_us]", Volume, "3785.411784", "", "US gal"},
	{"[qt_us]", Volume, "946.352946", "", "US qt"},
	{"[pt_us]", Volume, "473.176473", "", "US pt"},
	{"[gil_us]", Volume, "118.29411825", "", "US gill"},
	{"[foz_us]", Volume, "29.5735295625", "", "US fl oz"},
	{"[fdr_us]", Volume, "3.6966911953125", "", "US fl dr"},
	{"[min_us]", Volume, "0.061611519921875", "", "US minim"},
	{"[gal_br]", Volume, "4546.09", "", "UK gal"},
	{"[qt_br]", Volume, "1136.5225", "", "UK qt"},
	{"[pt_br]", Volume, "568.26125", "", "UK pt"},
	{"[gil_br]", Volume, "142.0653125", "", "UK gill"},
	{"[foz_br]", Volume, "28.4130625", "", "UK fl oz"},
	{"[fdr_br]", Volume, "3.5516328125", "", "UK fl dr"},
	{"[min_br]", Volume, "3.5516328125/60", "", "UK minim"},

	{"g/mL", MassPerVolume, "1", "", "g per mL"},
	{"g/cm3", MassPerVolume, "1", "", "g per cm³"},
	{"g/dL", MassPerVolume, "1/100", "", "g per 100 mL"},
	{"g/L", MassPerVolume, "1/1000", "", "g per L"},
	{"kg/L", MassPerVolume, "1", "", "kg per L"},
	{"kg/m3", MassPerVolume, "1/1000", "", "kg per m³"},
	{"mg/mL", MassPerVolume, "1/1000", "", "mg per mL"},
	{"mg/L", MassPerVolume, "1/1000000", "", "mg per L"},
	{"mg/m3", MassPerVolume, "1/1000000000", "", "mg per m³"},
	{"ug/m3", MassPerVolume, "1/1000000000000", "", "µg per m³"},
	{"[lb_av]/[gal_us]", MassPerVolume, "453.59237/3785.411784", "", "lb per US gal"},
	{"[oz_av]/[foz_us]", MassPerVolume, "28.349523125/29.5735295625", "", "oz per US fl oz"},
	{"[oz_av]/[pt_us]", MassPerVolume, "28.349523125/473.176473", "", "oz per US pt"},
	{"[oz_av]/[pt_br]", MassPerVolume, "28.349523125/568.26125", "", "oz per UK pt"},
	{"[oz_av]/[gal_br]", MassPerVolume, "28.349523125/4546.09", "", "oz per UK gal"},
	{"[lb_av]/[gal_br]", MassPerVolume, "453.59237/4546.09", "", "lb per UK gal"},
	{"[gr]/[foz_br]", MassPerVolume, "0.06479891/28.4130625", "", "grains per UK fl oz"},
	{"[gr]/[pt_br]", MassPerVolume, "0.06479891/568.26125", "", "grains per UK pt"},

	{"mL/g", VolumePerMass, "1", "", "mL per g"},
	{"cm3/g", VolumePerMass, "1", "", "cm³ per g"},
	{"L/kg", VolumePerMass, "1", "", "L per kg"},

	{"1", Ratio, "1", "", ""},
	{"%", Ratio, "1/100", "", "%"},
	{"[ppth]", Ratio, "1/1000", "", "per thousand"},
	{"[ppm]", Ratio, "1/1000000", "", "ppm"},
	{"[ppb]", Ratio, "1/1000000000", "", "ppb"},

	{"K", Temperature, "1", "", "K"},
	{"Cel", Temperature, "1", "273.15", "°C"},
	{"[degF]", Temperature, "5/9", "45967/180", "°F"},

	{"s", Time, "1", "", "s"},
	{"min", Time, "60", "", "min"},
	{"h", Time, "3600", "", "h"},
	{"d", Time, "86400", "", "days"},
	{"wk", Time, "604800", "", "weeks"},
	{"mo", Time, "2629800", "", "months"},
	{"a", Time, "31557600", "", "years"},

	{"m", Length, "1", "", "m"},
	{"cm", Length, "1/100", "", "cm"},
	{"mm", Length, "1/1000", "", "mm"},
	{"um", Length, "1/1000000", "", "µm"},
	{"[in_i]", Length, "0.0254", "", "in"},
	{"[ft_i]", Length, "0.3048", "", "ft"},

	{"m2", Area, "1", "", "m²"},
	{"dm2", Area, "1/100", "", "dm²"},
	{"cm2", Area, "1/10000", "", "cm²"},
	{"mm2", Area, "1/1000000", "", "mm²"},

	{"Pa", Pressure, "1", "", "Pa"},
	{"hPa", Pressure, "100", "", "hPa"},
	{"kPa", Pressure, "1000", "", "kPa"},
	{"MPa", Pressure, "1000000", "", "MPa"},
	{"mbar", Pressure, "100", "", "mbar"},
	{"bar", Pressure, "100000", "", "bar"},
	{"atm", Pressure, "101325", "", "atm"},
	{"mm[Hg]", Pressure, "133.322", "", "mm of mercury"},
	{"[psi]", Pressure, "4.4482216152605/0.00064516", "", "psi"},

	{"m/s", Speed, "1", "", "m per s"},
	{"cm/s", Speed, "1/100", "", "cm per s"},
	{"km/h", Speed, "5/18", "", "km per h"},

	{"m3/s", Flow, "1", "", "m³ per s"},
	{"m3/min", Flow, "1/60", "", "m³ per min"},
	{"m3/h", Flow, "1/3600", "", "m³ per h"},
	{"L/s", Flow, "1/1000", "", "L per s"},
	{"L/min", Flow, "1/60000", "", "L per min"},

	{"1/s", Rate, "1", "", "per s"},
	{"1/min", Rate, "1/60", "", "per min"},
	{"1/h", Rate, "1/3600", "", "per h"},
	{"1/d", Rate, "1/86400", "", "per day"},

	{"g/s", MassFlow, "1", "", "g per s"},
	{"g/min", MassFlow, "1/60", "", "g per min"},
	{"g/h", MassFlow, "1/3600", "", "g per h"},
	{"g/d", MassFlow, "1/86400", "", "g per day"},
	{"mg/s", MassFlow, "1/1000", "", "mg per s"},
	{"mg/h", MassFlow, "1/3600000", "", "mg per h"},

	{"g/m2", MassPerArea, "1", "", "g per m²"},
	{"kg/m2", MassPerArea, "1000", "", "kg per m²"},
	{"g/cm2", MassPerArea, "10000", "", "g per cm²"},
	{"mg/cm2", MassPerArea, "10", "", "mg per cm²"},

	{"g/m2/s", Flux, "1", "", "g per m² and s"},
	{"g/m2/h", Flux, "1/3600", "", "g per m² and h"},

	{"g/mol", MolarMass, "1", "", "g per mol"},
	{"kg/mol", MolarMass, "1000", "", "kg per mol"},

	{"Pa.s", Viscosity, "1", "", "Pa s"},
	{"mPa.s", Viscosity, "1/1000", "", "mPa s"},
	{"cP", Viscosity, "1/1000", "", "cP"},

	{"S/m", Conductivity, "1", "", "S per m"},
	{"mS/cm", Conductivity, "1/10", "", "mS per cm"},
	{"uS/cm", Conductivity, "1/10000", "", "µS per cm"},
}

package quantity

// multiple is what a spelling of a unit stands for: a power of ten of it, and
// where factor is not 0 that many of those.
type multiple struct {
	power  int
	factor float64
}

// kind is how values of one unit are written.
type kind struct {
	noun     string // for the head of an error
	expected string // for the sentence of a fault
	zero     bool   // 0 is a value
	negative bool   // so are values below it
	// letters stand for the decimal sign (IEC 60062): the power of ten of each.
	letters, legacyLetters map[string]int
	// ends may follow such a value: 4n7F, 4k7Ω.
	ends []string
	// suffixes follow a number: the power of ten of each.
	suffixes, legacySuffixes map[string]int
	// factors are suffixes that are no power of ten.
	factors map[string]multiple
	// doubts explain the refusal of what may mean two values.
	doubts map[string]string
}

func (k *kind) suffix(in string, legacy bool) (multiple, bool) {
	if power, ok := k.suffixes[in]; ok {
		return multiple{power: power}, true
	}
	if m, ok := k.factors[in]; ok {
		return m, true
	}
	power, ok := k.legacySuffixes[in]
	return multiple{power: power}, ok && legacy
}

var kinds = map[Unit]*kind{
	Farad: &farads, Ohm: &ohms, Volt: &volts, VoltAC: &alternatingVolts, Ampere: &amperes, Hertz: &hertz,
	Metre: &metres, Hour: &hours, Day: &days, Celsius: &celsius, Kelvin: &kelvin, Percent: &percent, One: &ones,
}

// MFD and MMFD are the old American markings, in which M is micro; no
// megafarad was ever meant.
var farads = kind{
	noun: "capacitance", expected: "a number with its unit, such as 47 µF, 4n7 or 20 MFD",
	letters:       map[string]int{"p": -12, "P": -12, "n": -9, "N": -9, "µ": -6, "u": -6, "U": -6, "F": 0},
	legacyLetters: map[string]int{"M": -6, "m": -6},
	ends:          []string{"F", "f", "Fd", "FD", "fd"},
	suffixes: map[string]int{
		"F": 0, "farad": 0, "farads": 0,
		"µ": -6, "u": -6, "U": -6, "µF": -6, "uF": -6, "UF": -6, "uf": -6, "µf": -6, "Uf": -6,
		"µFd": -6, "uFd": -6, "ufd": -6, "µfd": -6, "UFD": -6, "µFD": -6, "uFD": -6,
		"MFD": -6, "mfd": -6, "Mfd": -6, "mFd": -6, "MFd": -6, "mFD": -6, "MF": -6, "Mf": -6,
		"MFD.": -6, "mfd.": -6, "Mfd.": -6, "MF.": -6,
		"n": -9, "N": -9, "nF": -9, "nf": -9, "NF": -9, "nFd": -9, "nfd": -9,
		"p": -12, "P": -12, "pF": -12, "pf": -12, "PF": -12, "pFd": -12, "pfd": -12, "PFD": -12,
		"MMF": -12, "mmf": -12, "Mmf": -12, "mmF": -12, "MMFD": -12, "mmfd": -12, "Mmfd": -12, "mmFd": -12,
		"MMF.": -12, "mmf.": -12, "MMFD.": -12, "mmfd.": -12,
		"µµF": -12, "uuF": -12, "UUF": -12, "uuf": -12, "µµf": -12, "µµ": -12, "uu": -12,
		"µµFd": -12, "uufd": -12, "µµfd": -12, "UUFD": -12,
	},
	legacySuffixes: map[string]int{"mF": -6, "mf": -6, "M": -6, "m": -6, "mf.": -6},
	doubts: map[string]string{
		"mF": millifarad, "mf": millifarad, "mf.": millifarad, "m": millifarad,
		"M": "has a bare M, which may be microfarads, as old markings have it, or a tolerance of 20 %; write µF, or declare legacy units",
		"K": "has a K, which may be thousands of pF or a tolerance of 10 %; write nF",
		"k": "has a k, which may be thousands of pF or a tolerance of 10 %; write nF",
	},
}

const millifarad = "may be microfarads, as old markings have it, or millifarads; write µF, or declare legacy units"

var ohms = kind{
	noun: "resistance", expected: "a number with its unit, such as 4k7, 220R or 1 MΩ", zero: true,
	letters: map[string]int{"R": 0, "r": 0, "Ω": 0, "k": 3, "K": 3, "M": 6, "G": 9},
	ends:    []string{"Ω", "ohm", "Ohm", "OHM", "ohms", "Ohms", "OHMS"},
	suffixes: map[string]int{
		"": 0, "R": 0, "r": 0, "Ω": 0, "ohm": 0, "Ohm": 0, "OHM": 0, "ohms": 0, "Ohms": 0, "OHMS": 0,
		"k": 3, "K": 3, "kΩ": 3, "KΩ": 3, "kohm": 3, "kOhm": 3, "Kohm": 3, "KOHM": 3, "kohms": 3, "k ohm": 3, "k ohms": 3, "K ohms": 3,
		"M": 6, "MΩ": 6, "Mohm": 6, "MOhm": 6, "MOHM": 6, "Mohms": 6, "M ohm": 6, "M ohms": 6,
		"meg": 6, "Meg": 6, "MEG": 6, "megohm": 6, "Megohm": 6, "MEGOHM": 6, "megohms": 6, "Megohms": 6,
		"G": 9, "GΩ": 9, "Gohm": 9,
		"mΩ": -3, "mohm": -3, "mOhm": -3, "mohms": -3, "mOhms": -3, "milliohm": -3, "milliohms": -3,
	},
	doubts: map[string]string{
		"m": "has an m, which may be milliohms or megohms; write M, or the value in Ω",
		"E": "has an E, which may be an exponent or a decimal sign; write R",
	},
}

var volts = kind{
	noun: "voltage", expected: "a number of volts, such as 450 V, 6V3 or 1.5 kV",
	letters: map[string]int{"V": 0, "v": 0, "k": 3, "K": 3},
	ends:    []string{"V", "v", "VDC", "Vdc", "DC"},
	suffixes: map[string]int{
		"": 0, "V": 0, "v": 0, "volt": 0, "volts": 0, "Volt": 0, "Volts": 0, "VOLTS": 0,
		"VDC": 0, "Vdc": 0, "vdc": 0, "V DC": 0, "V dc": 0, "V=": 0, "WV": 0, "WVDC": 0, "W.V.": 0, "V.D.C.": 0, "DCWV": 0,
		"kV": 3, "KV": 3, "kv": 3, "k": 3, "kVDC": 3, "mV": -3,
	},
	doubts: map[string]string{
		"VAC": alternating, "Vac": alternating, "vac": alternating, "V AC": alternating, "V~": alternating, "V ac": alternating, "V a.c.": alternating,
		"M": "has an M where volts are expected; write the value in V or kV",
	},
}

const alternating = "is an alternating voltage, and a direct one is expected: the two are not rated alike"

var alternatingVolts = kind{
	noun: "alternating voltage", expected: "a number of volts RMS, such as 275 V AC or 275 V~",
	suffixes: map[string]int{
		"": 0, "V": 0, "v": 0, "volts": 0, "VAC": 0, "Vac": 0, "vac": 0, "V AC": 0, "V ac": 0, "V a.c.": 0, "V~": 0, "V ~": 0, "~": 0,
		"Vrms": 0, "VRMS": 0, "V RMS": 0, "V rms": 0, "kV": 3, "kVAC": 3, "kV AC": 3,
	},
	doubts: map[string]string{"VDC": direct, "Vdc": direct, "vdc": direct, "V DC": direct, "V dc": direct, "V=": direct, "WVDC": direct, "DCWV": direct},
}

const direct = "is a direct voltage, and an alternating one is expected: the two are not rated alike"

var amperes = kind{
	noun: "current", expected: "a number with its unit, such as 240 mA or 1.2 A", zero: true,
	suffixes: map[string]int{
		"A": 0, "a": 0, "Arms": 0, "ARMS": 0, "A rms": 0, "A RMS": 0, "amp": 0, "amps": 0, "Amps": 0,
		"mA": -3, "ma": -3, "mArms": -3, "mARMS": -3, "mA rms": -3, "mA RMS": -3,
		"µA": -6, "uA": -6, "ua": -6, "µa": -6, "nA": -9,
	},
	doubts: map[string]string{"MA": "has MA, which are megaamperes as it stands; write mA", "m": "has an m without its unit; write mA"},
}

var hertz = kind{
	noun: "frequency", expected: "a number of hertz, such as 120 Hz or 10 kHz", zero: true,
	suffixes: map[string]int{"": 0, "Hz": 0, "hz": 0, "HZ": 0, "c/s": 0, "kHz": 3, "KHz": 3, "khz": 3, "MHz": 6},
}

// An inch is 25.4 mm exactly (international yard and pound agreement, 1959).
var inch = multiple{power: -3, factor: 25.4}

var metres = kind{
	noun: "length", expected: "a number with its unit, such as 25 mm or 2.5 cm",
	suffixes: map[string]int{"mm": -3, "MM": -3, "Mm": -3, "cm": -2, "m": 0, "µm": -6},
	factors:  map[string]multiple{"in": inch, "in.": inch, "inch": inch, "inches": inch, "\"": inch, "″": inch, "”": inch},
}

var hours = kind{
	noun: "time", expected: "a number of hours, such as 5000 h", zero: true,
	suffixes: map[string]int{"": 0, "h": 0, "H": 0, "hr": 0, "hrs": 0, "Hrs": 0, "hr.": 0, "hrs.": 0, "hour": 0, "hours": 0, "Hours": 0, "Std": 0, "Std.": 0, "kh": 3},
}

var days = kind{
	noun: "time", expected: "a number of days, such as 3 days or 2 weeks", zero: true,
	suffixes: map[string]int{"": 0, "d": 0, "D": 0, "day": 0, "days": 0, "Days": 0, "Tag": 0, "Tage": 0, "T": 0, "jour": 0, "jours": 0, "j": 0},
	factors: map[string]multiple{"week": {factor: 7}, "weeks": {factor: 7}, "Weeks": {factor: 7}, "wk": {factor: 7}, "wks": {factor: 7},
		"Woche": {factor: 7}, "Wochen": {factor: 7}, "semaine": {factor: 7}, "semaines": {factor: 7}},
}

var celsius = kind{
	noun: "temperature", expected: "a number of degrees Celsius, such as 105 °C or -40 °C", zero: true, negative: true,
	suffixes: map[string]int{"": 0, "°C": 0, "° C": 0, "°c": 0, "C": 0, "c": 0, "degC": 0, "deg C": 0, "deg. C": 0, "°": 0, "ºC": 0},
	doubts:   map[string]string{"°F": fahrenheit, "F": fahrenheit, "K": "has K where °C are expected; write °C"},
}

const fahrenheit = "is in Fahrenheit, and degrees Celsius are expected"

var kelvin = kind{
	noun: "difference of temperatures", expected: "a number of kelvin, such as 5 K", zero: true,
	suffixes: map[string]int{"": 0, "K": 0, "°C": 0, "C": 0},
}

var percent = kind{
	noun: "percentage", expected: "a number of per cent, such as 20 %", zero: true,
	suffixes: map[string]int{"": 0, "%": 0, "pct": 0, "percent": 0, "per cent": 0},
}

var ones = kind{
	noun: "number", expected: "a number, such as 25 or 0.15", zero: true,
	suffixes: map[string]int{"": 0, "pcs": 0, "pcs.": 0, "pc": 0, "pieces": 0, "ea": 0, "Stk": 0, "Stk.": 0, "Stück": 0, "St.": 0, "pièces": 0, "%": -2},
}

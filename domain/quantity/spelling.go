package quantity

// letters stand for the decimal sign (IEC 60062): the power of ten of each.
var letters = map[Unit]map[string]int{
	Farad: {"p": -12, "P": -12, "n": -9, "N": -9, "µ": -6, "u": -6, "U": -6, "F": 0},
	Ohm:   {"R": 0, "r": 0, "Ω": 0, "k": 3, "K": 3, "M": 6, "G": 9},
	Volt:  {"V": 0, "v": 0, "k": 3, "K": 3},
}

// ends may follow such a value: 4n7F, 4k7Ω.
var ends = map[Unit][]string{
	Farad: {"F", "f", "Fd", "FD", "fd"},
	Ohm:   {"Ω", "ohm", "Ohm", "OHM", "ohms", "Ohms", "OHMS"},
	Volt:  {"V", "v", "VDC", "Vdc", "DC"},
}

// suffixes follow a number: the power of ten of each. MFD and MMFD are the old
// American markings, in which M is micro; no megafarad was ever meant.
var suffixes = map[Unit]map[string]int{
	Farad: {
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
	Ohm: {
		"": 0, "R": 0, "r": 0, "Ω": 0, "ohm": 0, "Ohm": 0, "OHM": 0, "ohms": 0, "Ohms": 0, "OHMS": 0,
		"k": 3, "K": 3, "kΩ": 3, "KΩ": 3, "kohm": 3, "kOhm": 3, "Kohm": 3, "KOHM": 3, "kohms": 3, "k ohm": 3, "k ohms": 3, "K ohms": 3,
		"M": 6, "MΩ": 6, "Mohm": 6, "MOhm": 6, "MOHM": 6, "Mohms": 6, "M ohm": 6, "M ohms": 6,
		"meg": 6, "Meg": 6, "MEG": 6, "megohm": 6, "Megohm": 6, "MEGOHM": 6, "megohms": 6, "Megohms": 6,
		"G": 9, "GΩ": 9, "Gohm": 9,
	},
	Volt: {
		"": 0, "V": 0, "v": 0, "volt": 0, "volts": 0, "Volt": 0, "Volts": 0, "VOLTS": 0,
		"VDC": 0, "Vdc": 0, "vdc": 0, "V DC": 0, "V dc": 0, "V=": 0, "WV": 0, "WVDC": 0, "W.V.": 0, "V.D.C.": 0, "DCWV": 0,
		"kV": 3, "KV": 3, "kv": 3, "k": 3, "kVDC": 3, "mV": -3,
	},
}

var legacySuffixes = map[Unit]map[string]int{
	Farad: {"mF": -6, "mf": -6, "M": -6, "m": -6, "mf.": -6},
}

var legacyLetters = map[Unit]map[string]int{
	Farad: {"M": -6, "m": -6},
}

const millifarad = "may be microfarads, as old markings have it, or millifarads; write µF, or declare legacy units"

// doubts explain the refusal of what may mean two values.
var doubts = map[Unit]map[string]string{
	Farad: {
		"mF": millifarad, "mf": millifarad, "mf.": millifarad, "m": millifarad,
		"M": "has a bare M, which may be microfarads, as old markings have it, or a tolerance of 20 %; write µF, or declare legacy units",
		"K": "has a K, which may be thousands of pF or a tolerance of 10 %; write nF",
		"k": "has a k, which may be thousands of pF or a tolerance of 10 %; write nF",
	},
	Ohm: {
		"m": "has an m, which may be milliohms or megohms; write M, or the value in Ω",
		"E": "has an E, which may be an exponent or a decimal sign; write R",
	},
	Volt: {
		"VAC": alternating, "Vac": alternating, "vac": alternating, "V AC": alternating, "V~": alternating, "V ac": alternating,
		"M": "has an M where volts are expected; write the value in V or kV",
	},
}

const alternating = "is an alternating voltage, and a direct one is expected: the two are not rated alike"

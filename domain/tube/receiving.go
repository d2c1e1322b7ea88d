package tube

// Times of warm-up, s: common practice. Small output tubes conduct after
// about 11 s, as do the types with controlled warm-up (11 s on average, from
// memory of JEDEC's definition); large ones, with two to three times the
// heater power, take longer. No maker's figure was found for the plain types.
const (
	// SmallFromS to SmallToS serve any small tube, listed or not.
	SmallFromS, SmallToS             = 9.0, 14.0
	SmallLatestFromS, SmallLatestToS = 11.0, 17.0
	outputFrom, outputTo             = 8.5, 13.5
	outputLatestFrom, outputLatestTo = 11, 17
	largeFrom, largeTo               = 10, 16
	largeLatestFrom, largeLatestTo   = 13, 20
	receivingSource                  = handbook + "; idle current and warm-up: common practice"
)

// receiving, by designation. Where a type was rated both by design centre and
// by design maximum, or differently by makers, the lower figure stands.
var receiving = []Receiving{
	output("6V6GT", 315, 12, 285, 2, 38, "6V6", "6V6G", "6V6GTA"),
	output("6K6GT", 315, 8.5, 285, 2.8, 30, "6K6", "6K6G"),
	output("6F6GT", 375, 11, 285, 3.75, 34, "6F6", "6F6G"),
	output("EL84", 300, 12, 300, 2, 36, "6BQ5"),
	output("6AQ5", 250, 12, 250, 2, 38, "EL90", "6AQ5A"),
	output("ECL82", 0, 7, 300, 1.8, 30, "6BM8"),
	output("ECL86", 300, 9, 300, 1.8, 34, "6GW8"),
	large("EL34", 800, 25, 500, 8, 38, "6CA7"),
	large("6L6GC", 500, 30, 450, 5, 38),
	large("6L6G", 360, 19, 270, 2.5, 40, "6L6", "6L6GB"),
	large("5881", 400, 23, 400, 3, 35, "6L6WGB"),
	large("6550", 600, 35, 400, 6, 50),
	large("KT66", 500, 25, 0, 3.5, 45),
	large("KT88", 800, 35, 600, 6, 50),
	large("7591", 550, 19, 440, 3.3, 33, "7591A"),
	small("12AX7", 300, 1, 2, "ECC83", "12AX7A", "7025", "E83CC"),
	small("12AT7", 300, 2.5, 6, "ECC81", "6201"),
	small("12AU7", 300, 2.75, 6, "ECC82", "12AU7A", "5814A"),
	small("12AY7", 300, 1.5, 4, "6072"),
	small("6SN7GT", 300, 2.5, 6, "6SN7", "6SN7GTA", "6SN7GTB"),
	small("6SL7GT", 300, 1, 2, "6SL7"),
	small("ECC88", 130, 1.8, 12, "6DJ8"),
	small("EF86", 300, 1, 1.5, "6267"),
	small("5751", 0, 0, 2),
}

func output(name string, plateV, plateW, screenV, screenW, idleMA float64, also ...string) Receiving {
	return Receiving{
		Type: name, also: also, Kind: Output, MaxPlateV: plateV, MaxPlateW: plateW,
		MaxScreenV: screenV, MaxScreenW: screenW, TypicalIdleMA: idleMA,
		WarmFromS: outputFrom, WarmToS: outputTo, LatestFromS: outputLatestFrom, LatestToS: outputLatestTo,
		Source: receivingSource, FromMemory: true,
	}
}

func large(name string, plateV, plateW, screenV, screenW, idleMA float64, also ...string) Receiving {
	r := output(name, plateV, plateW, screenV, screenW, idleMA, also...)
	r.WarmFromS, r.WarmToS, r.LatestFromS, r.LatestToS = largeFrom, largeTo, largeLatestFrom, largeLatestTo
	return r
}

func small(name string, plateV, plateW, idleMA float64, also ...string) Receiving {
	return Receiving{
		Type: name, also: also, Kind: Small, MaxPlateV: plateV, MaxPlateW: plateW, TypicalIdleMA: idleMA,
		WarmFromS: SmallFromS, WarmToS: SmallToS, LatestFromS: SmallLatestFromS, LatestToS: SmallLatestToS,
		Source: receivingSource, FromMemory: true,
	}
}

package tube

// Times of warm-up, s. Common practice, but for those published for the EZ40
// and EZ41 (tubeofile.com/api/tubes/EZ40 and /EZ41: about 35 s and about 22 s):
// a directly heated rectifier conducts after a second or two, an indirectly
// heated one after 8 to 20 s. The published figure is taken as the middle of
// the rise, and a start a fifth faster as the earliest.
const (
	directFrom, directTo                   = 0.7, 2.5
	directEarliestFrom, directEarliestTo   = 0.3, 1.5
	sleevedFrom, sleevedTo                 = 9, 16
	sleevedEarliestFrom, sleevedEarliestTo = 7, 12
	slowFrom, slowTo                       = 12, 20
	slowEarliestFrom, slowEarliestTo       = 9, 15
	ez41From, ez41To                       = 18, 26
	ez41EarliestFrom, ez41EarliestTo       = 14.5, 21
	ez40From, ez40To                       = 30, 40
	ez40EarliestFrom, ez40EarliestTo       = 24, 32
)

const (
	database = "secondary transcription of maker's sheets, tubeofile.com/api/tubes/"
	handbook = "from memory: RCA RC-30, GE Essential Characteristics, Philips and Mullard sheets"
)

// rectifiers, by designation. Where sources differ the more careful figure stands.
var rectifiers = []Rectifier{
	{
		Type: "5Y3GT", also: []string{"5Y3", "5Y3G", "80"}, Heating: Direct, Plates: 2,
		DropV: 60, DropMA: 125, MaxFirstUF: 20, MaxPeakMA: 440, MaxDCMA: 125, PIV: 1400, MaxPlateV: 350, MinSourceOhm: 50,
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source:     database + "5Y3 (125 mA, 60 V, 20 µF); peak current, inverse voltage and source resistance " + handbook,
		FromMemory: true,
	},
	{
		Type: "5Z4G", also: []string{"5Z4", "5Z4GT", "GZ30"}, Heating: Indirect, Plates: 2,
		DropV: 20, DropMA: 125, MaxPeakMA: 375, MaxDCMA: 125, PIV: 1400, MaxPlateV: 350,
		WarmFromS: sleevedFrom, WarmToS: sleevedTo, EarliestFromS: sleevedEarliestFrom, EarliestToS: sleevedEarliestTo,
		Source: handbook, FromMemory: true,
	},
	{
		Type: "5U4G", also: []string{"5U4"}, Heating: Direct, Plates: 2,
		DropV: 44, DropMA: 225, MaxFirstUF: 40, MaxDCMA: 225, PIV: 1550, MaxPlateV: 450,
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source: "drop and 40 µF: monoandstereo.com/2021/05/tube-of-month-5u4.html and " + database +
			"5Z3P; direct current, inverse voltage and plate volts " + handbook + "; peak current left out, sources differ",
		FromMemory: true,
	},
	{
		Type: "5U4GB", also: []string{"5AS4", "5AS4A"}, Heating: Direct, Plates: 2,
		DropV: 50, DropMA: 275, MaxFirstUF: 40, MaxPeakMA: 1000, MaxDCMA: 300, PIV: 1550, MaxPlateV: 550, MinSourceOhm: 97,
		source:    []sourcePoint{{300, 21}, {450, 67}, {550, 97}},
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source: handbook, FromMemory: true, FirstFromMemory: true,
	},
	{
		Type: "GZ34", also: []string{"5AR4"}, Heating: Indirect, Plates: 2,
		DropV: 17, DropMA: 225, MaxFirstUF: 60, MaxPeakMA: 750, MaxDCMA: 250, PIV: 1500, MaxPlateV: 550, MinSourceOhm: 200,
		source:    []sourcePoint{{300, 75}, {350, 100}, {400, 125}, {450, 150}, {500, 175}, {550, 200}},
		WarmFromS: sleevedFrom, WarmToS: sleevedTo, EarliestFromS: sleevedEarliestFrom, EarliestToS: sleevedEarliestTo,
		Source: "60 µF: " + database + "GZ37; all else " + handbook, FromMemory: true,
	},
	{
		Type: "5V4GA", also: []string{"5V4", "5V4G"}, Heating: Indirect, Plates: 2,
		DropV: 25, DropMA: 175, MaxPeakMA: 525, MaxDCMA: 175, PIV: 1400, MaxPlateV: 375, MinSourceOhm: 100,
		WarmFromS: slowFrom, WarmToS: slowTo, EarliestFromS: slowEarliestFrom, EarliestToS: slowEarliestTo,
		Source: handbook, FromMemory: true,
	},
	{
		Type: "5T4", Heating: Direct, Plates: 2,
		DropV: 45, DropMA: 225, MaxFirstUF: 40, MaxDCMA: 225, MaxPlateV: 450, MinSourceOhm: 150,
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source: database + "5T4",
	},
	{
		Type: "5R4GY", also: []string{"5R4", "5R4G"}, Heating: Direct, Plates: 2,
		DropV: 67, DropMA: 250, MaxFirstUF: 4, MaxDCMA: 250, PIV: 2800, MinSourceOhm: 250,
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source: database + "5R4 (inverse voltage at 150 mA; 2100 V at 250 mA)",
	},
	{
		Type: "5CU4", Heating: Indirect, Plates: 2,
		DropV: 20, DropMA: 385, MaxDCMA: 425,
		WarmFromS: slowFrom, WarmToS: slowTo, EarliestFromS: slowEarliestFrom, EarliestToS: slowEarliestTo,
		Source: database + "5CU4",
	},
	{
		Type: "GZ37", Heating: Indirect, Plates: 2,
		// No drop was found in print: the point lies on the 5V4GA's law, the next tube in its line.
		DropV: 32, DropMA: 250, MaxFirstUF: 4, MaxDCMA: 250, PIV: 1600, MinSourceOhm: 75,
		WarmFromS: slowFrom, WarmToS: slowTo, EarliestFromS: slowEarliestFrom, EarliestToS: slowEarliestTo,
		Source:     database + "GZ37; drop not published there: estimated by the law of the 5V4GA, which is from memory",
		FromMemory: true,
	},
	{
		Type: "EZ40", Heating: Indirect, Plates: 2,
		DropV: 22, DropMA: 90, MaxFirstUF: 50, MaxDCMA: 90, PIV: 990, MaxPlateV: 350, MinSourceOhm: 300,
		source:    ez40Source,
		WarmFromS: ez40From, WarmToS: ez40To, EarliestFromS: ez40EarliestFrom, EarliestToS: ez40EarliestTo,
		Source: database + "EZ40, from the Philips sheet; drop fitted to its table of output voltages; inverse voltage 2√2 × 350 V",
	},
	{
		Type: "EZ80", also: []string{"6V4"}, Heating: Indirect, Plates: 2,
		DropV: 22, DropMA: 90, MaxFirstUF: 50, MaxDCMA: 90, PIV: 990, MaxPlateV: 350, MinSourceOhm: 300,
		source:    ez40Source,
		WarmFromS: ez40From, WarmToS: ez40To, EarliestFromS: ez40EarliestFrom, EarliestToS: ez40EarliestTo,
		Source: database + "EZ40, which calls the ratings identical",
	},
	{
		Type: "EZ81", also: []string{"6CA4"}, Heating: Indirect, Plates: 2,
		DropV: 20, DropMA: 150, MaxFirstUF: 50, MaxPeakMA: 450, MaxDCMA: 160, PIV: 1000, MaxPlateV: 350, MinSourceOhm: 240,
		source:    []sourcePoint{{250, 150}, {350, 240}},
		WarmFromS: sleevedFrom, WarmToS: sleevedTo, EarliestFromS: sleevedEarliestFrom, EarliestToS: sleevedEarliestTo,
		Source: handbook, FromMemory: true, FirstFromMemory: true,
	},
	{
		Type: "6X4", also: []string{"EZ90"}, Heating: Indirect, Plates: 2,
		DropV: 22, DropMA: 70, MaxPeakMA: 210, MaxDCMA: 70, PIV: 1250, MaxPlateV: 325, MinSourceOhm: 525,
		WarmFromS: sleevedFrom, WarmToS: sleevedTo, EarliestFromS: sleevedEarliestFrom, EarliestToS: sleevedEarliestTo,
		Source:     database + "6X4, which cites GE and RCA sheets; peak current and inverse voltage " + handbook,
		FromMemory: true,
	},
	{
		Type: "6X5GT", also: []string{"6X5", "6X5G"}, Heating: Indirect, Plates: 2,
		DropV: 22, DropMA: 70, MaxPeakMA: 210, MaxDCMA: 70, PIV: 1250, MaxPlateV: 325, MinSourceOhm: 525,
		WarmFromS: sleevedFrom, WarmToS: sleevedTo, EarliestFromS: sleevedEarliestFrom, EarliestToS: sleevedEarliestTo,
		Source: handbook, FromMemory: true,
	},
	{
		Type: "EZ41", Heating: Indirect, Plates: 2,
		DropV: 15, DropMA: 60, MaxFirstUF: 32, MaxDCMA: 60, MaxPlateV: 250, MinSourceOhm: 300,
		WarmFromS: ez41From, WarmToS: ez41To, EarliestFromS: ez41EarliestFrom, EarliestToS: ez41EarliestTo,
		Source: database + "EZ41 (source resistance as for 32 µF)",
	},
	{
		Type: "AZ1", Heating: Direct, Plates: 2,
		DropV: 28, DropMA: 60, MaxFirstUF: 60, MaxDCMA: 100, MaxPlateV: 500,
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source: database + "AZ1 (direct current at 2 × 300 V, by 2·V·I ≤ 60 000 V mA)",
	},
	{
		Type: "AZ41", Heating: Direct, Plates: 2,
		DropV: 23, DropMA: 35, MaxFirstUF: 50, MaxDCMA: 70, MaxPlateV: 500, MinSourceOhm: 200,
		source:    []sourcePoint{{300, 100}, {400, 150}, {500, 200}},
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source: database + "AZ41",
	},
	{
		Type: "81", Heating: Direct, Plates: 1,
		DropV: 91, DropMA: 170, MaxDCMA: 85, MaxPlateV: 700,
		WarmFromS: directFrom, WarmToS: directTo, EarliestFromS: directEarliestFrom, EarliestToS: directEarliestTo,
		Source: database + "81 (a pair: 700 V, 170 mA)",
	},
}

var ez40Source = []sourcePoint{{250, 125}, {275, 175}, {300, 215}, {350, 300}}

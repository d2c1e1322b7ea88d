package derate

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// Limits of end of life. C down by more than 30 %, or ESR up by more than three
// times: IEC 60384-4-1 and Vishay 056/057 PSM-SI, table 5, useful life. Down by
// 20 % or up twice is where design ends, often quoted (secondary text).
const (
	endOfLifeC   = 0.70
	endOfDesignC = 0.80
	endOfLifeESR = 3
	endOfDesESR  = 2

	sourceEndOfLife = "IEC 60384-4-1 endurance (secondary text) and Vishay 056/057 PSM-SI, table 5, useful life: C down 30 %, ESR three times"
	sourceDesign    = "end of life often quoted for design: C down 20 %, ESR twice (secondary text)"
	sourceOneKHz    = "an electrolytic reads some 10 % low at 1 kHz and some 10 % high at DC (secondary text)"
)

// truthOf brackets the value at 100 or 120 Hz that a reading stands for: "about
// 10 %" is no exact factor, so both ends are kept. hi is infinite above 1 kHz,
// where nothing is published.
func truthOf(read float64, hz *float64) (lo, hi float64) {
	switch {
	case hz == nil:
		return read, read / 0.9 // most meters read at or below 1 kHz
	case *hz < 100:
		return read / 1.1, read
	case *hz <= 120:
		return read, read
	case *hz > 1000:
		return read, math.Inf(1)
	}
	return read, read / (1 - 0.1*math.Log(*hz/120)/math.Log(1000./120))
}

// capacitanceSign holds the capacitance as read against the marked value.
func capacitanceSign(e *Examined, r *amp.Readings) Sign {
	marked, read := e.Fitted.CapacitanceUF, *r.CapacitanceUF
	lo, hi := truthOf(read, r.CapacitanceHz)
	if !isElectrolytic(e.Role) {
		return plainCapacitance(read, marked)
	}
	s := Sign{Name: "capacitance", Verdict: CondKeep, Have: read, Limit: endOfLifeC * marked, Unit: "µF", Source: sourceEndOfLife}
	s.Text = fmt.Sprintf("capacitance reads %s of %s (%.0f %%)", microfarad(read), microfarad(marked), 100*read/marked)
	plus := 50.0 // old cans were sold to +50 %, and an old part states nothing
	if e.Fitted.TolPlusPct != nil {
		plus = *e.Fitted.TolPlusPct
	}
	switch {
	case hi < endOfLifeC*marked:
		s.Verdict = CondReplace
		s.Text += ", down by more than 30 %"
	case lo < endOfLifeC*marked:
		s.Verdict, s.Source = CondSuspect, sourceEndOfLife+"; "+sourceOneKHz
		s.Text += ", which at the frequency it was read at may or may not be 30 % down"
		s.Next = fmt.Sprintf("read its capacitance at 100 or 120 Hz: below %s it goes", microfarad(endOfLifeC*marked))
	case hi < endOfDesignC*marked:
		s.Verdict, s.Limit, s.Source = CondSuspect, endOfDesignC*marked, sourceDesign
		s.Text += ", down by more than 20 %"
		s.Next = fmt.Sprintf("read its capacitance at 100 or 120 Hz again after an hour at working voltage: below %s it goes", microfarad(endOfLifeC*marked))
	case lo > (1+plus/100)*marked:
		s.Verdict, s.Limit, s.Source = CondSuspect, (1+plus/100)*marked, "common practice: a leaky capacitor reads high on a meter"
		s.Text += fmt.Sprintf(", above its upper tolerance of %.0f %%", plus)
		s.Next = "read its leakage at working voltage: a leaky capacitor reads high"
	}
	return s
}

// plainCapacitance is that of a film or mains capacitor.
func plainCapacitance(read, marked float64) Sign {
	s := Sign{Name: "capacitance", Verdict: CondKeep, Have: read, Limit: 0.8 * marked, Unit: "µF", Source: "common practice: within 20 % of its marking"}
	s.Text = fmt.Sprintf("capacitance reads %s of %s (%.0f %%)", microfarad(read), microfarad(marked), 100*read/marked)
	if read < 0.8*marked || read > 1.2*marked {
		s.Verdict, s.Text = CondSuspect, s.Text+", more than 20 % off"
		s.Next = "read its leakage at its working voltage, with the other side at chassis: below 100 MΩ it goes"
	}
	return s
}

// markedTanDelta is the loss factor that limits what ESR is called sound: the
// highest of the published axial table (Vishay ASH), twice that up to 100 V,
// where thin foils lose more (common practice).
func markedTanDelta(ratedV float64) float64 {
	if ratedV > lowVolts {
		return 0.10
	}
	return 0.20
}

// esrSign holds the ESR against tan δ/(2πfC) of the marking at 100 Hz, carried
// to the frequency it was read at by the published ripple factors: heat I²·ESR
// is alike at each, so ESR goes as 1/k².
func esrSign(e *Examined, r *amp.Readings) Sign {
	at100 := markedTanDelta(e.Fitted.RatedV) / (2 * math.Pi * 100 * e.Fitted.CapacitanceUF * 1e-6)
	table := part.PublishedFrequency(e.Fitted.RatedV)
	low, high := 1., at100 // sound ESR: least and most at the frequencies it may have been read at
	if r.ESRHz != nil {
		k := table.At(*r.ESRHz)
		low, high = at100/(k*k), at100/(k*k)
	} else {
		k := table.At(1e5)
		low = at100 / (k * k)
	}
	read := *r.ESROhm
	s := Sign{Name: "esr", Verdict: CondKeep, Have: read, Limit: endOfLifeESR * high, Unit: "Ω", Source: sourceEndOfLife +
		"; sound ESR from tan δ 0.10 (Vishay ASH; 0.20 up to 100 V, common practice), by frequency as Vishay PSM-SI, table 4"}
	s.Text = fmt.Sprintf("ESR reads %.3g Ω; up to %.3g Ω is sound", read, high)
	switch {
	case read > endOfLifeESR*high:
		s.Verdict, s.Text = CondReplace, s.Text+", and this is more than three times that"
	case read > endOfDesESR*low:
		s.Verdict, s.Limit = CondSuspect, endOfDesESR*low
		s.Text += ", and this may be more than twice that"
		s.Next = fmt.Sprintf("read the ESR of a new part of %s and %.0f V on the same meter: above three times that it goes", microfarad(e.Fitted.CapacitanceUF), e.Fitted.RatedV)
	}
	return s
}

// reformedMin is after how many minutes at rated volts a leakage counts as
// formed again (Vishay PSM-SI, table 5: 30 min).
const reformedMin = 30

// leakageSign holds an electrolytic's leakage against what makers allow a new
// one, and against the old bench limit that condemns.
func leakageSign(e *Examined, r *amp.Readings) Sign {
	f, read, at := e.Fitted, *r.LeakageUA, *r.LeakageV
	celsius, minutes := 20.0, 0.0
	if r.LeakageC != nil {
		celsius = *r.LeakageC
	}
	if r.LeakageMin != nil {
		minutes = *r.LeakageMin
	}
	scale := leakageAt(at/f.RatedV, celsius)
	law, source := NewLeakage(f.RatedV, minutes)
	sound, most := scale*law.UA(f.CapacitanceUF, f.RatedV), scale*VintageLeakageUA(f.CapacitanceUF, f.RatedV)
	s := Sign{Name: "leakage", Verdict: CondKeep, Have: read, Limit: sound, Unit: "µA", Source: source}
	s.Text = fmt.Sprintf("it leaks %s at %.0f V", microamp(read), at)
	if minutes >= reformedMin {
		most, s.Source = math.Min(most, 2*sound), sourceShelf
	}
	switch {
	case read > most:
		s.Verdict, s.Limit = CondReplace, most
		if minutes > 0 {
			s.Text += fmt.Sprintf(" after %.0f min", minutes)
		}
		s.Text += fmt.Sprintf("; %s is the most", microamp(most))
		if minutes < reformedMin {
			s.Source = sourceVintage
		}
	case at < 0.7*f.RatedV && at < e.WorkingV*(1-1e-9):
		s.Verdict = CondUnread
		s.Text += ", far below what it works at, so it says nothing yet"
		s.Next = fmt.Sprintf("read its leakage at %.0f V or more", math.Min(e.WorkingV, f.RatedV))
	case read > sound && minutes < reformedMin:
		s.Verdict = CondSuspect
		s.Text += fmt.Sprintf("; a new one leaks %s at most", microamp(sound))
		after, _ := NewLeakage(f.RatedV, reformedMin)
		s.Next = fmt.Sprintf("reform it for %d min and more, out of the amplifier, under cover, through %.0f kΩ and at 1 mA at most (CDE 1993), then read again at the same volts: above %s it goes",
			reformedMin, gentleOhm(f.RatedV)/1000, microamp(2*scale*after.UA(f.CapacitanceUF, f.RatedV)))
	}
	return s
}

// noLeakMOhm is where no bench meter shows a leakage any more.
const noLeakMOhm = 1e6

// insulationSign is the leakage of a film or mains capacitor, as insulation.
func insulationSign(e *Examined, r *amp.Readings) Sign {
	const least, sound = 100.0, 1000.0                         // MΩ
	megohm := math.Min(*r.LeakageV / *r.LeakageUA, noLeakMOhm) // infinite at no leakage
	s := Sign{Name: "leakage", Verdict: CondKeep, Have: megohm, Limit: least, Unit: "MΩ",
		Source: "common practice: a grid resistor of some hundred kΩ behind it shifts by volts below 100 MΩ"}
	s.Text = fmt.Sprintf("it insulates %.3g MΩ at %.0f V", megohm, *r.LeakageV)
	if megohm == noLeakMOhm {
		s.Text = fmt.Sprintf("it shows no leakage at %.0f V", *r.LeakageV)
	}
	switch {
	case megohm < least:
		s.Verdict, s.Text = CondReplace, s.Text+"; 100 MΩ is the least"
	case *r.LeakageV < 0.7*e.WorkingV:
		s.Verdict, s.Text = CondUnread, s.Text+", far below what it works at, so it says nothing yet"
		s.Next = fmt.Sprintf("read its leakage at %.0f V or more", math.Min(e.WorkingV, e.Fitted.RatedV))
	case megohm < sound:
		s.Verdict, s.Limit = CondSuspect, sound
		s.Text += ", less than a sound one's thousand"
		s.Next = "read the volts behind it with the amplifier on and the grid's resistor in place: any positive reading, and it goes"
	}
	return s
}

// microamp writes a leakage as a meter shows it.
func microamp(ua float64) string {
	if ua >= 1000 {
		return fmt.Sprintf("%.3g mA", ua/1000)
	}
	return fmt.Sprintf("%.3g µA", ua)
}

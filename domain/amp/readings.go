package amp

import (
	"fmt"
	"math"
	"time"

	"coldrise/domain/document"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// Readings is what was measured and seen of the capacitor in place, out of
// circuit. Its marking, the original value, stays in Fitted; nothing here
// changes what a replacement is held against.
type Readings struct {
	CapacitanceUF *float64 `json:"capacitance_uf,omitempty" unit:"µF" minimum:"0" maximum:"100000" doc:"Capacitance as read"`
	CapacitanceHz *float64 `json:"capacitance_hz,omitempty" unit:"Hz" minimum:"10" maximum:"1000000" doc:"Frequency it was read at: at 1 kHz an electrolytic reads some 10 % low"`
	ESROhm        *float64 `json:"esr_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"100000"`
	ESRHz         *float64 `json:"esr_hz,omitempty" unit:"Hz" minimum:"10" maximum:"1000000" doc:"Frequency the ESR was read at"`
	LeakageUA     *float64 `json:"leakage_ua,omitempty" unit:"µA" minimum:"0" maximum:"1000000" doc:"Leakage at leakage_v"`
	LeakageV      *float64 `json:"leakage_v,omitempty" unit:"V" minimum:"0.5" maximum:"10000" doc:"Volts the leakage was read at"`
	LeakageMin    *float64 `json:"leakage_min,omitempty" unit:"min" minimum:"0" maximum:"100000" doc:"Minutes at those volts before it was read"`
	LeakageC      *float64 `json:"leakage_c,omitempty" unit:"°C" minimum:"-40" maximum:"120" doc:"Temperature of the part then; default 20 °C"`
	Seen          []string `json:"seen,omitempty" enum:"bulge,vent_open,electrolyte,cracked" maxItems:"4" doc:"What the eye finds: a bulge, an open vent, electrolyte or other filling outside, a cracked body"`
	DateCode      string   `json:"date_code,omitempty" maxLength:"20" doc:"Date code as marked, such as 1208 or X5" example:"6744"`
	AgeYears      *float64 `json:"age_years,omitempty" unit:"a" minimum:"0" maximum:"120" doc:"Age where it is known otherwise"`
}

// condition wants figures that belong together to stand together.
func (c checker) condition(p *Position, at string) {
	f := p.Fitted
	if f == nil || f.Readings == nil {
		return
	}
	r, here := f.Readings, document.Under(at, "fitted", "readings")
	c.with(here, "capacitance_hz", r.CapacitanceHz != nil, "capacitance_uf", r.CapacitanceUF != nil)
	c.with(here, "esr_hz", r.ESRHz != nil, "esr_ohm", r.ESROhm != nil)
	c.with(here, "leakage_min", r.LeakageMin != nil, "leakage_ua", r.LeakageUA != nil)
	c.with(here, "leakage_c", r.LeakageC != nil, "leakage_ua", r.LeakageUA != nil)
	c.with(here, "leakage_v", r.LeakageV != nil, "leakage_ua", r.LeakageUA != nil)
	if r.LeakageUA != nil && r.LeakageV == nil {
		c.fault(document.Under(here, "leakage_v"), nil, "is required beside leakage_ua: a leakage without the volts it was read at says nothing")
	}
	c.leakageVolts(f, here)
	if r.LeakageUA != nil && f.LeakOhm != nil && p.Stack == 0 {
		c.fault(document.Under(here, "leakage_ua"), *r.LeakageUA, "stands beside leak_ohm, which is the leakage of the same capacitor: give one of them")
	}
	if r.DateCode == "" {
		return
	}
	if _, err := quantity.ParseDateCode(r.DateCode, time.Time{}); err != nil {
		c.dateCode(err, here)
	}
}

// with wants a member to stand beside the one it belongs to.
func (c checker) with(here, name string, given bool, other string, otherGiven bool) {
	if given && !otherGiven {
		c.fault(document.Under(here, name), nil, "stands without %s, to which it belongs", other)
	}
}

// leakageVolts refuses a leakage read above what the part may ever see.
func (c checker) leakageVolts(f *Fitted, here string) {
	if f.Readings.LeakageV == nil || f.RatedV <= 0 {
		return
	}
	most, of := f.RatedV*1.15, "1.15 × rated_v, the surge factor of IEC 60384-1"
	if f.SurgeV != nil {
		most, of = *f.SurgeV, "surge_v"
	}
	if v := *f.Readings.LeakageV; v > most*(1+1e-9) {
		c.faults.Add(problem.Fault{Pointer: document.Under(here, "leakage_v"), Value: jsonText(v), Unit: "V", Limit: fmt.Sprintf("at most %.6g", most),
			Message: "must not be above " + of + ": no leakage is read beyond it"})
	}
}

// dateCode moves the fault of a date code to its member.
func (c checker) dateCode(err error, here string) {
	for _, f := range problem.As(err).Faults {
		f.Pointer = document.Under(here, "date_code")
		c.faults.Add(f)
	}
}

// ageSlackYears is how far an age may lie from every reading of a date code
// before the two contradict each other: parts lie a while before they are
// fitted, and ages are told in round years. Common practice.
const ageSlackYears = 5

// CheckAges adds to l the dates that contradict the day it is, or each other:
// a date code in the future, an age that no reading of the code agrees with.
// Check can't know them, for it has no clock. A zero today finds nothing.
func (a *Amplifier) CheckAges(today time.Time, l *problem.List) {
	if today.IsZero() {
		return
	}
	c := checker{a: a, faults: l}
	for i := range a.Positions {
		f := a.Positions[i].Fitted
		if f == nil || f.Readings == nil || f.Readings.DateCode == "" {
			continue
		}
		r, here := f.Readings, document.Pointer("positions", i, "fitted", "readings")
		made, err := quantity.ParseDateCode(r.DateCode, today)
		if err != nil {
			c.dateCode(err, here)
			continue
		}
		if r.AgeYears == nil || agrees(made, *r.AgeYears, today) {
			continue
		}
		c.faults.Add(problem.Fault{Pointer: document.Under(here, "age_years"), Value: jsonText(*r.AgeYears), Unit: "a",
			Message: fmt.Sprintf("contradicts date_code, by which it is %.0f years old (%s)", made[0].Years(today), made[0].Text)})
	}
}

func agrees(made []quantity.Made, years float64, today time.Time) bool {
	for _, m := range made {
		if math.Abs(m.Years(today)-years) <= ageSlackYears {
			return true
		}
	}
	return false
}

// Age gives how old the capacitor is on a day, in years, and how that is known:
// the age as stated, else the oldest reading of its date code, with the others
// named. False where neither is known, or the code lies in the future.
func (r *Readings) Age(today time.Time) (years float64, how string, ok bool) {
	if r.AgeYears != nil {
		return *r.AgeYears, "as stated", true
	}
	if r.DateCode == "" || today.IsZero() {
		return 0, "", false
	}
	made, err := quantity.ParseDateCode(r.DateCode, today)
	if err != nil {
		return 0, "", false
	}
	return made[0].Years(today), quantity.Reads(r.DateCode, made), true
}

package derate

import (
	"coldrise/domain/document"
	"coldrise/domain/part"
)

// Default gives the policy a shop starts from.
func Default() Policy {
	return Policy{
		Name: "default",
		// Common practice of the trade. System Reliability Center "Part Derating
		// Parameters" asks 0.7 (severe) to 0.8 (benign) of equipment designed anew.
		WorkingShare: 0.9,
		// The surge test is 1000 times 30 s: under three years at a start a day.
		UseSurge: false,
		// Time of the IEC 60384-1 surge test (secondary text; RND data sheet: 30 ± 5 s).
		SurgeLimitS: 30,
		// The rated ripple current is what the life is rated at.
		RippleShare: 1,
		// Common practice: a little above a guitar's lowest note, 82 Hz. Low
		// frequencies heat an electrolytic most.
		SignalHz: 100,
		// Common practice: until the next overhaul, at a working musician's hours.
		LifeYears:    8,
		HoursPerWeek: 20,
		// Common practice: 1 dB is hardly heard; it lets 47 µF stand for 50 µF.
		HumAllowDB: 1,
		// Common practice: the next E6 value but one, 22 for 10 µF, 47 for 22 µF.
		MaxRatio: 2.2,
		// What is not known is held to be at its worst: common practice of safety work.
		UseHighEnd: true,
		// Common practice: a step of the offered ratings, 450 to 500 V.
		WidestPct: 11,
		// UL, household, earthed: 0.5 mA; ANSI C101 the same for two-wire sets.
		TouchMA: 0.5,
		// Common practice: about as long as it takes to open a chassis.
		DischargeS: 60,
		// CDE 1993: 10 years is the end of shelf life.
		StockYears: 10,
		// Common practice: a minute of picking and booking per line.
		LineCost: 1_500_000,
		Currency: "GBP",
	}
}

// Overrides is a policy of which only the members given differ from Default.
type Overrides struct {
	Name         *string     `json:"name,omitempty" minLength:"1" maxLength:"60"`
	WorkingShare *float64    `json:"working_share,omitempty" minimum:"0.3" maximum:"1" doc:"Share of the rated voltage that working voltage may reach"`
	UseSurge     *bool       `json:"use_surge,omitempty" doc:"Let a cold start pass the rated voltage up to surge, within surge_limit_s"`
	SurgeLimitS  *float64    `json:"surge_limit_s,omitempty" unit:"s" minimum:"0" maximum:"60"`
	RippleShare  *float64    `json:"ripple_share,omitempty" minimum:"0.1" maximum:"1" doc:"Share of the rated ripple current that may be used"`
	SignalHz     *float64    `json:"signal_hz,omitempty" unit:"Hz" minimum:"10" maximum:"20000" doc:"Signal frequency at full drive, for the audio-rate current of a class-AB stage"`
	LifeYears    *float64    `json:"life_years,omitempty" unit:"a" minimum:"0.5" maximum:"15" doc:"Least calculated life"`
	HoursPerWeek *float64    `json:"hours_per_week,omitempty" unit:"h" minimum:"1" maximum:"168"`
	HumAllowDB   *float64    `json:"hum_allow_db,omitempty" unit:"dB" minimum:"0" maximum:"20" doc:"Hum a replacement may add at its node, nominal to nominal"`
	MaxRatio     *float64    `json:"max_ratio,omitempty" minimum:"1" maximum:"10" doc:"Largest nominal value as a multiple of the original"`
	TouchMA      *float64    `json:"touch_ma,omitempty" unit:"mA" minimum:"0.05" maximum:"3.5" doc:"Touch current from line to chassis"`
	UseHighEnd   *bool       `json:"use_high_end,omitempty" doc:"Judge by the high end of each band instead of its likely value"`
	WidestPct    *float64    `json:"widest_pct,omitempty" unit:"%" minimum:"1" maximum:"100" doc:"How far the high end may lie above the likely cold voltage before nothing is bought for it"`
	DischargeS   *float64    `json:"discharge_s,omitempty" unit:"s" minimum:"1" maximum:"600" doc:"Seconds within which a proposed bleeder brings every node to 60 V"`
	StockYears   *float64    `json:"stock_years,omitempty" unit:"a" minimum:"0.5" maximum:"60" doc:"Storage beyond which an old part is refused"`
	ReplaceAll   *bool       `json:"replace_all,omitempty" doc:"Replace every electrolytic, fit or not"`
	LineCost     *part.Money `json:"line_cost,omitempty" doc:"Cost of handling one distinct order line"`
	Currency     *string     `json:"currency,omitempty" minLength:"3" maxLength:"3" pattern:"^[A-Z]{3}$" patternDescription:"three capital letters, ISO 4217" doc:"ISO 4217 code of the order"`
	Spare        *int        `json:"spare,omitempty" minimum:"0" maximum:"10" doc:"Spare parts per order line"`
}

// Apply gives p with the members that are given in place of its own.
func (o Overrides) Apply(p Policy) Policy {
	set(&p.Name, o.Name)
	set(&p.WorkingShare, o.WorkingShare)
	set(&p.UseSurge, o.UseSurge)
	set(&p.SurgeLimitS, o.SurgeLimitS)
	set(&p.RippleShare, o.RippleShare)
	set(&p.SignalHz, o.SignalHz)
	set(&p.LifeYears, o.LifeYears)
	set(&p.HoursPerWeek, o.HoursPerWeek)
	set(&p.HumAllowDB, o.HumAllowDB)
	set(&p.MaxRatio, o.MaxRatio)
	set(&p.TouchMA, o.TouchMA)
	set(&p.UseHighEnd, o.UseHighEnd)
	set(&p.WidestPct, o.WidestPct)
	set(&p.DischargeS, o.DischargeS)
	set(&p.StockYears, o.StockYears)
	set(&p.ReplaceAll, o.ReplaceAll)
	set(&p.LineCost, o.LineCost)
	set(&p.Currency, o.Currency)
	set(&p.Spare, o.Spare)
	return p
}

func set[T any](to *T, from *T) {
	if from != nil {
		*to = *from
	}
}

// ParsePolicy reads a policy document, strictly, over Default: a member left
// out keeps its default. The error is a *problem.Error: malformed, or invalid
// with all faults.
func ParsePolicy(data []byte) (Policy, error) {
	var o Overrides
	if err := document.Decode(data, &o, "policy", nil); err != nil {
		return Policy{}, err
	}
	return o.Apply(Default()), nil
}

package derate

import (
	"coldrise/domain/document"
	"coldrise/domain/part"
)

// Overrides is a policy of which only the members given differ from a named
// set, Default where From names none.
type Overrides struct {
	From               *string     `json:"from,omitempty" enum:"everyday,roadworthy,unattended,keepsake,thrifty" doc:"The named set of rules to start from; everyday where left out"`
	Name               *string     `json:"name,omitempty" minLength:"1" maxLength:"60"`
	WorkingShare       *float64    `json:"working_share,omitempty" minimum:"0.3" maximum:"1" doc:"Share of the rated voltage that working voltage may reach"`
	UseSurge           *bool       `json:"use_surge,omitempty" doc:"Let a cold start pass the rated voltage up to surge, within surge_limit_s"`
	SurgeLimitS        *float64    `json:"surge_limit_s,omitempty" unit:"s" minimum:"0" maximum:"60"`
	RippleShare        *float64    `json:"ripple_share,omitempty" minimum:"0.1" maximum:"1" doc:"Share of the rated ripple current that may be used"`
	SignalHz           *float64    `json:"signal_hz,omitempty" unit:"Hz" minimum:"10" maximum:"20000" doc:"Signal frequency at full drive, for the audio-rate current of a class-AB stage"`
	LifeYears          *float64    `json:"life_years,omitempty" unit:"a" minimum:"0.5" maximum:"15" doc:"Least calculated life"`
	HoursPerWeek       *float64    `json:"hours_per_week,omitempty" unit:"h" minimum:"1" maximum:"168"`
	HumAllowDB         *float64    `json:"hum_allow_db,omitempty" unit:"dB" minimum:"0" maximum:"20" doc:"Hum a replacement may add at its node, nominal to nominal"`
	MaxRatio           *float64    `json:"max_ratio,omitempty" minimum:"1" maximum:"10" doc:"Largest nominal value as a multiple of the original"`
	FullDriveShare     *float64    `json:"full_drive_share,omitempty" minimum:"0" maximum:"1" doc:"Share of the hours at full drive, for life; the rest idles"`
	TemperatureMarginK *float64    `json:"temperature_margin_k,omitempty" unit:"K" minimum:"0" maximum:"60" doc:"How far the air must stay below a part's max_c"`
	CathodeFaultRatio  *float64    `json:"cathode_fault_ratio,omitempty" minimum:"1" maximum:"20" doc:"Times its idle volts that a cathode bypass must hold; 1 asks no fault of it. A position's cathode_fault_v stands in its place"`
	TouchRule          *string     `json:"touch_rule,omitempty" enum:"by_region,ul_household,iec_60065,iec_60950_unearthed,iec_60950_hand_held,iec_60950_earthed" doc:"Whose limit of touch current holds; by_region: UL's up to 127 V nominal mains, IEC 60065's above"`
	TouchMA            *float64    `json:"touch_ma,omitempty" unit:"mA" minimum:"0.05" maximum:"3.5" doc:"Touch current from line to chassis in place of touch_rule's, RMS"`
	UseHighEnd         *bool       `json:"use_high_end,omitempty" doc:"Judge by the high end of each band instead of its likely value"`
	WidestPct          *float64    `json:"widest_pct,omitempty" unit:"%" minimum:"1" maximum:"100" doc:"How far the high end may lie above the likely cold voltage before nothing is bought for it"`
	DischargeS         *float64    `json:"discharge_s,omitempty" unit:"s" minimum:"1" maximum:"600" doc:"Seconds within which a proposed bleeder brings every node to 60 V"`
	StockYears         *float64    `json:"stock_years,omitempty" unit:"a" minimum:"0.5" maximum:"60" doc:"Storage beyond which an old part is refused"`
	ReplaceAll         *bool       `json:"replace_all,omitempty" doc:"Replace every electrolytic, fit or not"`
	Constructions      *string     `json:"constructions,omitempty" enum:"any,as_drawn" doc:"any: also stacks, parallel pairs and discrete parts where something else was drawn; as_drawn: a single part stays one, a stack a stack, a can a can"`
	SpareSections      *int        `json:"spare_sections,omitempty" minimum:"0" maximum:"5" doc:"Sections of a can that may stay open"`
	MountingCost       *part.Money `json:"mounting_cost,omitempty" doc:"Cost of mounting each piece more than was drawn, a balancing resistor too: a tag strip, a bracket, work"`
	LineCost           *part.Money `json:"line_cost,omitempty" doc:"Cost of handling one distinct order line"`
	Currency           *string     `json:"currency,omitempty" minLength:"3" maxLength:"3" pattern:"^[A-Z]{3}$" patternDescription:"three capital letters, ISO 4217" doc:"ISO 4217 code of the order"`
	Spare              *int        `json:"spare,omitempty" minimum:"0" maximum:"10" doc:"Spare parts per order line"`
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
	set(&p.FullDriveShare, o.FullDriveShare)
	set(&p.TemperatureMarginK, o.TemperatureMarginK)
	set(&p.CathodeFaultRatio, o.CathodeFaultRatio)
	set(&p.TouchRule, o.TouchRule)
	set(&p.TouchMA, o.TouchMA)
	set(&p.UseHighEnd, o.UseHighEnd)
	set(&p.WidestPct, o.WidestPct)
	set(&p.DischargeS, o.DischargeS)
	set(&p.StockYears, o.StockYears)
	set(&p.ReplaceAll, o.ReplaceAll)
	set(&p.Constructions, o.Constructions)
	set(&p.SpareSections, o.SpareSections)
	set(&p.MountingCost, o.MountingCost)
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

// Policy gives the named set o starts from with the members given in place of
// its own. A set that is changed is no longer that set: unless it is given a
// name, its name says so.
func (o Overrides) Policy() Policy {
	base := Default()
	if o.From != nil {
		if s, ok := SetNamed(*o.From); ok {
			base = s.Policy()
		}
	}
	p := o.Apply(base)
	if o.Name == nil && p != base {
		p.Name += ", changed"
	}
	return p
}

// ParsePolicy reads a policy document, strictly, over the set it names: a
// member left out keeps that set's. The error is a *problem.Error: malformed,
// or invalid with all faults.
func ParsePolicy(data []byte) (Policy, error) {
	var o Overrides
	if err := document.Decode(data, &o, "policy", nil); err != nil {
		return Policy{}, err
	}
	return o.Policy(), nil
}

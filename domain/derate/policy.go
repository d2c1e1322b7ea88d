package derate

import "coldrise/domain/part"

// Policy is a shop's derating rules, as data. The zero Policy is not usable;
// start from Default, or from another of Sets, and change what differs.
type Policy struct {
	Name string `json:"name" minLength:"1" maxLength:"60"`
	// WorkingShare of the rated voltage is what the steady DC and ripple peak may reach.
	WorkingShare float64 `json:"working_share" minimum:"0.3" maximum:"1" doc:"Share of the rated voltage that working voltage may reach"`
	// UseSurge lets the cold start stand between rated and surge voltage, within the surge test's 30 s.
	UseSurge     bool    `json:"use_surge" doc:"Let a cold start pass the rated voltage up to surge, within surge_limit_s"`
	SurgeLimitS  float64 `json:"surge_limit_s" unit:"s" minimum:"0" maximum:"60"`
	RippleShare  float64 `json:"ripple_share" minimum:"0.1" maximum:"1" doc:"Share of the rated ripple current that may be used"`
	SignalHz     float64 `json:"signal_hz" unit:"Hz" minimum:"10" maximum:"20000" doc:"Signal frequency at full drive, for the audio-rate current of a class-AB stage"`
	LifeYears    float64 `json:"life_years" unit:"a" minimum:"0.5" maximum:"15" doc:"Least calculated life"`
	HoursPerWeek float64 `json:"hours_per_week" unit:"h" minimum:"1" maximum:"168"`
	HumAllowDB   float64 `json:"hum_allow_db" unit:"dB" minimum:"0" maximum:"20" doc:"Hum a replacement may add at its node, nominal to nominal"`
	MaxRatio     float64 `json:"max_ratio" minimum:"1" maximum:"10" doc:"Largest nominal value as a multiple of the original"`
	// FullDriveShare is how much of its hours an amplifier is driven in full.
	FullDriveShare     float64 `json:"full_drive_share" minimum:"0" maximum:"1" doc:"Share of the hours at full drive, for life; the rest idles"`
	TemperatureMarginK float64 `json:"temperature_margin_k" unit:"K" minimum:"0" maximum:"60" doc:"How far the air must stay below a part's max_c"`
	// CathodeFaultRatio is how many times its idle volts a cathode bypass must
	// hold, for a tube that runs away; 1 asks nothing beyond high line.
	CathodeFaultRatio float64 `json:"cathode_fault_ratio" minimum:"1" maximum:"20" doc:"Times its idle volts that a cathode bypass must hold; 1 asks no fault of it. A position's cathode_fault_v stands in its place"`
	TouchRule         string  `json:"touch_rule" enum:"by_region,ul_household,iec_60065,iec_60950_unearthed,iec_60950_hand_held,iec_60950_earthed" doc:"Whose limit of touch current holds; by_region: UL's up to 127 V nominal mains, IEC 60065's above"`
	// TouchMA, where above 0, stands in place of the rule.
	TouchMA float64 `json:"touch_ma,omitempty" unit:"mA" minimum:"0.05" maximum:"3.5" doc:"Touch current from line to chassis in place of touch_rule's, RMS"`
	// UseHighEnd judges by the high end of each stress's band, where one was worked out.
	UseHighEnd bool `json:"use_high_end" doc:"Judge by the high end of each band instead of its likely value"`
	// WidestPct is how far the high end of a cold voltage may lie above its likely
	// value before measuring comes first and nothing is bought.
	WidestPct float64 `json:"widest_pct" unit:"%" minimum:"1" maximum:"100" doc:"How far the high end may lie above the likely cold voltage before nothing is bought for it"`
	// DischargeS is how long a proposed bleeder may take to bring every node to 60 V.
	DischargeS float64 `json:"discharge_s" unit:"s" minimum:"1" maximum:"600" doc:"Seconds within which a proposed bleeder brings every node to 60 V"`
	// StockYears is the longest storage, in years at 35 °C or below, after which a part is still used.
	StockYears float64 `json:"stock_years" unit:"a" minimum:"0.5" maximum:"60" doc:"Storage beyond which an old part is refused"`
	ReplaceAll bool    `json:"replace_all" doc:"Replace every electrolytic, fit or not"`
	// Constructions says whether parts may be put together otherwise than drawn.
	Constructions string `json:"constructions" enum:"any,as_drawn" doc:"any: also stacks, parallel pairs and discrete parts where something else was drawn; as_drawn: a single part stays one, a stack a stack, a can a can"`
	SpareSections int    `json:"spare_sections" minimum:"0" maximum:"5" doc:"Sections of a can that may stay open"`
	// MountingCost stands against a construction of more pieces than were drawn.
	MountingCost part.Money `json:"mounting_cost" doc:"Cost of mounting each piece more than was drawn, a balancing resistor too: a tag strip, a bracket, work"`
	LineCost     part.Money `json:"line_cost" doc:"Cost of handling one distinct order line"`
	Currency     string     `json:"currency" minLength:"3" maxLength:"3" doc:"ISO 4217 code of the order"`
	Spare        int        `json:"spare" minimum:"0" maximum:"10" doc:"Spare parts per order line"`
}

package part

import "math"

// Series is what the parts of one family share.
type Series struct {
	Name       string     `json:"name" minLength:"1" maxLength:"60" doc:"Name of the series, unique in the shop"`
	Maker      string     `json:"maker" minLength:"1" maxLength:"80"`
	Technology Technology `json:"technology" enum:"electrolytic,film,safety_x,safety_y"`
	Note       string     `json:"note,omitempty" maxLength:"400"`
	Tolerance
	// SurgeRatio is the surge voltage as a multiple of the rated voltage.
	SurgeRatio *float64 `json:"surge_ratio,omitempty" minimum:"1" maximum:"1.5" doc:"Surge voltage as a multiple of the rated; where left out the factors of IEC 60384-1 apply"`
	Ratings
}

// Tolerance is how far the capacitance may lie from its nominal value.
type Tolerance struct {
	TolMinusPct *float64 `json:"tol_minus_pct,omitempty" unit:"%" minimum:"0" maximum:"90" doc:"Lower tolerance as a positive figure, %"`
	TolPlusPct  *float64 `json:"tol_plus_pct,omitempty" unit:"%" minimum:"0" maximum:"200" doc:"Upper tolerance, %"`
}

// Ratings are the figures that a series gives for all its parts, and a part
// may give for itself. Whatever is left out of a part is its series'; what is
// left out of both is assumed, or unknown: see Effective.
type Ratings struct {
	// MinC and MaxC are the temperature class.
	MinC *float64 `json:"min_c,omitempty" unit:"°C" minimum:"-100" maximum:"50" doc:"Lower category temperature, °C"`
	MaxC *float64 `json:"max_c,omitempty" unit:"°C" minimum:"40" maximum:"200" doc:"Upper category temperature, °C; without one no part is picked"`
	// BaseHz is the frequency at which the ripple current is rated: 100 or 120 Hz as a rule.
	BaseHz *float64 `json:"base_hz,omitempty" unit:"Hz" exclusiveMinimum:"0" maximum:"1000000" doc:"Frequency of the ripple rating, Hz"`
	// FrequencyFactors multiply the rated ripple current; ascending in hz, 1.0 at BaseHz.
	FrequencyFactors FrequencyTable `json:"frequency_factors,omitempty" maxItems:"40"`
	// TemperatureFactors multiply the rated ripple current at an ambient; ascending in ambient_c.
	TemperatureFactors TemperatureTable `json:"temperature_factors,omitempty" maxItems:"40"`
	Life               *Life            `json:"life,omitempty"`
	// TanDelta is the maximum loss factor at BaseHz, from which ESR follows where a part gives none.
	TanDelta *float64 `json:"tan_delta,omitempty" exclusiveMinimum:"0" maximum:"2"`
	Leakage  *Leakage `json:"leakage,omitempty"`
	Storage  *Storage `json:"storage,omitempty"`
}

// FrequencyFactor is one point of ripple current against frequency.
type FrequencyFactor struct {
	Hz     float64 `json:"hz" unit:"Hz" exclusiveMinimum:"0" maximum:"1000000"`
	Factor float64 `json:"factor" minimum:"0.01" maximum:"10"`
}

// TemperatureFactor is one point of ripple current against ambient.
type TemperatureFactor struct {
	AmbientC float64 `json:"ambient_c" unit:"°C" minimum:"-60" maximum:"200"`
	Factor   float64 `json:"factor" minimum:"0.01" maximum:"10"`
}

// The life models.
const (
	TenKelvin              = "ten_kelvin"
	TenKelvinRipple        = "ten_kelvin_ripple"
	TenKelvinRippleVoltage = "ten_kelvin_ripple_voltage"
)

// Life is a life model and its constants. A member left out of a part's is its
// series'; derate.LifeH has the laws.
type Life struct {
	// Model names the law: "ten_kelvin" (life doubles every 10 K below RatedC),
	// "ten_kelvin_ripple" (the same, and the rise of the core counted against the
	// rise at rated ripple: Rubycon's form) or "ten_kelvin_ripple_voltage" (terms
	// for ripple and for working below rated volts: Jianghai's form).
	Model  string   `json:"model,omitempty" enum:"ten_kelvin,ten_kelvin_ripple,ten_kelvin_ripple_voltage"`
	RatedH *float64 `json:"rated_h,omitempty" unit:"h" minimum:"100" maximum:"1000000" doc:"Life at rated_c, rated volts and rated ripple, h"`
	RatedC *float64 `json:"rated_c,omitempty" unit:"°C" minimum:"40" maximum:"200" doc:"Ambient of rated_h; where left out max_c"`
	// CoreRiseK is the rise of the core over ambient at rated ripple, ΔT0.
	CoreRiseK *float64 `json:"core_rise_k,omitempty" unit:"K" exclusiveMinimum:"0" maximum:"40" doc:"Rise of the core over ambient at rated ripple, K"`
	// The constants of "ten_kelvin_ripple_voltage" alone.
	RippleBase      *float64 `json:"ripple_base,omitempty" minimum:"1" maximum:"10" doc:"Factor of life per 10 K of core rise, up to rated ripple"`
	RippleBaseOver  *float64 `json:"ripple_base_over,omitempty" minimum:"1" maximum:"10" doc:"The same above rated ripple"`
	VoltageExponent *float64 `json:"voltage_exponent,omitempty" minimum:"0" maximum:"10" doc:"n of (U/U_rated)^-n"`
	VoltageFrom     *float64 `json:"voltage_from,omitempty" minimum:"0.3" maximum:"1" doc:"Share of rated volts below which life is extended no more"`
}

// Leakage is the law of the maximum leakage at rated volts and 20 °C, in µA
// with C in µF and U in V: the greater of per_cv·C·U + per_root_cv·√(C·U) +
// plus_ua and floor_ua, read after so many minutes.
type Leakage struct {
	PerCV     float64 `json:"per_cv,omitempty" unit:"µA/(µF·V)" minimum:"0" maximum:"1"`
	PerRootCV float64 `json:"per_root_cv,omitempty" unit:"µA/√(µF·V)" minimum:"0" maximum:"100"`
	PlusUA    float64 `json:"plus_ua,omitempty" unit:"µA" minimum:"0" maximum:"10000"`
	FloorUA   float64 `json:"floor_ua,omitempty" unit:"µA" minimum:"0" maximum:"10000"`
	Minutes   float64 `json:"minutes" unit:"min" exclusiveMinimum:"0" maximum:"120"`
}

// Storage is how long a part may lie without voltage.
type Storage struct {
	ReformAfterYears *float64 `json:"reform_after_years,omitempty" unit:"a" minimum:"0.1" maximum:"50" doc:"Years in store after which the maker asks for reforming"`
	MaxYears         *float64 `json:"max_years,omitempty" unit:"a" minimum:"0.1" maximum:"50" doc:"Years in store after which the maker no longer stands for it"`
	// ShelfTestH is the shelf test the maker proves: hours at max_c without voltage.
	ShelfTestH *float64 `json:"shelf_test_h,omitempty" unit:"h" minimum:"1" maximum:"100000" doc:"Hours of the shelf test at max_c without voltage"`
}

// Within is a tolerance of minus and plus so many per cent, both positive.
func Within(minusPct, plusPct float64) Tolerance {
	return Tolerance{TolMinusPct: &minusPct, TolPlusPct: &plusPct}
}

// UA gives the largest leakage, µA, the law allows a part of C µF at its rated
// volts. It holds at 20 °C after l.Minutes, and is a maximum: no time of
// discharge may rest on it.
func (l Leakage) UA(capacitanceUF, ratedV float64) float64 {
	cv := capacitanceUF * ratedV
	return math.Max(l.PerCV*cv+l.PerRootCV*math.Sqrt(cv)+l.PlusUA, l.FloorUA)
}

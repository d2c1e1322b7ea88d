package part

import "math"

// Origin says where a figure comes from.
type Origin string

// The origins. A figure of Unknown origin has no value.
const (
	Unknown   Origin = ""
	OfPart    Origin = "part"
	OfSeries  Origin = "series"
	OfDefault Origin = "assumed"
)

// Figure is one rating as the checks take it.
type Figure struct {
	Name  string  `json:"name" doc:"The member of a part or a series that would give it"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit,omitempty"`
	From  Origin  `json:"from" enum:"part,series,assumed"`
	// Source is the maker's word for a part or series, else what the assumption rests on.
	Source string `json:"source"`
}

// Known says whether there is a value.
func (f Figure) Known() bool { return f.From != Unknown }

// Effective is a part with its series: each rating once, the part's own before
// its series', and what is assumed of an electrolytic where neither gives it.
type Effective struct {
	Technology                 Technology
	CapacitanceUF, RatedV      Figure
	TolMinusPct, TolPlusPct    Figure
	MinC, MaxC                 Figure
	DiameterMM, LengthMM       Figure
	SurgeV                     Figure
	RippleMA                   Figure // at BaseHz.Value and MaxC.Value
	BaseHz                     Figure
	TanDelta                   Figure // at BaseHz
	ESROhm                     Figure // at BaseHz
	LeakageUA, LeakageMin      Figure
	ReformAfterYears, MaxYears Figure
	// Frequency and Temperature are empty where there is no table; the figures
	// beside them say whose they are and hold no value.
	Frequency       FrequencyTable
	FrequencyFrom   Figure
	Temperature     TemperatureTable
	TemperatureFrom Figure
	// Life has RatedH 0 where no life is known; LifeFrom lists whose its constants are.
	Life     LifeLaw
	LifeFrom []Figure
}

// LifeLaw is a life model with all its constants.
type LifeLaw struct {
	Model           string
	RatedH          float64 // h at RatedC, rated volts and rated ripple
	RatedC          float64
	CoreRiseK       float64 // ΔT0, K
	RiseAssumed     bool    // CoreRiseK may shorten a life and must not lengthen it
	RippleBase      float64
	RippleBaseOver  float64
	VoltageExponent float64
	VoltageFrom     float64
}

// Effective puts a part and its series together; a nil series, or one without
// a name, is none.
func (p *Part) Effective(s *Series) Effective {
	if s == nil {
		s = &Series{}
	}
	r := resolver{part: p, series: s}
	e := Effective{Technology: p.Technology}
	e.CapacitanceUF = positive("capacitance_uf", "µF", p.CapacitanceUF)
	e.RatedV = positive("rated_v", "V", p.RatedV)
	e.TolMinusPct = r.figure("tol_minus_pct", "%", p.TolMinusPct, s.TolMinusPct)
	e.TolPlusPct = r.figure("tol_plus_pct", "%", p.TolPlusPct, s.TolPlusPct)
	e.MinC = r.figure("min_c", "°C", p.MinC, s.MinC)
	e.MaxC = r.figure("max_c", "°C", p.MaxC, s.MaxC)
	e.DiameterMM = r.figure("diameter_mm", "mm", p.DiameterMM, nil)
	e.LengthMM = r.figure("length_mm", "mm", p.LengthMM, nil)
	e.RippleMA = r.figure("ripple_ma", "mA", p.RippleMA, nil)
	e.SurgeV = r.surge()
	r.curves(&e)
	r.losses(&e)
	r.life(&e)
	r.storage(&e)
	return e
}

func positive(name, unit string, v float64) Figure {
	if v <= 0 {
		return Figure{Name: name, Unit: unit}
	}
	return Figure{Name: name, Value: v, Unit: unit, From: OfPart, Source: sourcePart}
}

const sourcePart = "the part's own"

// resolver looks a figure up: the part's own, its series', an assumption.
type resolver struct {
	part   *Part
	series *Series
}

func (r resolver) figure(name, unit string, own, shared *float64) Figure {
	f := Figure{Name: name, Unit: unit}
	switch {
	case own != nil:
		f.Value, f.From, f.Source = *own, OfPart, sourcePart
	case shared != nil:
		f.Value, f.From, f.Source = *shared, OfSeries, r.ofSeries()
	}
	return f
}

func (r resolver) ofSeries() string { return "its series " + r.series.Name }

// or gives f, or what is assumed of an electrolytic where f is unknown.
func (r resolver) or(f Figure, v float64, source string) Figure {
	if f.Known() || r.part.Technology != Electrolytic {
		return f
	}
	f.Value, f.From, f.Source = v, OfDefault, source
	return f
}

// surge is the maker's mark, the series' ratio, else the factors of IEC
// 60384-1. Only electrolytics have a surge rating unless one is marked; any
// other part's is its rated voltage.
func (r resolver) surge() Figure {
	f := r.figure("surge_v", "V", r.part.SurgeV, nil)
	ratedV := r.part.RatedV
	switch ratio := r.series.SurgeRatio; {
	case f.Known() || ratedV <= 0:
	case ratio != nil:
		f.Value, f.From, f.Source = *ratio*ratedV, OfSeries, r.ofSeries()
	case r.part.Technology != Electrolytic:
		f.Value, f.From, f.Source = ratedV, OfDefault, "rated voltage; no surge rating is given"
	case ratedV <= surgeBoundaryV:
		f.Value, f.From, f.Source = ratedV*surgeFactorLow, OfDefault, "IEC 60384-1: 1.15 × rated up to 315 V"
	default:
		f.Value, f.From, f.Source = ratedV*surgeFactorHigh, OfDefault, "IEC 60384-1: 1.10 × rated above 315 V"
	}
	return f
}

// curves finds the base frequency and both tables. A table is rebased to the
// part's own base frequency where that differs from its series'.
func (r resolver) curves(e *Effective) {
	hz, source := assumedBaseHz(r.part.RatedV)
	e.BaseHz = r.or(r.figure("base_hz", "Hz", r.part.BaseHz, r.series.BaseHz), hz, source)
	e.FrequencyFrom = Figure{Name: "frequency_factors"}
	switch {
	case len(r.part.FrequencyFactors) > 0:
		e.Frequency, e.FrequencyFrom.From, e.FrequencyFrom.Source = r.part.FrequencyFactors, OfPart, sourcePart
	case len(r.series.FrequencyFactors) > 0:
		e.Frequency, e.FrequencyFrom.From, e.FrequencyFrom.Source = r.series.FrequencyFactors, OfSeries, r.ofSeries()
	case r.part.Technology == Electrolytic:
		e.Frequency, e.FrequencyFrom.From, e.FrequencyFrom.Source = assumedFrequency(r.part.RatedV, e.BaseHz.Value), OfDefault, sourceFrequency
	}
	if e.BaseHz.Known() {
		e.Frequency = e.Frequency.Rebased(e.BaseHz.Value)
	}
	e.TemperatureFrom = Figure{Name: "temperature_factors"}
	switch {
	case len(r.part.TemperatureFactors) > 0:
		e.Temperature, e.TemperatureFrom.From, e.TemperatureFrom.Source = r.part.TemperatureFactors, OfPart, sourcePart
	case len(r.series.TemperatureFactors) > 0:
		e.Temperature, e.TemperatureFrom.From, e.TemperatureFrom.Source = r.series.TemperatureFactors, OfSeries, r.ofSeries()
	case r.part.Technology == Electrolytic:
		e.TemperatureFrom.From, e.TemperatureFrom.Source = OfDefault, "nothing granted for cool air"
	}
}

// losses finds loss factor, ESR and leakage. ESR where not given is
// tan δ/(2πfC) (Vishay 038 RSU, doc 28309 p.100); from a maximum tan δ it
// stands 6–17 % above the typical figure (Vishay ASH).
func (r resolver) losses(e *Effective) {
	p := r.part
	e.TanDelta = r.or(r.figure("tan_delta", "", p.TanDelta, r.series.TanDelta), assumedTanDelta, sourceTanDelta)
	e.ESROhm = r.figure("esr_ohm", "Ω", p.ESROhm, nil)
	if !e.ESROhm.Known() && e.TanDelta.Known() && e.BaseHz.Known() && p.CapacitanceUF > 0 {
		e.ESROhm.Value = e.TanDelta.Value / (2 * math.Pi * e.BaseHz.Value * p.CapacitanceUF * 1e-6)
		e.ESROhm.From, e.ESROhm.Source = e.TanDelta.From, "maximum tan δ, tan δ/(2πfC): "+e.TanDelta.Source
	}
	law := r.leakageLaw()
	e.LeakageUA = r.figure("leakage_ua", "µA", p.LeakageUA, nil)
	e.LeakageMin = r.figure("leakage_min", "min", p.LeakageMin, nil)
	switch {
	case e.LeakageUA.Known():
		if !e.LeakageMin.Known() && law.From != OfDefault && law.From != Unknown {
			e.LeakageMin.Value, e.LeakageMin.From, e.LeakageMin.Source = law.Minutes, law.From, law.Source
		}
		e.LeakageMin = r.or(e.LeakageMin, assumedLeakageMin, sourceLeakageMin)
	case law.From != Unknown && p.CapacitanceUF > 0 && p.RatedV > 0:
		e.LeakageUA.Value, e.LeakageUA.From, e.LeakageUA.Source = law.UA(p.CapacitanceUF, p.RatedV), law.From, law.Source
		e.LeakageMin.Value, e.LeakageMin.From, e.LeakageMin.Source = law.Minutes, law.From, law.Source
	}
}

type leakageLaw struct {
	Leakage
	From   Origin
	Source string
}

func (r resolver) leakageLaw() leakageLaw {
	switch {
	case r.part.Leakage != nil:
		return leakageLaw{*r.part.Leakage, OfPart, sourcePart}
	case r.series.Leakage != nil:
		return leakageLaw{*r.series.Leakage, OfSeries, r.ofSeries()}
	case r.part.Technology != Electrolytic:
		return leakageLaw{}
	}
	l, source := assumedLeakage(r.part.RatedV)
	return leakageLaw{l, OfDefault, source}
}

// life finds the life model. Each constant is looked up by itself: a part may
// state its hours and leave the model to its series.
func (r resolver) life(e *Effective) {
	if r.part.Technology != Electrolytic {
		return
	}
	own, shared := orEmpty(r.part.Life), orEmpty(r.series.Life)
	model := Figure{Name: "life/model", From: OfDefault, Source: sourceLifeModel}
	e.Life.Model = TenKelvin
	switch {
	case own.Model != "":
		e.Life.Model, model.From, model.Source = own.Model, OfPart, sourcePart
	case shared.Model != "":
		e.Life.Model, model.From, model.Source = shared.Model, OfSeries, r.ofSeries()
	}
	e.LifeFrom = append(e.LifeFrom, model)
	take := func(to *float64, name, unit string, own, shared *float64, assumed float64, source string) Origin {
		f := r.or(r.figure("life/"+name, unit, own, shared), assumed, source)
		*to = f.Value
		e.LifeFrom = append(e.LifeFrom, f)
		return f.From
	}
	take(&e.Life.RatedH, "rated_h", "h", own.RatedH, shared.RatedH, assumedLifeH, sourceLifeH)
	take(&e.Life.RatedC, "rated_c", "°C", own.RatedC, shared.RatedC, e.MaxC.Value, sourceLifeC)
	from := take(&e.Life.CoreRiseK, "core_rise_k", "K", aboveZero(own.CoreRiseK), aboveZero(shared.CoreRiseK), assumedRiseK(e.MaxC.Value), sourceRiseK)
	e.Life.RiseAssumed = from == OfDefault
	if e.Life.Model != TenKelvinRippleVoltage {
		return
	}
	over := float64(jianghaiRippleBase)
	if e.MaxC.Value >= 105 {
		over = jianghaiRippleBaseOver
	}
	take(&e.Life.RippleBase, "ripple_base", "", own.RippleBase, shared.RippleBase, jianghaiRippleBase, sourceJianghai)
	take(&e.Life.RippleBaseOver, "ripple_base_over", "", own.RippleBaseOver, shared.RippleBaseOver, over, sourceJianghai)
	take(&e.Life.VoltageExponent, "voltage_exponent", "", own.VoltageExponent, shared.VoltageExponent, jianghaiExponent, sourceJianghai)
	take(&e.Life.VoltageFrom, "voltage_from", "", own.VoltageFrom, shared.VoltageFrom, jianghaiFrom, sourceJianghai)
}

func orEmpty(l *Life) Life {
	if l == nil {
		return Life{}
	}
	return *l
}

// aboveZero takes a rise of 0, which documents of before could hold, as not given.
func aboveZero(v *float64) *float64 {
	if v != nil && *v <= 0 {
		return nil
	}
	return v
}

func (r resolver) storage(e *Effective) {
	var own, shared Storage
	if r.part.Storage != nil {
		own = *r.part.Storage
	}
	if r.series.Storage != nil {
		shared = *r.series.Storage
	}
	e.ReformAfterYears = r.or(r.figure("storage/reform_after_years", "a", own.ReformAfterYears, shared.ReformAfterYears), assumedReformAfterYears, sourceReformAfter)
	e.MaxYears = r.or(r.figure("storage/max_years", "a", own.MaxYears, shared.MaxYears), assumedMaxYears, sourceMaxYears)
}

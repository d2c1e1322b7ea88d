// Package derate holds what a position must withstand against what a part
// offers. Each check has a name, a source, a margin and a sentence; a part
// passes when every deciding check passes.
package derate

import (
	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// Stress is what a position must withstand. Voltages are magnitudes.
type Stress struct {
	Ref  string   `json:"ref"`
	Role amp.Role `json:"role"`
	Node string   `json:"node,omitempty"`
	// WorkingV is steady DC plus ripple peak at high line, idle or full drive, whichever is more.
	WorkingV   float64 `json:"working_v"`
	DCV        float64 `json:"dc_v" doc:"Steady DC at high line, idle"`
	NominalDCV float64 `json:"nominal_dc_v" doc:"Steady DC at nominal mains, idle"`
	// Peaks holds the highest voltage of each service case; Worst is the mandatory one that decides.
	Peaks []CasePeak `json:"peaks"`
	Worst CasePeak   `json:"worst"`
	// Ripple is the current by frequency at full drive, IdleRipple the same idling; both at high line.
	Ripple     []Current `json:"ripple"`
	IdleRipple []Current `json:"idle_ripple,omitempty"`
	RippleRMSA float64   `json:"ripple_rms_a"`
	// The bands are there where a study was made.
	ColdBand    *Band   `json:"cold_band,omitempty"`
	WorkingBand *Band   `json:"working_band,omitempty"`
	RippleBand  *Band   `json:"ripple_band,omitempty" doc:"Of the current at mains harmonics, A RMS"`
	AmbientC    float64 `json:"ambient_c"`
	Window      Window  `json:"window"`
	// Stack is the place in a series stack of Units, 1 on top; 0 where there is none.
	// ChargingShare and RestShare are what the voltages here allow the worst unit
	// over an even share, by the tolerance of what is fitted.
	Stack         int     `json:"stack,omitempty"`
	Units         int     `json:"units,omitempty"`
	ChargingShare float64 `json:"charging_share,omitempty"`
	RestShare     float64 `json:"rest_share,omitempty"`
	Balanced      bool    `json:"balanced,omitempty" doc:"Resistors across the units set how they share at rest"`
	// Body is the room there is; nil refuses nothing.
	Body *amp.Body `json:"body,omitempty"`
	// The mains are set for mains positions: the highest line and the nominal, RMS.
	MainsV        float64 `json:"mains_v,omitempty"`
	MainsNominalV float64 `json:"mains_nominal_v,omitempty"`
	MainsHz       float64 `json:"mains_hz,omitempty"`
}

// Band is how far a stress may lie from its likely value, given how far the
// figures behind it may be off.
type Band struct {
	Low    float64 `json:"low" doc:"With every figure at its worst one way"`
	Likely float64 `json:"likely"`
	High   float64 `json:"high" doc:"With every figure at its worst the other way"`
	P05    float64 `json:"p05" doc:"5 % of the sample lie below"`
	P50    float64 `json:"p50"`
	P95    float64 `json:"p95"`
	// Widened says that a sample passed the corners by more than a thousandth, and is now the extreme.
	Widened bool `json:"widened,omitempty"`
}

// CasePeak is the highest voltage of one service case.
type CasePeak struct {
	Case      string  `json:"case"`
	Title     string  `json:"title"`
	V         float64 `json:"v"`
	FirstAtS  float64 `json:"first_at_s" doc:"First time at 99.9 % of the peak"`
	Mandatory bool    `json:"mandatory"`
	// AboveRatedS and AboveSurgeS are seconds above the fitted part's ratings.
	AboveRatedS float64 `json:"above_rated_s"`
	AboveSurgeS float64 `json:"above_surge_s"`
	// Above gives seconds above each of a ladder of voltages, ascending, for parts other than the fitted.
	Above []Above `json:"above,omitempty"`
}

// Lasting is the seconds of a voltage that stays as long as its case does.
const Lasting = 1e9

// Above is the time spent above a voltage, Lasting where it does not end.
type Above struct {
	V float64 `json:"v"`
	S float64 `json:"s"`
}

// AtHighEnd gives the stress with every figure at the high end of its band.
func (s Stress) AtHighEnd() Stress {
	if b := s.ColdBand; b != nil && b.Likely > 0 {
		k := b.High / b.Likely
		s.Worst.V *= k
		s.Peaks = append([]CasePeak(nil), s.Peaks...)
		for i := range s.Peaks {
			s.Peaks[i].V *= k
			s.Peaks[i].Above = raised(s.Peaks[i].Above, k)
		}
		s.Worst.Above = raised(s.Worst.Above, k)
	}
	if b := s.WorkingBand; b != nil && b.Likely > 0 {
		s.WorkingV *= b.High / b.Likely
	}
	if b := s.RippleBand; b != nil && b.Likely > 0 {
		k := b.High / b.Likely
		s.Ripple, s.IdleRipple = times(s.Ripple, k), times(s.IdleRipple, k)
		s.RippleRMSA *= k
	}
	return s
}

func times(list []Current, k float64) []Current {
	out := append([]Current(nil), list...)
	for i := range out {
		out[i].A *= k
	}
	return out
}

// raised gives the ladder of seconds above for a voltage k times as high: what
// stood above v then stands above k·v.
func raised(list []Above, k float64) []Above {
	out := append([]Above(nil), list...)
	for i := range out {
		out[i].V *= k
	}
	return out
}

// Current is an RMS current at a frequency.
type Current struct {
	Hz float64 `json:"hz"`
	A  float64 `json:"a"`
	Of string  `json:"of,omitempty" enum:"mains,audio"`
}

// Window is the capacitance that serves.
type Window struct {
	OriginalUF float64 `json:"original_uf"`
	MinUF      float64 `json:"min_uf"`
	MinRule    string  `json:"min_rule"`
	MaxUF      float64 `json:"max_uf"`
	MaxRule    string  `json:"max_rule"`
	// AdviceUF is a limit that may warn and never refuse; 0 where there is none.
	AdviceUF   float64 `json:"advice_uf,omitempty"`
	AdviceRule string  `json:"advice_rule,omitempty"`
	// UpperUF is the most that may really stand here, by the rectifier's peak
	// current: a part's upper tolerance end is held against it. 0 sets none.
	UpperUF     float64 `json:"upper_uf,omitempty"`
	UpperRule   string  `json:"upper_rule,omitempty"`
	UpperAdvice bool    `json:"upper_advice,omitempty" doc:"The published peak rests on memory: it warns and never refuses"`
}

// Outcome is what a check found. A check whose figure is not given is Unknown:
// the part is not picked, and Missing names the figure.
type Outcome string

// The outcomes.
const (
	Passed  Outcome = "pass"
	Failed  Outcome = "fail"
	Unknown Outcome = "unknown"
)

// Check is one rule held against one part.
type Check struct {
	Name    string  `json:"name" enum:"technology,sections,tolerance,capacitance,inrush,working_voltage,cold_start,balance,ripple,life,temperature,body,reverse_voltage,safety_class,mains_voltage,touch_current,hum,data"`
	Outcome Outcome `json:"outcome" enum:"pass,fail,unknown"`
	// Pass is Outcome == "pass".
	Pass bool `json:"pass"`
	// Missing names the members of the part that would decide an unknown check.
	Missing []string `json:"missing,omitempty"`
	// Assumed names the figures behind this check that neither the part nor its series gives.
	Assumed []string `json:"assumed,omitempty"`
	// Advisory checks are shown and never decide.
	Advisory bool    `json:"advisory,omitempty"`
	Have     float64 `json:"have" doc:"The figure found"`
	Limit    float64 `json:"limit" doc:"What it is held against"`
	Unit     string  `json:"unit"`
	// MarginPct is how far Have is inside Limit, as a share of Limit; negative is by how much it fails.
	MarginPct float64 `json:"margin_pct"`
	Text      string  `json:"text"`
	Source    string  `json:"source"`
	// Cure is the figure that would make a failed check pass.
	Cure string `json:"cure,omitempty"`
}

// Verdict is every check of one part in one position.
type Verdict struct {
	Maker      string  `json:"maker"`
	PartNumber string  `json:"part_number"`
	Pass       bool    `json:"pass"`
	Checks     []Check `json:"checks"`
	// LifeYears at the shop's hours; 0 where the part is no electrolytic.
	LifeYears float64 `json:"life_years,omitempty"`
	// Assumed are the figures the checks took that neither the part nor its series gives.
	Assumed []part.Figure `json:"assumed,omitempty"`
}

// Rated is a part with its series, as the checks need it. A series without a
// name is none: the part stands by its own figures.
type Rated struct {
	Part   part.Part
	Series part.Series
}

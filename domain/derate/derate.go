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
	// Ripple is the current by frequency at full drive.
	Ripple     []Current `json:"ripple"`
	RippleRMSA float64   `json:"ripple_rms_a"`
	AmbientC   float64   `json:"ambient_c"`
	Window     Window    `json:"window"`
	// StackShare is the share of a stack's voltage that this unit took in the simulation; 0 where no stack.
	Stack int `json:"stack,omitempty"`
	// Body is the room there is; nil refuses nothing.
	Body *amp.Body `json:"body,omitempty"`
	// MainsV and MainsHz are set for mains positions: the highest line, RMS.
	MainsV  float64 `json:"mains_v,omitempty"`
	MainsHz float64 `json:"mains_hz,omitempty"`
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

// Above is the time spent above a voltage.
type Above struct {
	V float64 `json:"v"`
	S float64 `json:"s"`
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
}

// Check is one rule held against one part.
type Check struct {
	Name string `json:"name" enum:"technology,sections,capacitance,working_voltage,cold_start,ripple,life,temperature,body,safety_class,mains_voltage,touch_current,data"`
	Pass bool   `json:"pass"`
	// Advisory checks are shown and never decide.
	Advisory bool    `json:"advisory,omitempty"`
	Have     float64 `json:"have" doc:"The figure found"`
	Limit    float64 `json:"limit" doc:"What it is held against"`
	Unit     string  `json:"unit"`
	// MarginPct is how far Have is inside Limit, as a share of Limit; negative is by how much it fails.
	MarginPct float64 `json:"margin_pct"`
	Text      string  `json:"text"`
	Source    string  `json:"source"`
}

// Verdict is every check of one part in one position.
type Verdict struct {
	Maker      string  `json:"maker"`
	PartNumber string  `json:"part_number"`
	Pass       bool    `json:"pass"`
	Checks     []Check `json:"checks"`
	// LifeYears at the shop's hours; 0 where the part is no electrolytic or gives no life.
	LifeYears float64 `json:"life_years,omitempty"`
}

// Rated is a part with its series, as the checks need it.
type Rated struct {
	Part   part.Part
	Series part.Series
}

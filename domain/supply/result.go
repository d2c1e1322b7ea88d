package supply

// Result is what a run gives. Voltages are magnitudes.
type Result struct {
	Status        Status        `json:"status"`
	Reason        string        `json:"reason,omitempty" doc:"Why the status is not complete"`
	StepUS        float64       `json:"step_us"`
	Steps         int           `json:"steps"`
	SteadyWindowS [2]float64    `json:"steady_window_s"`
	Caps          []CapResult   `json:"caps"`
	Diodes        []DiodeResult `json:"diodes"`
	Nodes         []NodeResult  `json:"nodes"`
}

// Status says how a run ended.
type Status string

// The ways a run ends.
const (
	Complete   Status = "complete"    // ran to its end
	FellBack   Status = "fell_back"   // ran to its end by equal steps, the fast way having failed its own check
	NotStarted Status = "not_started" // ran to its end, but something that never happens kept the supply off
	Unresolved Status = "unresolved"  // ran to its end, but rings faster than any step allowed can follow: peaks are not to be trusted
)

// CapResult is one capacitor. A stack's units are named node.c1, node.c2 from
// the top and the stack node; a further stack in parallel is node.b2, node.b2.c1.
type CapResult struct {
	Cap                string      `json:"cap"`
	PeakV              float64     `json:"peak_v"`
	TPeakS             float64     `json:"t_peak_s"`
	TFirst999S         float64     `json:"t_first_999permil_of_peak_s"`
	SteadyMeanV        float64     `json:"steady_mean_v"`
	SteadyRippleVPP    float64     `json:"steady_ripple_vpp"`
	SteadyRippleARMS   float64     `json:"steady_ripple_a_rms"`
	MaxCycleRippleARMS float64     `json:"max_cycle_ripple_a_rms"`
	TimeAbove          []TimeAbove `json:"time_above"`
	SteadyMaxV         float64     `json:"steady_max_v,omitempty"`
	Harmonics          []Harmonic  `json:"harmonics,omitempty"`
}

// TimeAbove is the whole time spent above a threshold.
type TimeAbove struct {
	ThresholdV float64 `json:"threshold_v"`
	TS         float64 `json:"t_s"`
}

// Harmonic is the steady RMS current of a capacitor at one multiple of the mains.
type Harmonic struct {
	Hz   float64 `json:"hz"`
	ARMS float64 `json:"a_rms"`
}

// DiodeResult is one diode or one half of the winding's current.
type DiodeResult struct {
	Diode       string  `json:"diode"`
	PeakA       float64 `json:"peak_a"`
	TPeakS      float64 `json:"t_peak_s"`
	SteadyPeakA float64 `json:"steady_peak_a"`
	SteadyRMSA  float64 `json:"steady_rms_a"`
	SteadyMeanA float64 `json:"steady_mean_a"`
}

// NodeResult is one node's voltage, whether or not a capacitor stands there.
type NodeResult struct {
	Node        string  `json:"node"`
	PeakV       float64 `json:"peak_v"`
	SteadyMeanV float64 `json:"steady_mean_v"`
	SteadyMinV  float64 `json:"steady_min_v"`
	SteadyMaxV  float64 `json:"steady_max_v"`
	LoadMeanA   float64 `json:"load_mean_a"`
}

// Package supply is the numeric model of a rectified high-tension or bias
// supply: mains, winding, rectifier, a tree of nodes with capacitors, loads
// that warm up, and a standby switch. All states are zero at t = 0.
//
// Circuit is the exact input of one run, in the plain units of its JSON;
// Simulate gives a Result of the same members the reference circuits print.
// NewModel readies a supply of an amplifier; Model.Circuit makes the run of one
// service case of it.
package supply

import "coldrise/domain/amp"

// Circuit is one supply in one service case: all that a run depends on.
type Circuit struct {
	ID         string    `json:"id,omitempty" maxLength:"80"`
	Title      string    `json:"title,omitempty" maxLength:"400"`
	TEndS      float64   `json:"t_end_s" unit:"s" minimum:"0.1" maximum:"600"`
	Mains      Source    `json:"mains"`
	Rectifier  Rectifier `json:"rectifier"`
	RawLeakOhm *float64  `json:"raw_leak_ohm,omitempty" unit:"Ω" minimum:"1000" maximum:"1e12"`
	Standby    *Switch   `json:"standby,omitempty"`
	Nodes      []Node    `json:"nodes" minItems:"1" maxItems:"16"`
	// Reference is what another simulator made of this circuit; it is not read here.
	Reference any `json:"reference,omitempty"`
}

// Source is the mains as the winding sees it.
type Source struct {
	FreqHz   float64 `json:"freq_hz" unit:"Hz" minimum:"10" maximum:"1000"`
	Factor   float64 `json:"factor" minimum:"0.1" maximum:"2"`
	PhaseDeg float64 `json:"phase_deg,omitempty" unit:"°" minimum:"0" maximum:"360"`
}

// Rectifier is winding and diodes.
type Rectifier struct {
	Topology     string  `json:"topology" enum:"full_wave_ct,bridge,half_wave,doubler"`
	SecondaryVRM float64 `json:"secondary_vrms" unit:"V" minimum:"1" maximum:"5000"`
	RsOhm        float64 `json:"rs_ohm" unit:"Ω" minimum:"0.0001" maximum:"20000"`
	Polarity     string  `json:"polarity,omitempty" enum:"positive,negative"`
	Diode        Diode   `json:"diode"`
}

// Diode is the law of one plate or one junction.
type Diode struct {
	Kind        string      `json:"kind" enum:"silicon,tube"`
	IsA         float64     `json:"is_a,omitempty" unit:"A" minimum:"1e-15" maximum:"1e-3"`
	N           float64     `json:"n,omitempty" minimum:"0.8" maximum:"4"`
	RsOhm       float64     `json:"rs_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"100"`
	SeriesCount int         `json:"series_count,omitempty" minimum:"1" maximum:"8"`
	DropV       float64     `json:"drop_v,omitempty" unit:"V" minimum:"0.1" maximum:"500"`
	DropMA      float64     `json:"drop_ma,omitempty" unit:"mA" minimum:"0.1" maximum:"5000"`
	WarmUp      *amp.WarmUp `json:"warmup,omitempty"`
}

// Switch is the standby switch.
type Switch struct {
	Position string  `json:"position" enum:"in_winding,after_rectifier,after_reservoir"`
	CloseS   float64 `json:"close_s" unit:"s" minimum:"0" maximum:"600"`
	RonOhm   float64 `json:"ron_ohm" unit:"Ω" minimum:"0" maximum:"1000"`
	RoffOhm  float64 `json:"roff_ohm" unit:"Ω" minimum:"1000" maximum:"1e13"`
}

// Node is one point of the tree.
type Node struct {
	Name string `json:"name" minLength:"1" maxLength:"40"`
	// From names the node that feeds this one; empty is the node before it.
	From   string  `json:"from,omitempty" maxLength:"40"`
	Series *Series `json:"series"`
	// Caps is one capacitor, or a series stack from the top.
	Caps []Unit `json:"caps,omitempty" maxItems:"4"`
	// Beside holds further capacitors or stacks in parallel with Caps.
	Beside     [][]Unit  `json:"beside,omitempty" maxItems:"4"`
	BleedOhm   *float64  `json:"bleed_ohm,omitempty" unit:"Ω" minimum:"10" maximum:"1e12"`
	Load       *Load     `json:"load,omitempty"`
	Further    []Load    `json:"further_loads,omitempty" maxItems:"20"`
	Thresholds []float64 `json:"thresholds_v,omitempty" unit:"V" maxItems:"64" minimum:"0.1" maximum:"20000"`
}

// Series joins a node to the one that feeds it: a resistance, or a choke.
type Series struct {
	ROhm   *float64 `json:"r_ohm,omitempty" unit:"Ω" minimum:"0.001" maximum:"1e9"`
	LH     *float64 `json:"l_h,omitempty" unit:"H" minimum:"0.0001" maximum:"1000"`
	DCROhm *float64 `json:"dcr_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"100000"`
}

// Unit is (C in series with ESR) in parallel with leak.
type Unit struct {
	CUF     float64 `json:"c_uf" unit:"µF" minimum:"0.0001" maximum:"20000"`
	ESROhm  float64 `json:"esr_ohm" unit:"Ω" minimum:"0" maximum:"10000"`
	LeakOhm float64 `json:"leak_ohm" unit:"Ω" minimum:"1000" maximum:"1e13"`
}

// Load draws I = i0·w(t)·(max(v, 0)/v0)^alpha; alpha 0 is a constant current.
type Load struct {
	I0MA   float64     `json:"i0_ma" unit:"mA" minimum:"0" maximum:"5000"`
	V0     float64     `json:"v0" unit:"V" minimum:"0.1" maximum:"10000"`
	Alpha  float64     `json:"alpha" minimum:"0" maximum:"3"`
	WarmUp *amp.WarmUp `json:"warmup,omitempty"`
}

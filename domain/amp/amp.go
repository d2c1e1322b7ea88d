// Package amp is what a technician writes down of an amplifier: mains,
// windings, rectifiers, the ladder of nodes with their loads, and the
// positions that take a capacitor. It holds no conclusions.
//
// The JSON of Amplifier is both the amplifier file and the body the API
// takes. Members carry their unit. A figure that is not known is left out;
// what coldrise then assumes is listed in the plan.
package amp

// Amplifier is the whole description.
type Amplifier struct {
	Name      string     `json:"name" minLength:"1" maxLength:"120" doc:"What the shop calls this amplifier" example:"Saltmarsh 30"`
	Note      string     `json:"note,omitempty" maxLength:"2000"`
	Mains     Mains      `json:"mains"`
	ChassisC  *float64   `json:"chassis_c,omitempty" unit:"°C" minimum:"0" maximum:"120" doc:"Air beside the capacitors when warm, °C"`
	Supplies  []Supply   `json:"supplies" minItems:"1" maxItems:"6"`
	Positions []Position `json:"positions,omitempty" maxItems:"80" doc:"Places that take a capacitor; where none is given one per node is assumed"`
	Figures   []Figure   `json:"figures,omitempty" maxItems:"200" doc:"Where single figures come from, and how far they may be off"`
}

// Mains is the wall supply, and the wall volts at which readings were taken.
type Mains struct {
	NominalV    float64  `json:"nominal_v" unit:"V" minimum:"90" maximum:"260" doc:"Volts of the primary tap in use; winding figures hold at it" example:"120"`
	FrequencyHz float64  `json:"frequency_hz" unit:"Hz" minimum:"45" maximum:"65" example:"60"`
	HighV       *float64 `json:"high_v,omitempty" unit:"V" minimum:"90" maximum:"300" doc:"Highest wall volts to design for; default by the nominal"`
	LowV        *float64 `json:"low_v,omitempty" unit:"V" minimum:"70" maximum:"260" doc:"Lowest wall volts to expect; default by the nominal"`
	MeasuredAtV *float64 `json:"measured_at_v,omitempty" unit:"V" minimum:"80" maximum:"300" doc:"Wall volts while measured_v readings were taken"`
	SchematicV  *float64 `json:"schematic_at_v,omitempty" unit:"V" minimum:"80" maximum:"300" doc:"Wall volts the schematic's figures assume"`
	FuseA       *float64 `json:"fuse_a,omitempty" unit:"A" minimum:"0.05" maximum:"30" doc:"Mains fuse, as marked"`
	FuseKind    string   `json:"fuse_kind,omitempty" enum:"time_lag,quick" doc:"As marked: time-lag (T) or quick (F)"`
	PhaseDeg    float64  `json:"phase_deg,omitempty" unit:"°" minimum:"0" maximum:"360" doc:"Phase of the mains at switch-on"`
}

// Connection is how a winding feeds its rectifier.
type Connection string

// The connections.
const (
	CentreTapped Connection = "centre_tapped"
	Bridge       Connection = "bridge"
	HalfWave     Connection = "half_wave"
	Doubler      Connection = "doubler"
)

// Supply is one winding, its rectifier and the ladder behind it.
type Supply struct {
	Name      string    `json:"name" minLength:"1" maxLength:"40" pattern:"^[^/]+$" patternDescription:"no slash" example:"HT"`
	Polarity  string    `json:"polarity,omitempty" enum:"positive,negative" doc:"Sign of the nodes against chassis; voltages are given as magnitudes. Default positive"`
	Winding   *Winding  `json:"winding,omitempty" doc:"Where left out the winding is inferred from the first node's loaded voltage"`
	Rectifier Rectifier `json:"rectifier"`
	Standby   *Standby  `json:"standby,omitempty"`
	// RawLeakOhm stands at the rectifier's output where no capacitor does:
	// ahead of a choke or of an open switch.
	RawLeakOhm *float64 `json:"raw_leak_ohm,omitempty" unit:"Ω" minimum:"1000" maximum:"1e12"`
	Nodes      []Node   `json:"nodes" minItems:"1" maxItems:"16"`
}

// Winding is the secondary and the resistance behind it.
type Winding struct {
	Connection Connection `json:"connection" enum:"centre_tapped,bridge,half_wave,doubler"`
	// UnloadedV is RMS per conducting side, with nothing drawn, at mains nominal_v.
	UnloadedV *float64 `json:"unloaded_v,omitempty" unit:"V" minimum:"2" maximum:"2000" doc:"RMS volts per conducting side with no load, at mains.nominal_v"`
	// LoadedV at LoadedMA is the nameplate's figure per conducting side.
	LoadedV      *float64 `json:"loaded_v,omitempty" unit:"V" minimum:"2" maximum:"2000" doc:"Nameplate RMS volts per conducting side at loaded_ma"`
	LoadedMA     *float64 `json:"loaded_ma,omitempty" unit:"mA" minimum:"1" maximum:"5000"`
	SecondaryOhm *float64 `json:"secondary_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"5000" doc:"DC resistance per conducting side"`
	PrimaryOhm   *float64 `json:"primary_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"2000" doc:"DC resistance of the primary tap in use"`
	// SourceOhm is the whole resistance per conducting path; it stands for the two above.
	SourceOhm *float64 `json:"source_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"10000" doc:"Whole source resistance per conducting path, instead of the two windings'"`
}

// Rectifier is a tube by its type designation, or silicon.
type Rectifier struct {
	Type string `json:"type" minLength:"1" maxLength:"20" doc:"A tube's type designation, or silicon" example:"GZ34"`
	// Count is how many such tubes stand in parallel, each with its two plates.
	Count       int      `json:"count,omitempty" minimum:"1" maximum:"8"`
	SeriesCount int      `json:"series_count,omitempty" minimum:"1" maximum:"8" doc:"Silicon diodes in series per path"`
	DropV       *float64 `json:"drop_v,omitempty" unit:"V" minimum:"1" maximum:"300" doc:"Drop per plate at drop_ma, where it is to replace the published point"`
	DropMA      *float64 `json:"drop_ma,omitempty" unit:"mA" minimum:"1" maximum:"2000"`
	WarmUp      *WarmUp  `json:"warm_up,omitempty"`
	Silicon     *Silicon `json:"silicon,omitempty"`
}

// Silicon is the junction I = is·(exp(v/(n·Vt)) − 1) with a series resistance.
type Silicon struct {
	IsA   float64 `json:"is_a" unit:"A" minimum:"1e-15" maximum:"1e-3"`
	N     float64 `json:"n" minimum:"0.8" maximum:"4"`
	RsOhm float64 `json:"rs_ohm" unit:"Ω" minimum:"0" maximum:"100"`
}

// WarmUp is how a cathode comes to emit after switch-on.
type WarmUp struct {
	Law  string   `json:"law" enum:"smoothstep,logistic"`
	TaS  *float64 `json:"ta_s,omitempty" unit:"s" minimum:"0" maximum:"120" doc:"smoothstep: emission begins"`
	TbS  *float64 `json:"tb_s,omitempty" unit:"s" minimum:"0.001" maximum:"180" doc:"smoothstep: emission is full"`
	T0S  *float64 `json:"t0_s,omitempty" unit:"s" minimum:"0" maximum:"120" doc:"logistic: half of full emission"`
	TauS *float64 `json:"tau_s,omitempty" unit:"s" minimum:"0.001" maximum:"60"`
}

// Scaled gives the warm-up with its times multiplied by f.
func (w *WarmUp) Scaled(f float64) *WarmUp {
	times := func(p *float64) *float64 {
		if p == nil {
			return nil
		}
		v := *p * f
		return &v
	}
	return &WarmUp{Law: w.Law, TaS: times(w.TaS), TbS: times(w.TbS), T0S: times(w.T0S), TauS: times(w.TauS)}
}

// Standby is the switch, where it sits and when it is used.
type Standby struct {
	Switch       string   `json:"switch" enum:"none,in_winding,after_rectifier,after_reservoir"`
	ClosesAfterS *float64 `json:"closes_after_s,omitempty" unit:"s" minimum:"0" maximum:"120" doc:"When the user closes it, s after mains on"`
	OnOhm        *float64 `json:"on_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"100"`
	OffOhm       *float64 `json:"off_ohm,omitempty" unit:"Ω" minimum:"10000" maximum:"1e12"`
}

// Node is a point of the ladder. The first is fed by the rectifier, through
// its choke or dropper if it has one; every other by the node named in From.
type Node struct {
	Name       string   `json:"name" minLength:"1" maxLength:"40" pattern:"^[^/]+$" patternDescription:"no slash"`
	From       string   `json:"from,omitempty" maxLength:"40" doc:"Node that feeds this one; default the one before it"`
	ChokeH     *float64 `json:"choke_h,omitempty" unit:"H" minimum:"0.01" maximum:"200"`
	DCROhm     *float64 `json:"dcr_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"20000" doc:"DC resistance of the choke"`
	DropperOhm *float64 `json:"dropper_ohm,omitempty" unit:"Ω" minimum:"0.1" maximum:"10000000"`
	BleederOhm *float64 `json:"bleeder_ohm,omitempty" unit:"Ω" minimum:"100" maximum:"100000000"`
	SchematicV *float64 `json:"schematic_v,omitempty" unit:"V" minimum:"1" maximum:"3000"`
	MeasuredV  *float64 `json:"measured_v,omitempty" unit:"V" minimum:"1" maximum:"3000"`
	Loads      []Load   `json:"loads,omitempty" maxItems:"20"`
}

// Load is what a node feeds.
type Load struct {
	Tube  string `json:"tube,omitempty" maxLength:"20" doc:"Type designation" example:"EL84"`
	Label string `json:"label,omitempty" maxLength:"80" doc:"What it is, where it is no tube of the tables"`
	// Stage says what the load is in service; default by the tube's kind.
	Stage string `json:"stage,omitempty" enum:"output,small,resistive" doc:"output: goes when the output tubes are pulled; resistive: draws from the first instant"`
	Count int    `json:"count,omitempty" minimum:"1" maximum:"20" doc:"Tubes of this kind; currents are per tube. Default 1"`
	// IdleMA and FullMA are per tube, whole cathode current fed by this node.
	IdleMA *float64 `json:"idle_ma,omitempty" unit:"mA" minimum:"0.001" maximum:"2000"`
	FullMA *float64 `json:"full_ma,omitempty" unit:"mA" minimum:"0.001" maximum:"3000"`
	// AtV is the node voltage at which IdleMA flows; default the node's own reading.
	AtV      *float64 `json:"at_v,omitempty" unit:"V" minimum:"1" maximum:"3000"`
	Exponent *float64 `json:"exponent,omitempty" minimum:"0.5" maximum:"2.5" doc:"Current goes as node voltage to this power"`
	WarmUp   *WarmUp  `json:"warm_up,omitempty"`
}

// Role is what a capacitor does in its position.
type Role string

// The roles.
const (
	Reservoir     Role = "reservoir"
	Smoothing     Role = "smoothing"
	Bias          Role = "bias"
	CathodeBypass Role = "cathode_bypass"
	Coupling      Role = "coupling"
	MainsX        Role = "mains_x"
	MainsY        Role = "mains_y"
)

// Position is a place that takes a capacitor.
type Position struct {
	Ref  string `json:"ref" minLength:"1" maxLength:"20" doc:"Designator on the schematic or the chassis" example:"C20"`
	Role Role   `json:"role" enum:"reservoir,smoothing,bias,cathode_bypass,coupling,mains_x,mains_y"`
	// Node is "supply/node"; for coupling, the node that feeds the plate. Mains and cathode positions have none.
	Node string `json:"node,omitempty" maxLength:"81" doc:"supply/node" example:"HT/A"`
	// Stack is the place in a series stack, 1 on top; 0 is no stack.
	Stack int `json:"stack,omitempty" minimum:"1" maximum:"4" doc:"Place in a series stack, 1 on top"`
	// CathodeV is the cathode's DC volts at idle, for cathode_bypass.
	CathodeV *float64 `json:"cathode_v,omitempty" unit:"V" minimum:"0.1" maximum:"500"`
	// CathodeFaultV is what the cathode may rise to with its tube in fault.
	CathodeFaultV *float64 `json:"cathode_fault_v,omitempty" unit:"V" minimum:"0.1" maximum:"1000" doc:"Cathode's DC volts with its tube in fault, for cathode_bypass; counts where the policy's cathode_fault_ratio is above 1"`
	// FarV is the DC behind a coupling capacitor, negative for a biased grid.
	FarV *float64 `json:"far_v,omitempty" unit:"V" minimum:"-500" maximum:"2000"`
	// WantedUF is the value wanted where nothing is fitted, or where the fitted value is not the original.
	WantedUF *float64 `json:"wanted_uf,omitempty" unit:"µF" minimum:"0.000001" maximum:"20000"`
	// BleederOhm is the resistor across a capacitor on the line, for mains_x.
	BleederOhm *float64 `json:"bleeder_ohm,omitempty" unit:"Ω" minimum:"1000" maximum:"100000000" doc:"Resistor that stands across a mains_x position and discharges the plug"`
	AmbientC   *float64 `json:"ambient_c,omitempty" unit:"°C" minimum:"0" maximum:"120" doc:"Air at this position; default chassis_c"`
	Fitted     *Fitted  `json:"fitted,omitempty" doc:"What is or was there"`
	Body       *Body    `json:"body,omitempty" doc:"What fits; where left out nothing is refused for its body"`
	Note       string   `json:"note,omitempty" maxLength:"400"`
}

// Fitted is the capacitor in place, as marked.
type Fitted struct {
	CapacitanceUF float64  `json:"capacitance_uf" unit:"µF" minimum:"0.000001" maximum:"20000"`
	RatedV        float64  `json:"rated_v" unit:"V" minimum:"1" maximum:"10000"`
	SurgeV        *float64 `json:"surge_v,omitempty" unit:"V" minimum:"1" maximum:"12000" doc:"Where marked; else the factors of IEC 60384-1 apply to electrolytics"`
	Style         string   `json:"style,omitempty" enum:"axial,radial,snap_in,can,box,disc"`
	SafetyClass   string   `json:"safety_class,omitempty" enum:"X1,X2,Y1,Y2" doc:"Class marked on it, for mains positions"`
	ESROhm        *float64 `json:"esr_ohm,omitempty" unit:"Ω" minimum:"0" maximum:"10000"`
	LeakOhm       *float64 `json:"leak_ohm,omitempty" unit:"Ω" minimum:"1000" maximum:"1e12" doc:"Leakage of what is fitted; for a unit of a stack its balancing resistor with it. A single capacitor's counts when readings are reproduced, never to lower a stress"`
	TolMinusPct   *float64 `json:"tol_minus_pct,omitempty" unit:"%" minimum:"0" maximum:"90"`
	TolPlusPct    *float64 `json:"tol_plus_pct,omitempty" unit:"%" minimum:"0" maximum:"200"`
	// Readings is its state; the members above are as marked.
	Readings *Readings `json:"readings,omitempty" doc:"What was measured and seen of it, out of circuit"`
}

// Body is the room there is.
type Body struct {
	Styles        []string `json:"styles,omitempty" enum:"axial,radial,snap_in,can,box,disc" maxItems:"6"`
	MaxDiameterMM *float64 `json:"max_diameter_mm,omitempty" unit:"mm" minimum:"1" maximum:"200"`
	MaxLengthMM   *float64 `json:"max_length_mm,omitempty" unit:"mm" minimum:"1" maximum:"300"`
	ClampMM       *float64 `json:"clamp_mm,omitempty" unit:"mm" minimum:"5" maximum:"200" doc:"Diameter a clamp holds, within 1 mm"`
	LeadPitchMM   *float64 `json:"lead_pitch_mm,omitempty" unit:"mm" minimum:"1" maximum:"100" doc:"Hole spacing on a board, within 0.5 mm"`
}

// Sign gives −1 for a negative supply, +1 for any other.
func (s *Supply) Sign() float64 {
	if s.Polarity == "negative" {
		return -1
	}
	return 1
}

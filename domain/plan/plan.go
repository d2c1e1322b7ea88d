// Package plan does the whole job for one amplifier: from its description and
// the shop's policy to what each position must withstand, what is fitted and
// whether it may stay, the part picked, why others were refused, the cheapest
// order, what was assumed, and the cautions.
//
// It works in two steps, so that a catalogue of any size stays in its store:
// Assess finds the stresses and the windows of parts worth asking for; Make
// judges the parts found and picks.
package plan

import (
	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/supply"
)

// Status says whether every position that needs a part got one.
type Status string

// The statuses. Incomplete is a result with reasons, not an error.
const (
	Made       Status = "made"
	Incomplete Status = "incomplete"
)

// Plan is the answer for one amplifier.
type Plan struct {
	// ID and MadeAt are set by whoever keeps the plan.
	ID        string        `json:"id,omitempty"`
	MadeAt    string        `json:"made_at,omitempty" format:"date-time"`
	AmpID     string        `json:"amp_id,omitempty"`
	Amplifier string        `json:"amplifier"`
	Status    Status        `json:"status" enum:"made,incomplete"`
	Policy    derate.Policy `json:"policy"`
	Mains     Mains         `json:"mains"`
	Supplies  []Supply      `json:"supplies"`
	Positions []Position    `json:"positions"`
	Order     Order         `json:"order"`
	// Measure ranks the readings that would narrow the least certain cold voltage
	// most; Samples is how many draws the bands rest on, 0 where none were worked out.
	Measure []Measurement `json:"measure"`
	Samples int           `json:"samples"`
	// Discharge is how each supply empties, in the order of Supplies; Plug what the line's capacitors leave at the plug.
	Discharge []Discharge    `json:"discharge"`
	Plug      *PlugDischarge `json:"plug,omitempty"`
	BringUp   *BringUp       `json:"bring_up"`
	// Findings are nodes whose measured and drawn voltages disagree.
	Findings    []Finding    `json:"findings"`
	Assumptions []Assumption `json:"assumptions"`
	Cautions    []string     `json:"cautions"`
}

// Mains is what the plan designs for.
type Mains struct {
	NominalV    float64 `json:"nominal_v"`
	HighV       float64 `json:"high_v"`
	FrequencyHz float64 `json:"frequency_hz"`
}

// Supply is what was found of one supply. Voltages are magnitudes.
type Supply struct {
	Name       string  `json:"name"`
	Connection string  `json:"connection"`
	Polarity   string  `json:"polarity"`
	Rectifier  string  `json:"rectifier"`
	UnloadedV  float64 `json:"unloaded_v" doc:"RMS volts per conducting side, no load, at nominal mains"`
	SourceOhm  float64 `json:"source_ohm"`
	// NoLoadV is √2 × unloaded × high line (twice that for a doubler): what every
	// node without a bleeder floats up to.
	NoLoadV  float64 `json:"no_load_v"`
	Nodes    []Node  `json:"nodes"`
	Cases    []Case  `json:"cases"`
	Standby  string  `json:"standby" doc:"What the standby switch does and does not protect"`
	InrushA  float64 `json:"inrush_a" doc:"Highest peak current of the rectifier as fitted, all cases from cold"`
	InrushOf string  `json:"inrush_of"`
	// Limits are the published limits of the rectifier and of the tubes the
	// supply feeds, kept or passed. They warn; none decides about a capacitor.
	Limits []Limit `json:"limits"`
}

// Limit is one published limit of a tube held against what the plan found.
type Limit struct {
	Tube  string  `json:"tube"`
	Name  string  `json:"name" enum:"first_capacitor,source_resistance,peak_current,switch_on_current,peak_inverse,direct_current,plate_volts,plate_dissipation"`
	Kept  bool    `json:"kept"`
	Have  float64 `json:"have"`
	Limit float64 `json:"limit"`
	Unit  string  `json:"unit"`
	Text  string  `json:"text"`
	// FromMemory says that the tube's row rests, in whole or part, on figures nobody held in print.
	FromMemory bool   `json:"from_memory"`
	Source     string `json:"source"`
}

// Node is one node's voltages.
type Node struct {
	Name string `json:"name"`
	// GivenV is the reading used, normalised to nominal mains; nil where none was given.
	GivenV   *float64 `json:"given_v,omitempty"`
	LoadedV  float64  `json:"loaded_v" doc:"Simulated mean at nominal mains, idle"`
	HighV    float64  `json:"high_v" doc:"Simulated mean at high line, idle"`
	ColdV    float64  `json:"cold_v" doc:"Highest of the mandatory cases"`
	ColdCase string   `json:"cold_case"`
	LoadMA   float64  `json:"load_ma" doc:"Current the node itself feeds at idle, nominal mains"`
}

// Case is one service case that was simulated.
type Case struct {
	Name      string `json:"name"`
	Title     string `json:"title"`
	Mandatory bool   `json:"mandatory"`
	Text      string `json:"text"`
}

// Action is what to do at a position.
type Action string

// The actions.
const (
	Keep         Action = "keep"
	Replace      Action = "replace"
	ReplaceValue Action = "replace_with_another_value"
	Remove       Action = "remove"
	Add          Action = "add"
	NoPart       Action = "no_part_fits"  // wanted, and no part in the catalogue passes
	MeasureFirst Action = "measure_first" // too little is known to buy for: see Plan.Measure
)

// Position is one position's stress, verdict, action and pick.
type Position struct {
	Ref    string        `json:"ref"`
	Role   amp.Role      `json:"role"`
	Node   string        `json:"node,omitempty"`
	Stress derate.Stress `json:"stress"`
	Fitted *Fitted       `json:"fitted,omitempty"`
	Action Action        `json:"action" enum:"keep,replace,replace_with_another_value,remove,add,no_part_fits,measure_first"`
	Why    string        `json:"why"`
	Pick   *Pick         `json:"pick,omitempty"`
	// Alternate is the second source: the cheapest other part that passes.
	Alternate  *Pick     `json:"alternate,omitempty"`
	Refused    []Refusal `json:"refused" doc:"The three cheapest refused candidates"`
	Considered int       `json:"considered" doc:"Parts judged for this position"`
	Passed     int       `json:"passed"`
}

// Fitted is the verdict on what is in place.
type Fitted struct {
	CapacitanceUF float64        `json:"capacitance_uf"`
	RatedV        float64        `json:"rated_v"`
	SurgeV        float64        `json:"surge_v,omitempty"`
	Verdict       string         `json:"verdict" enum:"sound,at_risk,unfit" doc:"Of its ratings alone"`
	Checks        []derate.Check `json:"checks"`
	// Condition is judged by what was measured and seen, apart from the ratings.
	Condition derate.Condition `json:"condition"`
	Text      string           `json:"text"`
}

// Pick is a part that passes at a position, with its margins.
type Pick struct {
	Maker         string         `json:"maker"`
	PartNumber    string         `json:"part_number"`
	Series        string         `json:"series"`
	Style         part.Style     `json:"style"`
	CapacitanceUF float64        `json:"capacitance_uf"`
	RatedV        float64        `json:"rated_v"`
	TolPlusPct    float64        `json:"tol_plus_pct"`
	DiameterMM    float64        `json:"diameter_mm"`
	LengthMM      float64        `json:"length_mm"`
	LifeYears     float64        `json:"life_years,omitempty"`
	Checks        []derate.Check `json:"checks"`
	// Assumed are the figures that neither the part nor its series gives.
	Assumed   []part.Figure `json:"assumed,omitempty"`
	UnitPrice part.Money    `json:"unit_price" doc:"Least price for one piece's need, before the whole order is weighed"`
	Currency  string        `json:"currency"`
}

// Refusal is a candidate that failed, with every check it failed.
type Refusal struct {
	Maker         string         `json:"maker"`
	PartNumber    string         `json:"part_number"`
	CapacitanceUF float64        `json:"capacitance_uf"`
	RatedV        float64        `json:"rated_v"`
	UnitPrice     *part.Money    `json:"unit_price,omitempty"`
	Failed        []derate.Check `json:"failed"`
}

// Order is what to buy.
type Order struct {
	Currency   string      `json:"currency"`
	Lines      []OrderLine `json:"lines"`
	LinesTotal part.Money  `json:"lines_total"`
	LineCosts  part.Money  `json:"line_costs" doc:"Cost of handling the distinct lines, by policy"`
	Total      part.Money  `json:"total"`
	// Proven says that no cheaper order of parts that pass exists; else LowerBound tells how far it may be off.
	Proven     bool       `json:"proven"`
	LowerBound part.Money `json:"lower_bound"`
	Short      []Short    `json:"short" doc:"Positions for which no stock sufficed"`
}

// OrderLine is one line.
type OrderLine struct {
	Supplier   string     `json:"supplier"`
	SKU        string     `json:"sku"`
	Maker      string     `json:"maker"`
	PartNumber string     `json:"part_number"`
	Text       string     `json:"text"`
	Refs       []string   `json:"refs"`
	Quantity   int        `json:"quantity"`
	ForUse     int        `json:"for_use"`
	UnitPrice  part.Money `json:"unit_price"`
	Total      part.Money `json:"total"`
	LeadDays   int        `json:"lead_days"`
}

// Short is a position that no stock could fill.
type Short struct {
	Ref    string `json:"ref"`
	Reason string `json:"reason"`
}

// Assumption is a figure that was not given and what was taken for it.
type Assumption = supply.Assumption

// Window is the range of parts worth asking a catalogue for.
type Window struct {
	Technologies []part.Technology
	MinUF, MaxUF float64
	MinRatedV    float64
}

// Catalogue is what a store found for the windows: parts, and their series by name.
type Catalogue struct {
	Series []part.Series
	Parts  []part.Part
}

// Package part is a capacitor as a catalogue knows it: its ratings, the
// curves of its series, its body, and what suppliers ask for it.
//
// Members carry their unit. A figure that is not known is left out, and is
// then nil (pointers) or empty (slices); zero is never "not known". Effective
// puts a part's own figures, its series' and assumed ones together, and says
// of each which it is.
package part

// Technology is what a capacitor is made as; it decides which roles it may take.
type Technology string

// The technologies.
const (
	Electrolytic Technology = "electrolytic" // aluminium, liquid electrolyte, polarised
	Film         Technology = "film"         // plastic film, not safety-rated
	SafetyX      Technology = "safety_x"     // IEC 60384-14 class X, across the line
	SafetyY      Technology = "safety_y"     // IEC 60384-14 class Y, line to chassis
)

// Style is the shape of a body and how it is held.
type Style string

// The styles.
const (
	Axial  Style = "axial"
	Radial Style = "radial"
	SnapIn Style = "snap_in"
	Can    Style = "can"  // twist-lock or clamp-mounted, one or more sections
	Box    Style = "box"  // moulded box, radial leads
	Disc   Style = "disc" // ceramic disc
)

// Part is one catalogue part.
type Part struct {
	Maker      string `json:"maker" minLength:"1" maxLength:"80"`
	PartNumber string `json:"part_number" minLength:"1" maxLength:"80" doc:"The maker's part number; unique with the maker in the shop"`
	// Series is left out where a shop knows a part by its own figures alone.
	Series     string     `json:"series,omitempty" maxLength:"60" doc:"Name of a series in the shop"`
	Technology Technology `json:"technology" enum:"electrolytic,film,safety_x,safety_y"`
	Style      Style      `json:"style" enum:"axial,radial,snap_in,can,box,disc"`
	// CapacitanceUF is the nominal value; of the first section where there are several.
	CapacitanceUF float64 `json:"capacitance_uf" unit:"µF" minimum:"0.000001" maximum:"100000"`
	// FurtherSectionsUF are the other sections of a can that share its negative.
	FurtherSectionsUF []float64 `json:"further_sections_uf,omitempty" unit:"µF" maxItems:"5" minimum:"0.000001" maximum:"100000"`
	Tolerance
	// RatedV is the rated direct voltage; for safety classes the rated AC RMS volts stand in RatedVAC.
	RatedV      float64  `json:"rated_v" unit:"V" minimum:"1" maximum:"10000"`
	RatedVAC    *float64 `json:"rated_v_ac,omitempty" unit:"V" minimum:"1" maximum:"2000"`
	SafetyClass string   `json:"safety_class,omitempty" enum:"X1,X2,Y1,Y2" doc:"Class by IEC 60384-14"`
	// SurgeV is the maker's surge voltage; where left out the series' ratio or the factors of IEC 60384-1 apply.
	SurgeV *float64 `json:"surge_v,omitempty" unit:"V" minimum:"1" maximum:"12000"`
	// RippleMA is the rated ripple current at base_hz and max_c.
	RippleMA *float64 `json:"ripple_ma,omitempty" unit:"mA" minimum:"0.1" maximum:"100000"`
	ESROhm   *float64 `json:"esr_ohm,omitempty" unit:"Ω" exclusiveMinimum:"0" maximum:"10000"`
	// LeakageUA is the maximum leakage at rated volts and 20 °C after LeakageMin
	// minutes; it comes before any leakage law.
	LeakageUA  *float64 `json:"leakage_ua,omitempty" unit:"µA" minimum:"0" maximum:"1000000"`
	LeakageMin *float64 `json:"leakage_min,omitempty" unit:"min" exclusiveMinimum:"0" maximum:"120" doc:"Minutes at rated volts after which leakage_ua is read"`
	// Ratings are the part's own where it differs from its series, or has none.
	Ratings
	// A part without its size may be stored; it is never picked.
	DiameterMM *float64 `json:"diameter_mm,omitempty" unit:"mm" exclusiveMinimum:"0" maximum:"200" doc:"Diameter; for a box its width"`
	LengthMM   *float64 `json:"length_mm,omitempty" unit:"mm" exclusiveMinimum:"0" maximum:"300" doc:"Length or height of the body"`
	// ThicknessMM is the third dimension of a box.
	ThicknessMM *float64 `json:"thickness_mm,omitempty" unit:"mm" exclusiveMinimum:"0" maximum:"200"`
	LeadPitchMM *float64 `json:"lead_pitch_mm,omitempty" unit:"mm" exclusiveMinimum:"0" maximum:"200"`
	Note        string   `json:"note,omitempty" maxLength:"400"`
	Offers      []Offer  `json:"offers,omitempty" maxItems:"20"`
}

// Offer is what one supplier asks for a part.
type Offer struct {
	Supplier  string  `json:"supplier" minLength:"1" maxLength:"80"`
	SKU       string  `json:"sku" minLength:"1" maxLength:"80" doc:"The supplier's order code"`
	Currency  string  `json:"currency" minLength:"3" maxLength:"3" doc:"ISO 4217 code"`
	Breaks    []Break `json:"breaks" minItems:"1" maxItems:"20" doc:"Price breaks, ascending in min_qty"`
	Pack      int     `json:"pack" minimum:"1" maximum:"100000" doc:"Sold in multiples of this"`
	MinQty    int     `json:"min_qty" minimum:"1" maximum:"1000000" doc:"Least quantity per order"`
	Stock     int     `json:"stock" minimum:"0" maximum:"100000000"`
	LeadDays  int     `json:"lead_days" minimum:"0" maximum:"1000" doc:"Days until delivery"`
	Preferred bool    `json:"preferred,omitempty"`
}

// Break is a price that holds from a quantity up.
type Break struct {
	MinQty    int   `json:"min_qty" minimum:"1" maximum:"1000000"`
	UnitPrice Money `json:"unit_price" doc:"Decimal string, up to six decimals"`
}

// Sections counts the sections of a can; 1 for everything else.
func (p *Part) Sections() int { return 1 + len(p.FurtherSectionsUF) }

// Key identifies a part in a shop: maker and part number as printed.
func (p *Part) Key() string { return p.Maker + " " + p.PartNumber }

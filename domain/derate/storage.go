package derate

import (
	"fmt"
	"math"
	"time"

	"coldrise/domain/document"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// OldStock is a part from a drawer, as marked, and how long it has lain there.
type OldStock struct {
	Technology    part.Technology `json:"technology,omitempty" enum:"electrolytic,film,safety_x,safety_y" doc:"Default electrolytic"`
	Style         part.Style      `json:"style,omitempty" enum:"axial,radial,snap_in,can,box,disc"`
	CapacitanceUF float64         `json:"capacitance_uf" unit:"µF" minimum:"0.000001" maximum:"100000" example:"47"`
	RatedV        float64         `json:"rated_v" unit:"V" minimum:"1" maximum:"1000" example:"450"`
	DateCode      string          `json:"date_code,omitempty" maxLength:"20" doc:"As marked, such as 1208 or X5; its oldest reading counts" example:"1208"`
	StoredYears   *float64        `json:"stored_years,omitempty" unit:"a" minimum:"0" maximum:"120" doc:"Years without voltage; default the age by date_code"`
	// StorageC is how warm the store is as a rule; below 35 °C nothing is gained.
	StorageC *float64 `json:"storage_c,omitempty" unit:"°C" minimum:"-40" maximum:"85" doc:"How warm the store is as a rule; default 25 °C"`
	// Storage is the maker's own word, where the series is known.
	Storage *part.Storage `json:"storage,omitempty"`
}

// Check adds what is wrong with a drawer part beyond the shape of its JSON.
// today may be zero; then no date lies in the future.
func (o *OldStock) Check(today time.Time, l *problem.List) {
	if o.DateCode == "" {
		if o.StoredYears == nil {
			l.Addf("/date_code", "is required where stored_years is not given: how long it has lain decides what it needs")
		}
		return
	}
	made, err := quantity.ParseDateCode(o.DateCode, today)
	if err != nil {
		f := problem.As(err).Faults[0]
		f.Pointer = "/date_code"
		l.Add(f)
		return
	}
	if oldest := made[0].Years(today); o.StoredYears != nil && !today.IsZero() && *o.StoredYears > oldest+1 {
		l.Add(problem.Fault{Pointer: "/stored_years", Value: fmt.Sprintf("%g", *o.StoredYears), Limit: fmt.Sprintf("at most %.1f", oldest+1), Unit: "a",
			Message: "is longer than the part has existed by its date_code (" + made[0].Text + ")"})
	}
}

// ParseOldStock reads a drawer part on a day, strictly. The error is a
// *problem.Error: malformed, or invalid with all faults.
func ParseOldStock(data []byte, today time.Time) (*OldStock, error) {
	o := &OldStock{}
	if err := document.Decode(data, o, "old stock", func(l *problem.List) { o.Check(today, l) }); err != nil {
		return nil, err
	}
	return o, nil
}

// What a drawer part needs.
const (
	StockAsItIs = "as_it_is" // fit it
	StockTest   = "test"     // read its leakage; reform it only if that is high
	StockReform = "reform"
	StockRefuse = "refuse"
)

// StockAdvice is what a drawer part needs before it may be fitted.
type StockAdvice struct {
	Verdict string  `json:"verdict" enum:"as_it_is,test,reform,refuse"`
	Years   float64 `json:"years" doc:"Without voltage"`
	How     string  `json:"how" doc:"How the years are known"`
	// CountedYears is the same at 35 °C: a warmer store ages a part sooner.
	CountedYears float64 `json:"counted_years"`
	LimitYears   float64 `json:"limit_years" doc:"Beyond which it is refused: the policy's, or the maker's where that is less"`
	LimitSource  string  `json:"limit_source"`
	// LeakageUA is what a sound part of this marking may leak 5 min after rated volts are on.
	LeakageUA     float64 `json:"leakage_ua,omitempty"`
	LeakageSource string  `json:"leakage_source,omitempty"`
	// ExpectedUA is what storage may have made of it; left out where nothing is published.
	ExpectedUA     *float64 `json:"expected_ua,omitempty"`
	ExpectedSource string   `json:"expected_source,omitempty"`
	Recipe         *Recipe  `json:"recipe,omitempty"`
	Text           string   `json:"text"`
	Cautions       []string `json:"cautions"`
}

// Figures of storage.
const (
	assumedStoreC = 25 // a room; common practice
	shelfC        = 35 // up to where the shelf figures hold: CDE 1993, and a maker's text
	testYears     = 3  // CDE 1993: test at 3 years; usually re-age at 4
	shelfTest     = 2.5

	sourceTwoYears = "a maker's text quoted in a forum: no reforming needed within 2 years at 5 to 35 °C; CDE 1993: a year in specification"
	sourceShelfCDE = "CDE 1993, shelf at 35 °C: 3 years test, 4 usually re-age, 5 good after re-ageing, 10 the end of shelf life"
	sourceExpected = "Vishay 056/057 PSM-SI, table 5: 500 h at 85 °C without voltage at most double it; 1000 h is some 5 years of storage (secondary text)"
)

// JudgeStock says what a drawer part needs. The part must have passed Check;
// today is the day its age is counted to. The same part, day and policy give
// the same advice.
func JudgeStock(o OldStock, today time.Time, p Policy) StockAdvice {
	a := StockAdvice{LimitYears: p.StockYears, LimitSource: "policy " + p.Name + "; " + sourceShelfCDE, Cautions: []string{}}
	known := false
	if a.Years, a.How, known = o.years(today); !known {
		a.Verdict, a.Text = StockRefuse, "how long it has lain is not known, so it is refused"
		return a
	}
	a.CountedYears = a.Years * warmth(o.StorageC)
	reformAfter, source := 2.0, sourceTwoYears
	if s := o.Storage; s != nil {
		if s.ReformAfterYears != nil {
			reformAfter, source = *s.ReformAfterYears, "its maker's figure"
		}
		if s.MaxYears != nil && *s.MaxYears < a.LimitYears {
			a.LimitYears, a.LimitSource = *s.MaxYears, "its maker's figure"
		}
	}
	if o.Technology != "" && o.Technology != part.Electrolytic {
		a.Verdict, a.LimitSource = StockAsItIs, "common practice"
		a.Text = "it is no electrolytic: storage does not undo its dielectric. Read its capacitance and insulation, and fit it"
		return a
	}
	a.leakage(o)
	switch {
	case a.CountedYears > a.LimitYears:
		a.Verdict = StockRefuse
		a.Text = fmt.Sprintf("%s without voltage%s, beyond the %.3g years after which it is refused (%s). Do not put volts on it to see: buy a new one",
			years(a.Years), a.counted(), a.LimitYears, a.LimitSource)
		return a
	case a.CountedYears <= reformAfter:
		a.Verdict = StockAsItIs
		a.Text = fmt.Sprintf("%s without voltage%s: it needs no reforming (%s)", years(a.Years), a.counted(), source)
		return a
	case a.CountedYears <= testYears:
		a.Verdict = StockTest
		a.Text = fmt.Sprintf("%s without voltage%s: bring it to its rated volts as below and read its leakage; at %s or less after 5 min it is fitted without more (%s)",
			years(a.Years), a.counted(), microamp(a.LeakageUA), sourceShelfCDE)
	default:
		a.Verdict = StockReform
		a.Text = fmt.Sprintf("%s without voltage%s: reform it before it is fitted (%s)", years(a.Years), a.counted(), sourceShelfCDE)
	}
	a.Recipe = recipeFor(o, a.CountedYears, a.LeakageUA)
	a.Cautions = append(a.Cautions, reformCautions...)
	return a
}

// years gives how long the part has lain, and how that is known.
func (o *OldStock) years(today time.Time) (years float64, how string, known bool) {
	if o.StoredYears != nil {
		return *o.StoredYears, "as stated", true
	}
	made, err := quantity.ParseDateCode(o.DateCode, today)
	if err != nil || today.IsZero() {
		return 0, "", false
	}
	return made[0].Years(today), quantity.Reads(o.DateCode, made), true
}

// warmth is how much sooner a part ages in a store above the 35 °C that shelf
// figures hold at: twice for every 10 K, the rule of life (common practice for
// storage). Nothing is gained below.
func warmth(c *float64) float64 {
	celsius := float64(assumedStoreC)
	if c != nil {
		celsius = *c
	}
	return math.Pow(2, math.Max(celsius-shelfC, 0)/10)
}

func (a *StockAdvice) counted() string {
	if a.CountedYears <= a.Years {
		return ""
	}
	return fmt.Sprintf(" in a warm store, which counts as %s at %d °C", years(a.CountedYears), shelfC)
}

func years(v float64) string { return fmt.Sprintf("%.3g years", v) }

// leakage fills in what it may leak when formed, and what storage may have made of it.
func (a *StockAdvice) leakage(o OldStock) {
	law, source := NewLeakage(o.RatedV, 5)
	a.LeakageUA, a.LeakageSource = law.UA(o.CapacitanceUF, o.RatedV), source
	if a.CountedYears <= shelfTest {
		expected := 2 * a.LeakageUA
		a.ExpectedUA, a.ExpectedSource = &expected, sourceExpected
	} else {
		a.ExpectedSource = "nothing is published beyond some 2.5 years; it may be many times that"
	}
}

package derate

import (
	"fmt"
	"math"

	"coldrise/domain/part"
	"coldrise/domain/quantity"
)

// Balance is the resistors across the units of a series stack, and how the
// units share the whole with them. Voltages are of the worst unit, at the
// highest cold voltage, which lasts where nothing is drawn.
type Balance struct {
	Units int `json:"units"`
	// Resistor stands across each unit.
	Resistor Resistor      `json:"resistor" doc:"Across each unit"`
	AsDrawn  bool          `json:"as_drawn,omitempty" doc:"Of the value the amplifier was described with"`
	MaxOhm   float64       `json:"max_ohm" doc:"The largest that every deciding rule allows"`
	Rules    []BalanceRule `json:"rules"`
	WholeV   float64       `json:"whole_v" doc:"Across the stack: the highest cold voltage"`
	// ChargingPct goes by capacitance within its tolerance, StandingPct by the
	// largest leakage of all but one unit and the resistors' tolerance.
	ChargingPct float64 `json:"charging_pct"`
	ChargingV   float64 `json:"charging_v"`
	StandingPct float64 `json:"standing_pct"`
	StandingV   float64 `json:"standing_v"`
	LeakageUA   float64 `json:"leakage_ua" doc:"Largest of a unit at its volts and warmth"`
	MA          float64 `json:"ma" doc:"Through the resistors at working volts"`
	WorkingW    float64 `json:"working_w" doc:"Most that one resistor turns into heat at working volts"`
	Text        string  `json:"text"`
	workingPct  float64 // StandingPct at working volts
}

// BalanceRule is one rule for the resistors.
type BalanceRule struct {
	MaxOhm     float64 `json:"max_ohm"`
	Text       string  `json:"text"`
	Source     string  `json:"source"`
	FromMemory bool    `json:"from_memory,omitempty" doc:"Shown, never deciding"`
}

const (
	// balanceTolPct is the tolerance of the resistors sold in E12 values. Common practice.
	balanceTolPct = 5
	// mostBalanceOhm keeps a balancing resistor well under a meter's 10 MΩ and
	// under what damp and flux leak. Common practice.
	mostBalanceOhm = 1e6

	sourceWorkingOverLeak = "Rubycon, technical notes on series connection: R = rated voltage / leakage"
	sourceReserve         = "a thread on balancing resistors (allaboutcircuits 194877): R = (n·U_rated − U)/leakage"
	sourceExact           = "Ohm's and Kirchhoff's laws: one unit does not leak and has the resistor at its upper tolerance, the others leak all they may"
	sourceCDEBalance      = "CDE application guide, from memory: R[MΩ] = (n·U_rated − U)/(0.0015·C[µF]·U)"
)

// StandingShare gives what one of n units takes of v volts over an even share,
// at rest: it does not leak and has ohm at its upper tolerance across it, the
// others leak leakA each and have ohm at its lower.
func StandingShare(v float64, n int, ohm, leakA, tolPct float64) float64 {
	if n < 2 || v <= 0 {
		return 1
	}
	high, low, others := ohm*(1+tolPct/100), ohm*(1-tolPct/100), float64(n-1)
	own := (v + others*low*leakA) / (1 + others*low/high)
	return math.Min(own/v, 1) * float64(n)
}

// mostFor is the largest resistor, Ω, with which no unit stands above least V
// of v in all: StandingShare solved for ohm. Not above 0 where none does.
func mostFor(v, unitV float64, n int, leakA, tolPct float64) float64 {
	others := float64(n - 1)
	k := (1 - tolPct/100) / (1 + tolPct/100)
	room := unitV*(1+others*k) - v
	if room <= 0 {
		return 0
	}
	return over(room, others*(1-tolPct/100)*leakA)
}

// over divides; where nothing leaks at all, any resistor serves.
func over(v, a float64) float64 {
	if a <= 0 {
		return mostBalanceOhm
	}
	return v / a
}

// BalanceOf works out the resistors for n alike parts in series that stand for
// the whole of a stress; drawnOhm, where above 0, is kept if it serves. Where no
// resistor serves, or the leakage is not known, it says why and gives false.
func BalanceOf(whole Stress, e *part.Effective, n int, drawnOhm float64, p Policy) (Balance, bool) {
	u := float64(n)
	b := Balance{Units: n, WholeV: whole.Worst.V, ChargingPct: 100 * StackSplit(e.TolMinusPct.Value, e.TolPlusPct.Value, n)}
	b.ChargingV = b.ChargingPct / 100 * b.WholeV
	if !e.LeakageUA.Known() {
		b.Text = "its leakage is not given: no balancing resistor can be worked out"
		return b, false
	}
	rated := e.RatedV.Value
	b.LeakageUA = e.LeakageUA.Value * leakageAt(b.WholeV/u/rated, whole.AmbientC)
	b.rules(whole, e, p)
	b.MaxOhm = mostBalanceOhm
	for _, r := range b.Rules {
		if !r.FromMemory {
			b.MaxOhm = math.Min(b.MaxOhm, r.MaxOhm)
		}
	}
	if b.MaxOhm <= 0 {
		b.Text = fmt.Sprintf("no balancing resistor holds %d units of %.0f V together under %.0f V", n, rated, b.WholeV)
		return b, false
	}
	if !b.fit(whole, drawnOhm) {
		b.Text = fmt.Sprintf("no ordinary resistor of %s or less stands %.0f V across a unit", quantity.Print(b.MaxOhm, quantity.Ohm, 3), b.WholeV/u)
		return b, false
	}
	b.Text = b.text()
	return b, true
}

// rules lists the published rules, the exact one, and one from memory.
func (b *Balance) rules(whole Stress, e *part.Effective, p Policy) {
	n, rated := float64(b.Units), e.RatedV.Value
	printed := e.LeakageUA.Value * 1e-6
	b.add(over(rated, printed), fmt.Sprintf("%.4g V over the %.3g µA a part may leak", rated, e.LeakageUA.Value), sourceWorkingOverLeak, false)
	b.add(over(math.Max(n*rated-b.WholeV, 0), printed), fmt.Sprintf("%.0f × %.4g V less %.0f V, over %.3g µA", n, rated, b.WholeV, e.LeakageUA.Value), sourceReserve, false)
	warm := b.LeakageUA * 1e-6
	cold, work := mostFor(b.WholeV, rated, b.Units, warm, balanceTolPct), mostFor(whole.WorkingV, math.Min(p.WorkingShare, 1)*rated, b.Units, warm, balanceTolPct)
	b.add(math.Min(cold, work), fmt.Sprintf("no unit above %.4g V cold nor above %.0f %% of it working, with %.3g µA at %.0f °C and ±%d %% resistors",
		rated, 100*math.Min(p.WorkingShare, 1), b.LeakageUA, whole.AmbientC, balanceTolPct), sourceExact, false)
	if uf := e.CapacitanceUF.Value; uf > 0 && b.WholeV > 0 {
		b.add(math.Max(n*rated-b.WholeV, 0)/(0.0015*uf*b.WholeV)*1e6, fmt.Sprintf("by %.4g µF", uf), sourceCDEBalance, true)
	}
}

func (b *Balance) add(ohm float64, text, source string, fromMemory bool) {
	b.Rules = append(b.Rules, BalanceRule{MaxOhm: ohm, Text: text, Source: source, FromMemory: fromMemory})
}

// fit chooses the resistors and works out how the stack stands with them.
func (b *Balance) fit(whole Stress, drawnOhm float64) bool {
	u := float64(b.Units)
	for _, most := range []float64{drawnOhm, b.MaxOhm} {
		if most <= 0 || most > b.MaxOhm {
			continue
		}
		// The voltage across a unit falls with its resistor, so the even share at the
		// largest one, raised by leakage, is on the safe side.
		work := whole.WorkingV / u * b.share(whole.WorkingV, most)
		cold := b.WholeV / u * b.share(b.WholeV, most)
		r, ok := FitResistor(most*(1+1e-9), work, cold)
		if !ok || most == drawnOhm && math.Abs(r.Ohm/drawnOhm-1) > 1e-6 {
			continue
		}
		b.Resistor, b.AsDrawn = r, most == drawnOhm
		b.StandingPct = 100 * b.share(b.WholeV, r.Ohm) / u
		b.workingPct = 100 * b.share(whole.WorkingV, r.Ohm) / u
		b.StandingV = b.StandingPct / 100 * b.WholeV
		b.MA = whole.WorkingV / u / r.Ohm * 1000
		unit := b.workingPct / 100 * whole.WorkingV
		b.WorkingW = unit * unit / r.Ohm
		return true
	}
	return false
}

func (b *Balance) share(v, ohm float64) float64 {
	return StandingShare(v, b.Units, ohm, b.LeakageUA*1e-6, balanceTolPct)
}

func (b *Balance) text() string {
	r := b.Resistor
	each := fmt.Sprintf("%s, %.3g W, rated %.0f V", quantity.Print(r.EachOhm, quantity.Ohm, 3), r.EachW, r.EachV)
	if r.Pieces > 1 {
		each = fmt.Sprintf("%d × %s, %.3g W, rated %.0f V each, in series", r.Pieces, quantity.Print(r.EachOhm, quantity.Ohm, 3), r.EachW, r.EachV)
	}
	text := fmt.Sprintf("across each of the %d units %s (%.2g mA, %.2g W at most). Of %.0f V cold the worst unit takes %.0f V while it charges (%.1f %%, by its tolerance) and stands at %.0f V (%.1f %%, by leakage and ±%d %% resistors)",
		b.Units, each, b.MA, b.WorkingW, b.WholeV, b.ChargingV, b.ChargingPct, b.StandingV, b.StandingPct, balanceTolPct)
	if b.AsDrawn {
		text += "; the value drawn serves"
	}
	return text
}

package plan

import (
	"fmt"
	"math"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
)

// PlugDischarge is what remains between the pins of the mains plug.
type PlugDischarge struct {
	CapacitanceUF float64            `json:"capacitance_uf" doc:"Across the line, fitted or picked, at upper tolerance"`
	PeakV         float64            `json:"peak_v" doc:"Of the line at its highest"`
	Needed        bool               `json:"needed" doc:"More stands across the line than 0.1 µF, which needs no discharge"`
	HaveOhm       *float64           `json:"have_ohm,omitempty" doc:"Stated resistors together"`
	Limits        []derate.PlugLimit `json:"limits"`
	// Proposed keeps every limit; nil where none is needed or what is there keeps them.
	Proposed *derate.Resistor `json:"proposed,omitempty"`
	ProposeW float64          `json:"propose_w,omitempty"`
	Text     string           `json:"text"`
}

// plugDischarge looks at what stands across the line; nil where nothing does.
func plugDischarge(a *amp.Amplifier, positions []Position, m Mains) *PlugDischarge {
	d := &PlugDischarge{PeakV: math.Sqrt2 * m.HighV, Limits: []derate.PlugLimit{}}
	nominal, siemens := 0.0, 0.0
	for i := range a.Positions {
		if positions[i].Role != amp.MainsX || positions[i].Action == Remove {
			continue
		}
		plain, most := plugUF(&positions[i])
		nominal, d.CapacitanceUF = nominal+plain, d.CapacitanceUF+most
		if r := a.Positions[i].BleederOhm; r != nil {
			siemens += 1 / *r
		}
	}
	if nominal == 0 {
		return nil
	}
	d.Needed = nominal > derate.FreeXUF
	have := 0.0
	if siemens > 0 {
		ohm := 1 / siemens
		d.HaveOhm, have = &ohm, ohm*slow
	}
	if !d.Needed {
		d.Text = fmt.Sprintf("%s across the line needs no discharge resistor by IEC 60335 (0.1 µF and less). The pins can still sting for a while after unplugging", uf(nominal))
		return d
	}
	d.Limits = derate.PlugLimits(d.CapacitanceUF*1e-6, d.PeakV, have)
	d.judge()
	return d
}

// plugUF gives the nominal value at a position across the line, fitted or
// picked, whichever is more, and the most it may be. ±20 % holds for both.
func plugUF(p *Position) (nominal, most float64) {
	nominal = p.Stress.Window.OriginalUF
	most = nominal * 1.2
	if p.Pick != nil {
		nominal, most = math.Max(nominal, p.Pick.CapacitanceUF), math.Max(most, p.Pick.CapacitanceUF*(1+p.Pick.TolPlusPct/100))
	}
	return nominal, most
}

// judge holds what is there against the limits, and proposes what keeps them all.
func (d *PlugDischarge) judge() {
	kept, most := d.HaveOhm != nil, math.Inf(1)
	var failed []string
	for _, l := range d.Limits {
		most = math.Min(most, l.MaxOhm/slow)
		if !l.Kept {
			kept = false
			failed = append(failed, l.Text)
		}
	}
	head := fmt.Sprintf("Up to %s stands across the line.", uf(d.CapacitanceUF))
	if kept {
		d.Text = head + fmt.Sprintf(" The %s stated across it keeps the published limits of discharge at the plug, if it is whole: measure it", ohms(*d.HaveOhm))
		return
	}
	if d.HaveOhm == nil {
		head += " No resistor is stated across it: no safe time can be given for the pins of the plug."
	} else {
		head += fmt.Sprintf(" The %s stated across it does not keep: %s.", ohms(*d.HaveOhm), strings.Join(failed, "; "))
	}
	rms := d.PeakV / math.Sqrt2
	// Two in series, so that one shorted piece does not put the line across the other's watts alone.
	fit, ok := derate.FitSeries(most, rms, d.PeakV, 2)
	if !ok {
		d.Text = head + " No ordinary resistor keeps the limits: let licensed practice settle it"
		return
	}
	d.Proposed, d.ProposeW = &fit, rms*rms/fit.Ohm
	d.Text = head + fmt.Sprintf(" %d × %s in series (%.3g W, rated %.0f V each) keep every published limit and dissipate %.2g W; that work belongs to licensed practice",
		fit.Pieces, ohms(fit.EachOhm), fit.EachW, fit.EachV, d.ProposeW)
}

package derate

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
)

// CanSection is one section of a can in use: which, counted from 0, and what
// its position asks of it.
type CanSection struct {
	Section int
	Stress  Stress
}

const (
	sourceCanHeat = "one printed ripple figure is the first section's with the others idle; a further section's goes as √C, since ESR goes as 1/C, " +
		"and all together may heat the can no more than that figure does (our rule, on the safe side)"
	sourceSections = "policy spare_sections; a section left over stays open (common practice)"
)

// SectionUF gives the capacitance of section k of a part, counted from 0.
func (r Rated) SectionUF(k int) float64 {
	if k == 0 {
		return r.Part.CapacitanceUF
	}
	return r.Part.FurtherSectionsUF[k-1]
}

// Section gives section k of a can as a part by itself, its ripple current and
// ESR carried over from the first by capacitance. The leakage stays that of the
// whole can, and so does the body.
func (r Rated) Section(k int) Rated {
	out := r
	ratio := r.SectionUF(k) / r.Part.CapacitanceUF
	out.Part.CapacitanceUF, out.Part.FurtherSectionsUF = r.SectionUF(k), nil
	if r.Part.RippleMA != nil {
		ripple := *r.Part.RippleMA * math.Sqrt(ratio)
		out.Part.RippleMA = &ripple
	}
	if r.Part.ESROhm != nil {
		esr := *r.Part.ESROhm / ratio
		out.Part.ESROhm = &esr
	}
	return out
}

// JudgeSection holds section k of a can against one position: value, volts and
// the section's own share of ripple. The can's heat, life and body are JudgeCan's.
func JudgeSection(s Stress, r Rated, k int, p Policy) Verdict {
	s.Body = nil
	v := Judge(s, r.Section(k), p)
	kept := v.Checks[:0]
	for _, c := range v.Checks {
		switch c.Name {
		case "sections", "temperature", "life":
		default:
			kept = append(kept, c)
		}
	}
	v.Checks, v.LifeYears = kept, 0
	v.Pass = decides(v.Checks)
	return v
}

// JudgeCan holds a can as a whole against its room: the body and its clamp, the
// sections left over, and the heat of all sections in use, which decides its
// temperature and its life. Its sections are JudgeSection's to judge.
func JudgeCan(used []CanSection, r Rated, room *amp.Body, p Policy) Verdict {
	v := Verdict{Maker: r.Part.Maker, PartNumber: r.Part.PartNumber}
	e := r.Part.Effective(&r.Series)
	v.Checks = append(v.Checks, spareSections(&r, used, p))
	heat, years := heatAndLife(canStress(used, r), &e, p)
	for i := range heat {
		heat[i].Text = "the whole can " + heat[i].Text
		if heat[i].Name == "ripple" {
			heat[i].Source = sourceCanHeat
		}
	}
	v.Checks, v.LifeYears = append(v.Checks, heat...), years
	v.Checks = append(v.Checks, body(room, &r.Part)...)
	v.Pass = decides(v.Checks)
	v.Assumed = assumed(v.Checks, &e)
	return v
}

// canStress is what heats the can, in terms of its first section: a current in
// a section of other capacitance heats as one by the root of the ratio does in
// the first.
func canStress(used []CanSection, r Rated) Stress {
	out := Stress{Role: used[0].Stress.Role}
	for _, u := range used {
		k := math.Sqrt(r.Part.CapacitanceUF / r.SectionUF(u.Section))
		out.Ripple = append(out.Ripple, times(u.Stress.Ripple, k)...)
		idle := u.Stress.IdleRipple
		if len(idle) == 0 {
			idle = u.Stress.Ripple
		}
		out.IdleRipple = append(out.IdleRipple, times(idle, k)...)
		out.AmbientC = math.Max(out.AmbientC, u.Stress.AmbientC)
		out.WorkingV = math.Max(out.WorkingV, u.Stress.WorkingV)
	}
	return out
}

func spareSections(r *Rated, used []CanSection, p Policy) Check {
	spare := r.Part.Sections() - len(used)
	c := atMost("sections", float64(spare), float64(p.SpareSections), "sections", sourceSections)
	switch {
	case spare == 0:
		c.Text = fmt.Sprintf("all %d sections are in use", len(used))
	case c.Pass:
		c.Text = fmt.Sprintf("%d of %d sections stay open: leave their lugs bare of wires, and insulate them", spare, r.Part.Sections())
	default:
		c.Text = fmt.Sprintf("%d of %d sections would stay open; the policy allows %d", spare, r.Part.Sections(), p.SpareSections)
		c.Cure = fmt.Sprintf("spare_sections of %d in the policy", spare)
	}
	return c
}

package plan

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/quantity"
	"coldrise/domain/supply"
)

// assumedChassisC is the air beside the capacitors of a warm chassis where
// nobody measured it. Common practice.
const assumedChassisC = 50

// Assessment is the first half of a plan: all that does not depend on a catalogue.
type Assessment struct {
	plan      Plan
	described *amp.Amplifier // with the positions taken where none were given
	runs      []*run
	positions []amp.Position
	assumed   bool // the positions are taken, not given
	today     time.Time
}

// Assess works out what every position of an amplifier must withstand, and
// judges what is fitted. The amplifier must have passed amp.Parse or Check.
// It runs every supply in every service case, which takes a second or two;
// cancelled where ctx ends first, invalid where a winding cannot be fitted.
func Assess(ctx context.Context, a *amp.Amplifier, p derate.Policy) (*Assessment, error) {
	return AssessOn(ctx, a, p, time.Time{})
}

// AssessOn is Assess on a day, from which date codes are counted; with a zero
// day no age is known but those stated.
func AssessOn(ctx context.Context, a *amp.Amplifier, p derate.Policy, today time.Time) (*Assessment, error) {
	s := &Assessment{positions: withAssumedPositions(a), assumed: len(a.Positions) == 0, today: today}
	described := *a
	described.Positions = s.positions
	s.described = &described
	s.plan = Plan{Amplifier: a.Name, Policy: p, Findings: reconcile(a)}
	if s.assumed {
		s.plan.Assumptions = append(s.plan.Assumptions, Assumption{Pointer: "/positions", Value: float64(len(s.positions)),
			Text: "one capacitor at every node, of the values listed, since no position is given", Basis: "common practice"})
	}
	stresses := make([]derate.Stress, len(s.positions))
	for i := range a.Supplies {
		r, err := runSupply(ctx, &described, i)
		if err != nil {
			return nil, err
		}
		s.runs = append(s.runs, r)
		s.plan.Assumptions = appendNew(s.plan.Assumptions, r.model.Assumptions)
		s.plan.Supplies = append(s.plan.Supplies, r.report(&described))
		r.stresses(&described, p, stresses)
	}
	s.plan.Mains = Mains{NominalV: a.Mains.NominalV, HighV: s.runs[0].model.HighV, FrequencyHz: a.Mains.FrequencyHz}
	s.finishStresses(&described, p, s.runs, stresses)
	s.rejudge()
	return s, nil
}

// rejudge holds what is fitted against the stresses as they are known by now.
func (s *Assessment) rejudge() {
	s.judgeFitted(s.plan.Policy)
}

// judged gives the stress a policy judges by.
func judged(st derate.Stress, p derate.Policy) derate.Stress {
	if p.UseHighEnd {
		return st.AtHighEnd()
	}
	return st
}

// withAssumedPositions gives an amplifier without positions one at each node,
// so that the least description still gets an answer.
func withAssumedPositions(a *amp.Amplifier) []amp.Position {
	if len(a.Positions) > 0 {
		return a.Positions
	}
	var list []amp.Position
	for i := range a.Supplies {
		s := &a.Supplies[i]
		for k := range s.Nodes {
			role := amp.Smoothing
			if s.Polarity == "negative" {
				role = amp.Bias
			} else if k == 0 {
				role = amp.Reservoir
			}
			list = append(list, amp.Position{Ref: s.Name + " " + s.Nodes[k].Name, Role: role, Node: s.Name + "/" + s.Nodes[k].Name})
		}
	}
	return list
}

// appendNew adds assumptions, each pointer and text once: the mains' are every supply's.
func appendNew(have, more []Assumption) []Assumption {
	for _, m := range more {
		seen := false
		for _, h := range have {
			seen = seen || h.Pointer == m.Pointer && h.Text == m.Text
		}
		if !seen {
			have = append(have, m)
		}
	}
	return have
}

// finishStresses fills in what does not come from a supply's run: ambient,
// body, and the roles that no filter node carries.
func (s *Assessment) finishStresses(a *amp.Amplifier, p derate.Policy, runs []*run, stresses []derate.Stress) {
	assumedAir := false
	for i := range a.Positions {
		pos := &a.Positions[i]
		st := &stresses[i]
		st.Ref, st.Role, st.Node, st.Stack, st.Body = pos.Ref, pos.Role, pos.Node, pos.Stack, pos.Body
		switch {
		case pos.AmbientC != nil:
			st.AmbientC = *pos.AmbientC
		case a.ChassisC != nil:
			st.AmbientC = *a.ChassisC
		default:
			st.AmbientC, assumedAir = assumedChassisC, true
		}
		switch pos.Role {
		case amp.CathodeBypass:
			cathodeStress(st, pos, p, s.plan.Mains, a.Mains.MeasuredAtV)
		case amp.Coupling:
			couplingStress(st, pos, runs)
		case amp.MainsX, amp.MainsY:
			mainsStress(st, pos, p, s.plan.Mains)
		}
		if st.Peaks == nil {
			st.Peaks = []derate.CasePeak{}
		}
		if st.Ripple == nil {
			st.Ripple = []derate.Current{}
		}
	}
	if assumedAir {
		s.plan.Assumptions = appendNew(s.plan.Assumptions, []Assumption{{Pointer: "/chassis_c", Value: assumedChassisC, Unit: "°C",
			Text: "air beside the capacitors when warm", Basis: "common practice"}})
	}
	s.plan.Positions = make([]Position, len(stresses))
	for i := range stresses {
		s.plan.Positions[i] = Position{Ref: stresses[i].Ref, Role: stresses[i].Role, Node: stresses[i].Node, Stress: stresses[i], Refused: []Refusal{}}
	}
}

// Windows gives the parts worth asking a catalogue for, position by position:
// wider than what passes, so that the nearest refusals can be shown.
func (s *Assessment) Windows() []Window {
	var list []Window
	for i := range s.plan.Positions {
		if p := &s.plan.Positions[i]; p.wantsPart() {
			list = append(list, windowOf(p))
		}
	}
	return list
}

func windowOf(p *Position) Window {
	w := p.Stress.Window
	return Window{
		Technologies: derate.Technologies(p.Role),
		MinUF:        w.MinUF / 2,
		MaxUF:        math.Max(w.MaxUF, w.MinUF) * 2,
		MinRatedV:    0.6 * p.Stress.Worst.V,
	}
}

// judgeFitted holds each fitted capacitor against its stress and says what is to do.
func (s *Assessment) judgeFitted(p derate.Policy) {
	for i := range s.plan.Positions {
		pos := &s.plan.Positions[i]
		fitted := s.positions[i].Fitted
		if w := pos.Stress.Window; pos.Role == amp.MainsY && w.OriginalUF > w.MaxUF {
			pos.Action, pos.Why = Remove, s.removeWhy(pos, p)
			if fitted != nil {
				pos.Fitted = s.fittedVerdict(pos.Stress, fitted, p)
			}
			continue
		}
		if fitted == nil {
			pos.Action, pos.Why = Add, "nothing is fitted here by the amplifier's file"
			if s.assumed {
				pos.Why = "nothing is known of what is fitted: read its marking, and hold it against the stress below before buying"
			}
			continue
		}
		pos.Fitted = s.fittedVerdict(judged(pos.Stress, p), fitted, p)
		pos.Action, pos.Why = decide(pos, p)
	}
	s.measureFirst(p)
	renewStacksWhole(s.plan.Positions)
}

// removeWhy gives the current that a capacitor from line to chassis would pass,
// its upper tolerance left out in its favour.
func (s *Assessment) removeWhy(pos *Position, p derate.Policy) string {
	m, w, limit := s.plan.Mains, pos.Stress.Window, p.TouchLimit(s.plan.Mains.NominalV)
	at := func(v float64) float64 { return derate.TouchMA(v, m.FrequencyHz, w.OriginalUF) }
	return fmt.Sprintf("%s from line to chassis has no lawful part at its value: it passes %.2f mA at %.0f V, %g Hz and %.2f mA at %.0f V, where %.3g mA is allowed (%s), which is %s at most. Take it out or leave it out, and have an earthed cord fitted by licensed practice",
		uf(w.OriginalUF), at(m.NominalV), m.NominalV, m.FrequencyHz, at(m.HighV), m.HighV, limit.MA, limit.Source, uf(w.MaxUF))
}

// measureFirst holds back from buying where the cold voltage is known too
// loosely: a part for the high end may be far more than is needed, one for the
// likely value too little.
func (s *Assessment) measureFirst(p derate.Policy) {
	if !p.UseHighEnd {
		return
	}
	for i := range s.plan.Positions {
		pos := &s.plan.Positions[i]
		b := pos.Stress.ColdBand
		if b == nil || b.High <= b.Likely*(1+p.WidestPct/100) || pos.Action == Keep || pos.Action == Remove {
			continue
		}
		pos.Action = MeasureFirst
		pos.Why = fmt.Sprintf("its cold voltage may be anything from %.0f to %.0f V by what is known, too wide to buy for: see what to measure next. To buy for the likely %.0f V all the same, set use_high_end to false in the policy",
			b.Low, b.High, b.Likely)
		if f := pos.Fitted; f != nil && f.Condition.Verdict == derate.CondReplace {
			pos.Why = "what is fitted must go (" + f.Condition.Text + "), yet " + pos.Why
		}
	}
}

// wantsPart says whether a part is to be bought for a position.
func (p *Position) wantsPart() bool {
	return p.Action != Keep && p.Action != Remove && p.Action != MeasureFirst
}

// renewStacksWhole replaces every unit of a stack where one is to go: units
// must be alike in capacitance and leakage to share the voltage.
func renewStacksWhole(positions []Position) {
	for i := range positions {
		if positions[i].Stress.Stack == 0 || positions[i].Action == Keep {
			continue
		}
		for k := range positions {
			other := &positions[k]
			if other.Stress.Stack > 0 && other.Node == positions[i].Node && other.Action == Keep {
				other.Action, other.Why = Replace, "renewed with "+positions[i].Ref+": the units of a stack must be alike to share the voltage"
			}
		}
	}
}

// fittedVerdict judges what is fitted: its ratings by the checks, its condition
// by what was read of it.
func (s *Assessment) fittedVerdict(st derate.Stress, f *amp.Fitted, p derate.Policy) *Fitted {
	checks := derate.JudgeFitted(st, *f, p).Checks
	out := &Fitted{CapacitanceUF: f.CapacitanceUF, RatedV: f.RatedV, Checks: checks, Verdict: "sound"}
	if st.Role != amp.MainsX && st.Role != amp.MainsY {
		out.SurgeV = derate.FittedSurge(st.Role, *f)
	}
	text := "its ratings are right here"
	for _, c := range checks {
		if c.Pass {
			continue
		}
		if c.Advisory {
			if out.Verdict == "sound" {
				out.Verdict, text = "at_risk", c.Text
			}
			continue
		}
		if out.Verdict != "unfit" {
			out.Verdict, text = "unfit", c.Text
		} else {
			text += "; " + c.Text
		}
	}
	out.Condition = s.condition(st, f)
	out.Text = text
	if out.Verdict != "unfit" || out.Condition.Verdict != derate.CondUnread {
		out.Text += "; " + out.Condition.Text
	}
	return out
}

func (s *Assessment) condition(st derate.Stress, f *amp.Fitted) derate.Condition {
	e := derate.Examined{Role: st.Role, Fitted: *f, WorkingV: st.WorkingV}
	if f.Readings != nil {
		e.AgeYears, e.AgeHow, _ = f.Readings.Age(s.today)
	}
	return derate.JudgeCondition(e)
}

func decide(pos *Position, p derate.Policy) (Action, string) {
	switch {
	case pos.Fitted.Verdict == "unfit":
		return Replace, pos.Fitted.Text
	case pos.Fitted.Condition.Verdict == derate.CondReplace:
		return Replace, "its condition: " + pos.Fitted.Condition.Text
	case p.ReplaceAll && (pos.Role == amp.Reservoir || pos.Role == amp.Smoothing || pos.Role == amp.Bias || pos.Role == amp.CathodeBypass):
		return Replace, "the policy replaces every electrolytic; the fitted one's ratings: " + pos.Fitted.Text
	}
	if c := &pos.Fitted.Condition; c.Verdict == derate.CondSuspect {
		return Keep, "suspect: " + c.Text + ". To decide: " + strings.Join(c.Next, "; ")
	}
	return Keep, pos.Fitted.Text
}

// uf prints a capacitance in µF as a technician reads it.
func uf(v float64) string { return quantity.Print(v*1e-6, quantity.Farad, 3) }

// volts prints a rated voltage.
func volts(v float64) string { return fmt.Sprintf("%.4g V", v) }

// run is one supply with its results, case by case.
type run struct {
	index    int // of the supply in the amplifier
	model    *supply.Model
	services []supply.Service
	results  []*supply.Result
}

// runSupply makes a supply ready and runs it in every case. The cold start is
// run with each fitted rating, and a ladder of ratings to pick from, as thresholds.
func runSupply(ctx context.Context, a *amp.Amplifier, i int) (*run, error) {
	m, err := supply.NewModel(ctx, a, i)
	if err != nil {
		return nil, err
	}
	r := &run{index: i, model: m, services: m.Services()}
	thresholds := r.thresholds(a)
	var solver supply.Solver
	for _, s := range r.services {
		res, err := m.Find(ctx, &solver, s, thresholds)
		if err != nil {
			return nil, err
		}
		r.results = append(r.results, res)
	}
	return r, nil
}

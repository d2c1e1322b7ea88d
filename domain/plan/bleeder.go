package plan

import (
	"context"
	"fmt"
	"math"

	"coldrise/domain/derate"
	"coldrise/domain/supply"
)

// BleederAdvice is a bleeder that would serve, with what it costs.
type BleederAdvice struct {
	Node     string          `json:"node"`
	Resistor derate.Resistor `json:"resistor"`
	To60S    float64         `json:"to_60_s" doc:"Slowest node of those it discharges, at upper tolerances"`
	InTime   bool            `json:"in_time" doc:"Within the policy's discharge_s"`
	MA       float64         `json:"ma" doc:"At high line, idle"`
	W        float64         `json:"w"`
	SharePct float64         `json:"share_pct" doc:"Of the supply's direct current at full drive"`
	// ColdBeforeV and ColdAfterV are the node's highest voltage in the mandatory cases without and with it.
	ColdBeforeV float64 `json:"cold_before_v"`
	ColdAfterV  float64 `json:"cold_after_v"`
	HighBeforeV float64 `json:"high_before_v" doc:"The node at high line, idle, without it"`
	HighAfterV  float64 `json:"high_after_v"`
	Rule        string  `json:"rule"`
	Text        string  `json:"text"`
}

// bleeders proposes one for each group of nodes that an open standby leaves
// without a proven path, or with one slower than the policy's time.
func (r *run) bleeders(ctx context.Context, drain *supply.Drain, fromV float64, p derate.Policy) ([]BleederAdvice, error) {
	list := []BleederAdvice{}
	for _, group := range drain.Groups() {
		if len(drain.Through(group)) > 0 && slowest(drain, group, fromV) <= p.DischargeS {
			continue
		}
		b, ok, err := r.bleeder(ctx, drain, group, fromV, p)
		if err != nil {
			return nil, err
		}
		if ok {
			list = append(list, b)
		}
	}
	return list, nil
}

func slowest(d *supply.Drain, group []int, fromV float64) float64 {
	seconds, _ := d.SecondsTo(fromV, safeV)
	worst := 0.0
	for _, i := range group {
		worst = math.Max(worst, seconds[i]*slow)
	}
	return worst
}

// bleederShare is the part of the full-load current that a bleeder may take:
// RCA TT3, "about 10 % of full load".
const bleederShare = 0.10

// bleeder is the largest E12 resistor at the head of a group that brings all of
// it to 60 V in time; where that would take more than a tenth of the full-load
// current, the smallest within that tenth.
func (r *run) bleeder(ctx context.Context, d *supply.Drain, group []int, fromV float64, p derate.Policy) (BleederAdvice, bool, error) {
	head := group[0]
	within := func(ohm float64) float64 {
		return slowest(d.And(supply.Bleeder{Node: head, Ohm: ohm, Name: "proposed"}), group, fromV)
	}
	node, full := r.node(head), r.rectifierMeanA()
	least, high := 100.0, 1e8
	if full > 0 {
		least = math.Max(least, node.HighV/(bleederShare*full))
	}
	low := least
	if within(low) > p.DischargeS {
		high = low
	}
	for high/low > 1+1e-6 {
		if mid := math.Sqrt(low * high); within(mid) <= p.DischargeS {
			low = mid
		} else {
			high = mid
		}
	}
	fit, ok := derate.FitResistor(low, node.HighV, fromV)
	for k := 1.0; ok && fit.Ohm < least && k < 2; k += 0.05 {
		fit, ok = derate.FitResistor(least*k, node.HighV, fromV)
	}
	if !ok {
		return BleederAdvice{}, false, nil
	}
	b := BleederAdvice{Node: node.Name, Resistor: fit, To60S: within(fit.Ohm), HighBeforeV: node.HighV, ColdBeforeV: node.ColdV,
		Rule: fmt.Sprintf("60 V within %.3g s (policy), at most a tenth of the full-load current (RCA TT3); each piece at half its watts when warm, within its volts cold (common practice)", p.DischargeS)}
	b.InTime = b.To60S <= p.DischargeS
	if err := r.withBleeder(ctx, head, &b); err != nil {
		return b, false, err
	}
	b.MA, b.W = b.HighAfterV/fit.Ohm*1000, b.HighAfterV*b.HighAfterV/fit.Ohm
	if full > 0 {
		b.SharePct = b.MA / 10 / full
	}
	b.Text = b.text()
	return b, true, nil
}

// withBleeder runs the mandatory cases and the idle at high line again with the
// bleeder in place.
func (r *run) withBleeder(ctx context.Context, head int, b *BleederAdvice) error {
	m := r.model.WithBleeder(head, b.Resistor.Ohm)
	var solver supply.Solver
	for _, s := range r.services {
		if !s.Mandatory && s.Name != "idle_high" {
			continue
		}
		res, err := m.Find(ctx, &solver, s, nil)
		if err != nil {
			return err
		}
		if s.Mandatory {
			b.ColdAfterV = math.Max(b.ColdAfterV, res.Nodes[head].PeakV)
		} else {
			b.HighAfterV = res.Nodes[head].SteadyMeanV
		}
	}
	return nil
}

func (b *BleederAdvice) text() string {
	f := b.Resistor
	what := fmt.Sprintf("%s, %.3g W, rated %.0f V", ohms(f.EachOhm), f.EachW, f.EachV)
	if f.Pieces > 1 {
		what = fmt.Sprintf("%d × %s in series, %.3g W each, rated %.0f V each", f.Pieces, ohms(f.EachOhm), f.EachW, f.EachV)
	}
	text := fmt.Sprintf("a bleeder of %s from %s to chassis would bring it and what hangs on it below 60 V in %.0f s", what, b.Node, math.Ceil(b.To60S))
	if !b.InTime {
		text += ", longer than the policy asks, for a smaller one would take more than a tenth of the full-load current"
	}
	return text + fmt.Sprintf(". It takes %.2g mA (%.1f %% of full load) and %.2g W at high line; %s then rises to %.0f V cold instead of %.0f V and idles at %.0f V instead of %.0f V",
		b.MA, b.SharePct, b.W, b.Node, b.ColdAfterV, b.ColdBeforeV, b.HighAfterV, b.HighBeforeV)
}

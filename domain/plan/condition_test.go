package plan_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

func planOn(t *testing.T, a *amp.Amplifier, today time.Time, c plan.Catalogue) *plan.Plan {
	t.Helper()
	s, err := plan.AssessOn(context.Background(), a, derate.Default(), today)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(context.Background(), s, c)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Either an unfit rating or a bad condition replaces; a suspect part stays,
// said to be so, with the reading that would decide.
func TestConditionJoinsTheRatings(t *testing.T) {
	t.Parallel()
	today := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	p := planOn(t, demo(t, "fernhollow-6"), today, starter(t))
	for _, r := range []struct {
		ref              string
		action           plan.Action
		ratings, verdict string
		why              string
	}{
		{"C10", plan.Keep, "sound", derate.CondSuspect, "it leaks 310 µA at 450 V"},
		{"C10", plan.Keep, "sound", derate.CondSuspect, "To decide: reform it for 30 min"},
		{"C11", plan.Keep, "sound", derate.CondSuspect, "date code 235-6744 reads as week 44 of 1967"},
		{"C12", plan.Keep, "sound", derate.CondUnread, "measure capacitance, ESR and leakage"},
		{"C5", plan.ReplaceValue, "sound", derate.CondReplace, "its condition: capacitance reads 9.4 µF of 25 µF"},
	} {
		pos := position(t, p, r.ref)
		if pos.Action != r.action || pos.Fitted.Verdict != r.ratings || pos.Fitted.Condition.Verdict != r.verdict || !strings.Contains(pos.Why, r.why) {
			t.Errorf("%s is to %s, ratings %s, condition %s: %s", r.ref, pos.Action, pos.Fitted.Verdict, pos.Fitted.Condition.Verdict, pos.Why)
		}
	}
	if !strings.Contains(strings.Join(p.Cautions, " "), "through a series resistor from an isolated, current-limited supply") {
		t.Error("C10 may have to be reformed, and no caution says how to stay safe")
	}
	if pick := position(t, p, "C5").Pick; pick == nil || pick.CapacitanceUF < 22 {
		t.Errorf("for 25 µF that reads 9.4 µF the pick is %+v", pick)
	}
	// Without a day no date code tells an age.
	if c := position(t, makePlan(t, demo(t, "fernhollow-6"), derate.Default(), starter(t)), "C11").Fitted.Condition; c.Verdict != derate.CondKeep {
		t.Errorf("without a day C11 is %s: %s", c.Verdict, c.Text)
	}
}

// A capacitor that has lost half its value doesn't lower what its replacement
// must hold the hum to, and one that leaks doesn't lower any stress.
func TestReadingsLowerNothing(t *testing.T) {
	t.Parallel()
	c := starter(t)
	marked, read := demo(t, "saltmarsh-40"), demo(t, "saltmarsh-40")
	for i := range read.Positions {
		marked.Positions[i].Fitted = withReadings(marked.Positions[i].Fitted, nil)
		if read.Positions[i].Role == amp.Smoothing || read.Positions[i].Role == amp.Reservoir {
			read.Positions[i].Fitted = withReadings(read.Positions[i].Fitted, &amp.Readings{CapacitanceUF: ref(5.0), CapacitanceHz: ref(120.0),
				LeakageUA: ref(4000.0), LeakageV: ref(400.0), LeakageMin: ref(5.0)})
		}
	}
	with, without := makePlan(t, read, derate.Default(), c), makePlan(t, marked, derate.Default(), c)
	for i := range with.Positions {
		a, b := &with.Positions[i], &without.Positions[i]
		if a.Stress.Window.OriginalUF != b.Stress.Window.OriginalUF || a.Stress.Window.MinUF < b.Stress.Window.MinUF*(1-1e-9) {
			t.Errorf("%s: original %g µF and at least %g µF; without readings %g and %g", a.Ref, a.Stress.Window.OriginalUF, a.Stress.Window.MinUF, b.Stress.Window.OriginalUF, b.Stress.Window.MinUF)
		}
		if a.Stress.Worst.V < b.Stress.Worst.V*(1-1e-6) || a.Stress.WorkingV < b.Stress.WorkingV*(1-1e-6) {
			t.Errorf("%s: %g V cold and %g V working; without readings %g and %g", a.Ref, a.Stress.Worst.V, a.Stress.WorkingV, b.Stress.Worst.V, b.Stress.WorkingV)
		}
	}
	// They count where readings are reproduced: 10 mA and more of leakage pull the far node down.
	if a, b := with.Supplies[0].Nodes[3].LoadedV, without.Supplies[0].Nodes[3].LoadedV; a >= b-5 {
		t.Errorf("node D stands at %g V with leaky capacitors, %g V with sound ones", a, b)
	}
}

func withReadings(f *amp.Fitted, r *amp.Readings) *amp.Fitted {
	if f == nil {
		return nil
	}
	c := *f
	c.Readings = r
	return &c
}

// A part that must go is said to, also where too little is known to buy for.
func TestMeasuringFirstDoesNotHideABadPart(t *testing.T) {
	t.Parallel()
	a := demo(t, "bare-voltages")
	a.Positions = []amp.Position{{Ref: "C1", Role: amp.Reservoir, Node: "HT/A", Fitted: &amp.Fitted{CapacitanceUF: 32, RatedV: 450, Readings: &amp.Readings{Seen: []string{"vent_open"}}}}}
	pos := position(t, studied(t, a, derate.Default(), 8), "C1")
	if pos.Action != plan.MeasureFirst || !strings.Contains(pos.Why, "what is fitted must go (its vent has opened") {
		t.Errorf("C1 is to %s: %s", pos.Action, pos.Why)
	}
}

// One bad unit renews the whole stack.
func TestABadUnitRenewsItsStack(t *testing.T) {
	t.Parallel()
	a := demo(t, "ravensgill-100")
	a.Positions[0].Fitted.RatedV, a.Positions[1].Fitted.RatedV = 400, 400 // sound by their ratings
	a.Positions[1].Fitted.Readings = &amp.Readings{Seen: []string{"vent_open"}}
	p := makePlan(t, a, derate.Default(), starter(t))
	if upper, lower := position(t, p, "C40"), position(t, p, "C41"); upper.Fitted.Verdict != "sound" || upper.Action == plan.Keep || lower.Action == plan.Keep ||
		!strings.Contains(upper.Why, "renewed with C41") {
		t.Errorf("C40 is to %s (%s), C41 to %s", upper.Action, upper.Why, lower.Action)
	}
}

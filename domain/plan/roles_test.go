package plan_test

import (
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	"coldrise/domain/problem"
)

// 17.5 V on the cathode at 120 V mains is 18.52 V at 127 V; the policy may ask
// that its bypass holds a multiple of that, or what the description gives.
func TestACathodeBypassHoldsItsFaultWhereThePolicyAsks(t *testing.T) {
	t.Parallel()
	high := 17.5 * 127 / 120
	a := demo(t, "fernhollow-6")
	read := 120.0
	a.Mains.MeasuredAtV = &read
	at := -1
	for i := range a.Positions {
		if a.Positions[i].Ref == "C5" {
			at = i
		}
	}
	faulty := 45.0
	for _, tt := range []struct {
		name   string
		ratio  float64
		faultV *float64
		want   float64
		of     string
	}{
		{"no fault asked", 1, nil, high, "high_line"},
		{"no fault asked, though one is described", 1, &faulty, high, "high_line"},
		{"twice its idle volts", 2, nil, 2 * high, "tube_fault"},
		{"the volts described, in place of the multiple", 2, &faulty, 45, "tube_fault"},
		{"a described fault below high line does not relieve it", 2, &read, 120, "tube_fault"},
	} {
		p := derate.Default()
		p.CathodeFaultRatio, a.Positions[at].CathodeFaultV = tt.ratio, tt.faultV
		c5 := position(t, makePlan(t, a, p, starter(t)), "C5")
		within(t, tt.name, c5.Stress.Worst.V, tt.want, 0.001)
		if c5.Stress.Worst.Case != tt.of || c5.Stress.WorkingV > high*1.001 {
			t.Errorf("%s: %+v works at %g V", tt.name, c5.Stress.Worst, c5.Stress.WorkingV)
		}
	}
	// A fault lasts: no surge rating covers it.
	p := derate.Default()
	p.CathodeFaultRatio, p.UseSurge, a.Positions[at].CathodeFaultV = 2, true, nil
	a.Positions[at].Fitted.RatedV = 35 // surge 40.25 V, above 37 V
	if c5 := position(t, makePlan(t, a, p, starter(t)), "C5"); c5.Action == plan.Keep {
		t.Errorf("35 V stays under a fault of 37 V: %s", c5.Why)
	}
}

// A bypass sets a corner of the stage's response, and no hum: 22 µF stand for 25.
func TestACathodeBypassTakesTheValueBelow(t *testing.T) {
	t.Parallel()
	p := derate.Default()
	p.ReplaceAll = true
	c5 := position(t, makePlan(t, demo(t, "fernhollow-6"), p, starter(t)), "C5")
	within(t, "least, µF", c5.Stress.Window.MinUF, 20, 1e-9)
	if c5.Pick == nil || c5.Pick.CapacitanceUF != 22 {
		t.Errorf("%+v", c5.Pick)
	}
}

func TestAFaultBelowTheIdleVoltsIsRefusedAtEntry(t *testing.T) {
	t.Parallel()
	_, err := amp.Parse([]byte(`{"name":"t","mains":{"nominal_v":120,"frequency_hz":60},
	 "supplies":[{"name":"HT","rectifier":{"type":"GZ34"},"nodes":[{"name":"A","measured_v":300}]}],
	 "positions":[{"ref":"C1","role":"cathode_bypass","cathode_v":17,"cathode_fault_v":9,"fitted":{"capacitance_uf":25,"rated_v":25}},
	  {"ref":"C2","role":"smoothing","node":"HT/A","cathode_fault_v":9,"fitted":{"capacitance_uf":25,"rated_v":450}}]}`))
	var at []string
	for _, f := range problem.As(err).Faults {
		at = append(at, f.Pointer)
	}
	if strings.Join(at, " ") != "/positions/0/cathode_fault_v /positions/1/cathode_fault_v" {
		t.Errorf("%v", err)
	}
}

// 47 nF from line to chassis: 2.13 mA at 120 V, 60 Hz (computed), over the 0.5
// mA of UL and ANSI C101. The action is to remove it, and that figure the reason.
func TestALineToChassisCapacitorIsRemovedForItsCurrent(t *testing.T) {
	t.Parallel()
	c1 := position(t, makePlan(t, demo(t, "fernhollow-6"), derate.Default(), starter(t)), "C1")
	if c1.Action != plan.Remove {
		t.Fatalf("47 nF from line to chassis is to %s", c1.Action)
	}
	for _, says := range []string{"2.13 mA at 120 V, 60 Hz", "2.25 mA at 127 V", "0.5 mA is allowed", "10.4 nF", "earthed cord"} {
		if !strings.Contains(c1.Why, says) {
			t.Errorf("%q does not say %q", c1.Why, says)
		}
	}
	// Nor does the policy's earthed limit let it stay for nothing: 3.5 mA passes it.
	p := derate.Default()
	p.TouchRule = derate.EarthedOffice
	if c1 := position(t, makePlan(t, demo(t, "fernhollow-6"), p, starter(t)), "C1"); c1.Action == plan.Remove {
		t.Errorf("2.25 mA is within 3.5 mA, yet: %s", c1.Why)
	}
}

// On 230 V mains IEC 60065's 0.7 mA peak holds: 0.495 mA/(2π · 50 Hz · 253 V) = 6.23 nF.
func TestTheTouchLimitIsTheRegions(t *testing.T) {
	t.Parallel()
	a := demo(t, "ravensgill-100")
	wanted := 0.0022
	a.Positions = append(a.Positions, amp.Position{Ref: "C1", Role: amp.MainsY, WantedUF: &wanted})
	w := position(t, makePlan(t, a, derate.Default(), starter(t)), "C1").Stress.Window
	within(t, "largest line to chassis, µF", w.MaxUF, 0.00623, 0.1)
	if !strings.Contains(w.MaxRule, "60065") {
		t.Error(w.MaxRule)
	}
}

// At idle the mains' harmonics alone flow; a class-AB stage adds its audio-rate
// current at full drive, at twice the signal's frequency.
func TestRippleIsKnownIdlingAndDriven(t *testing.T) {
	t.Parallel()
	p := derate.Default()
	p.SignalHz = 110
	st := position(t, makePlan(t, demo(t, "saltmarsh-40"), p, starter(t)), "C21").Stress
	if len(st.IdleRipple) == 0 || len(st.Ripple) == 0 {
		t.Fatalf("idle %d lines, driven %d", len(st.IdleRipple), len(st.Ripple))
	}
	audio := 0
	for _, c := range st.IdleRipple {
		if c.Of != "mains" {
			t.Errorf("idling: %+v", c)
		}
	}
	sum := func(list []derate.Current) (total float64) {
		for _, c := range list {
			if c.Of == "audio" {
				audio++
				if c.Hz != 220 {
					t.Errorf("audio current at %g Hz, want 220", c.Hz)
				}
				// Ripple factor of a full-wave rectified sine, 0.483, of 2 × 78 mA.
				within(t, "audio current", c.A, 0.483*0.156, 0.1)
			}
			total += c.A * c.A
		}
		return total
	}
	if idle, driven := sum(st.IdleRipple), sum(st.Ripple); idle >= driven || audio != 1 {
		t.Errorf("idle %g, driven %g A², %d audio lines", idle, driven, audio)
	}
	// Full-wave on 60 Hz: the base is 120 Hz; a half-wave supply's would be 60.
	if st.Ripple[0].Hz != 120 {
		t.Errorf("the first line is at %g Hz", st.Ripple[0].Hz)
	}
}

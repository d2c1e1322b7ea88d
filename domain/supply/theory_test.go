package supply

import (
	"fmt"
	"math"
	"testing"
)

// stiff gives a rectifier with a reservoir and a resistance, and a diode whose
// drop is nothing beside the winding's volts.
func stiff(topology string, vp, rs, rl, uf float64) *Circuit {
	return &Circuit{
		TEndS: 6, Mains: Source{FreqHz: 50, Factor: 1},
		Rectifier: Rectifier{Topology: topology, SecondaryVRM: vp / math.Sqrt2, RsOhm: rs,
			Diode: Diode{Kind: "silicon", IsA: 1e-6, N: 1}},
		Nodes: []Node{{Name: "n1", Caps: []Unit{{CUF: uf, LeakOhm: 1e12}}, BleedOhm: ptr(rl)}},
	}
}

// closedForm is the textbook limit of infinite capacitance: tan θ − θ = k,
// then i = (Vp/Rs)(cos x − cos θ) for |x| < θ. Ratios to Vp and Idc.
type closedForm struct{ theta, vdc, peak, rms, cap float64 }

// solveClosedForm takes k = πRs/2RL and two pulses a cycle for full wave,
// k = πRs/RL and one for half wave.
func solveClosedForm(k float64, pulses float64) closedForm {
	low, high := 0.0, math.Pi/2
	for range 200 {
		if mid := (low + high) / 2; math.Tan(mid)-mid < k {
			low = mid
		} else {
			high = mid
		}
	}
	th := low
	cos, sin := math.Cos(th), math.Sin(th)
	// Means over a half cycle (full wave) or a cycle (half wave), in units of Vp/Rs.
	span := 2 * math.Pi / pulses
	mean := 2 * (sin - th*cos) / span
	square := (th*(1+2*cos*cos) - 3*sin*cos) / span
	rms := math.Sqrt(square)
	return closedForm{theta: th * 180 / math.Pi, vdc: cos, peak: (1 - cos) / mean, rms: rms / mean,
		cap: math.Sqrt(square-mean*mean) / mean}
}

// ratios gives the same of a run.
func ratios(r *Result, vp, rl float64) closedForm {
	idc := r.Caps[0].SteadyMeanV / rl
	total := 0.0
	for _, d := range r.Diodes {
		total += d.SteadyRMSA * d.SteadyRMSA
	}
	return closedForm{vdc: r.Caps[0].SteadyMeanV / vp, peak: r.Diodes[0].SteadyPeakA / idc,
		rms: math.Sqrt(total) / idc, cap: r.Caps[0].SteadyRippleARMS / idc}
}

// TestClosedFormTable holds the closed form, as solved here, against the
// printed rows of check-values 2.2, so that the oracle is not ours alone.
func TestClosedFormTable(t *testing.T) {
	t.Parallel()
	rows := []struct {
		rs   float64 // Rs/RL
		want closedForm
	}{
		{0.001, closedForm{9.57, 0.9861, 14.11, 3.360, 3.208}},
		{0.01, closedForm{20.34, 0.9376, 6.651, 2.306, 2.077}},
		{0.05, closedForm{33.67, 0.8322, 4.033, 1.794, 1.489}},
		{0.2, closedForm{49.80, 0.6455, 2.746, 1.478, 1.089}},
	}
	for _, row := range rows {
		got := solveClosedForm(math.Pi*row.rs/2, 2)
		for name, pair := range map[string][2]float64{
			"θ": {got.theta, row.want.theta}, "Vdc/Vp": {got.vdc, row.want.vdc}, "Ipk/Idc": {got.peak, row.want.peak},
			"Irms/Idc": {got.rms, row.want.rms}, "Icap/Idc": {got.cap, row.want.cap},
		} {
			if off(pair[0], pair[1]) > 0.06 { // the table's last digit
				t.Errorf("Rs/RL %g: %s is %.5g, table %.5g", row.rs, name, pair[0], pair[1])
			}
		}
	}
}

// TestInfiniteCapacitanceLimit: check-values 2.2, the limit of Schade's curves
// (COMPUTED closed form). Conditions there: ωCRL ≥ 300 below Rs/RL 1 %, ≥ 100
// else; Vp ≥ 1 kV; constant resistance.
func TestInfiniteCapacitanceLimit(t *testing.T) {
	t.Parallel()
	const vp, rl = 2000.0, 1000.0
	for _, topology := range []string{"full_wave_ct", "half_wave", "bridge"} {
		for _, ratio := range []float64{0.001, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2} {
			t.Run(fmt.Sprintf("%s at Rs/RL %g", topology, ratio), func(t *testing.T) {
				t.Parallel()
				wcr := 100.0
				if ratio < 0.01 {
					wcr = 300
				}
				k, pulses := math.Pi*ratio/2, 2.0
				if topology == "half_wave" { // half the pulses: twice the capacitor for the same ripple
					k, pulses, wcr = math.Pi*ratio, 1, 2*wcr
				}
				c := stiff(topology, vp, ratio*rl, rl, 1e6*wcr/(2*math.Pi*50*rl))
				got, want := ratios(mustSimulate(t, c, Settings{}), vp, rl), solveClosedForm(k, pulses)
				t.Logf("Vdc %+.3f %%, Ipk %+.3f %%, Irms %+.3f %%, Icap %+.3f %%", 100*(got.vdc/want.vdc-1),
					100*(got.peak/want.peak-1), 100*(got.rms/want.rms-1), 100*(got.cap/want.cap-1))
				if off(got.vdc, want.vdc) > 0.3 {
					t.Errorf("Vdc/Vp %.5f, closed form %.5f", got.vdc, want.vdc)
				}
				if off(got.peak, want.peak) > 1 || off(got.rms, want.rms) > 1 || off(got.cap, want.cap) > 1 {
					t.Errorf("Ipk, Irms, Icap over Idc %.4f %.4f %.4f, closed form %.4f %.4f %.4f", got.peak, got.rms, got.cap, want.peak, want.rms, want.cap)
				}
			})
		}
	}
}

// TestFullWaveIsHalfWaveAtTwiceTheRatio is the structural identity of
// check-values 2.2: half wave at Rs/RL equals full wave at 2·Rs/RL.
func TestFullWaveIsHalfWaveAtTwiceTheRatio(t *testing.T) {
	t.Parallel()
	const vp, rl = 2000.0, 1000.0
	for _, ratio := range []float64{0.01, 0.05, 0.1} {
		half := ratios(mustSimulate(t, stiff("half_wave", vp, ratio*rl, rl, 4000), Settings{}), vp, rl)
		full := ratios(mustSimulate(t, stiff("full_wave_ct", vp, 2*ratio*rl, rl, 4000), Settings{}), vp, rl)
		if off(half.vdc, full.vdc) > 0.3 {
			t.Errorf("Rs/RL %g: half wave %.5f, full wave at twice it %.5f", ratio, half.vdc, full.vdc)
		}
	}
}

// TestFiniteCapacitance: check-values 2.2, second table (COMPUTED by a small
// ODE with an ideal diode; four or three digits are printed).
func TestFiniteCapacitance(t *testing.T) {
	t.Parallel()
	const vp, rl = 2000.0, 1000.0
	rows := []struct {
		rs, wcr                       float64
		vdc, peak, rms, cap, ripplePc float64
	}{
		{0.01, 3, 0.773, 3.79, 1.69, 1.37, 19.5},
		{0.01, 10, 0.886, 5.86, 2.12, 1.87, 7.14},
		{0.01, 30, 0.929, 6.54, 2.28, 2.05, 2.48},
		{0.01, 100, 0.937, 6.64, 2.30, 2.08, 0.749},
		{0.05, 10, 0.817, 3.95, 1.77, 1.46, 6.38},
		{0.05, 30, 0.830, 4.02, 1.79, 1.49, 2.15},
		{0.1, 3, 0.697, 2.99, 1.54, 1.17, 18.0},
		{0.1, 10, 0.745, 3.27, 1.61, 1.27, 5.84},
		{0.1, 30, 0.751, 3.30, 1.62, 1.28, 1.96},
	}
	for _, row := range rows {
		c := stiff("full_wave_ct", vp, row.rs*rl, rl, 1e6*row.wcr/(2*math.Pi*50*rl))
		r := mustSimulate(t, c, Settings{})
		got := ratios(r, vp, rl)
		// The printed Icap is √(Irms² − Idc²), which takes the load's own ripple
		// into the capacitor; at ωCRL 3 the two differ by 1.3 %.
		printedCap := math.Sqrt(got.rms*got.rms - 1)
		// The reservoir's ripple RMS from its harmonics: V = I/(2πfC).
		ripple := 0.0
		for _, h := range r.Caps[0].Harmonics {
			ripple += math.Pow(h.ARMS/(2*math.Pi*h.Hz*c.Nodes[0].Caps[0].CUF*1e-6), 2)
		}
		ripplePc := 100 * math.Sqrt(ripple) / r.Caps[0].SteadyMeanV
		for name, pair := range map[string][3]float64{
			"Vdc/Vp": {got.vdc, row.vdc, 0.2}, "Ipk/Idc": {got.peak, row.peak, 0.5}, "Irms/Idc": {got.rms, row.rms, 0.5},
			"Icap/Idc": {printedCap, row.cap, 0.6}, "ripple % of Vdc": {ripplePc, row.ripplePc, 0.6},
		} {
			if off(pair[0], pair[1]) > pair[2] {
				t.Errorf("Rs/RL %g, ωCRL %g: %s is %.4f, table %.4f", row.rs, row.wcr, name, pair[0], pair[1])
			}
		}
	}
}

// exactRipple solves check-values 2.3 for the peak-to-peak ripple over Vp of an
// ideal rectifier: cos(a)·exp(−[span − arccos(1−r) − a]/x) = 1 − r, a = arctan(1/x).
func exactRipple(x, span float64) float64 {
	a := math.Atan(1 / x)
	low, high := 0.0, 1.0
	for range 200 {
		r := (low + high) / 2
		if math.Cos(a)*math.Exp(-(span-math.Acos(1-r)-a)/x) < 1-r {
			low = r
		} else {
			high = r
		}
	}
	return low
}

// TestExactRipple: check-values 2.3 (re-derived there; COMPUTED roots), with Rs
// so small that halving it changes nothing.
func TestExactRipple(t *testing.T) {
	t.Parallel()
	const vp, rl = 4000.0, 1000.0
	rows := []struct {
		topology string
		x, root  float64
	}{
		{"half_wave", 10, 0.41095}, {"half_wave", 30, 0.17224}, {"half_wave", 100, 0.05764}, {"half_wave", 300, 0.02007},
		{"full_wave_ct", 10, 0.21520}, {"full_wave_ct", 30, 0.08627}, {"full_wave_ct", 100, 0.02855}, {"full_wave_ct", 300, 0.00995},
	}
	for _, row := range rows {
		t.Run(fmt.Sprintf("%s at ωRC %g", row.topology, row.x), func(t *testing.T) {
			t.Parallel()
			span := math.Pi
			if row.topology == "half_wave" {
				span = 2 * math.Pi
			}
			if root := exactRipple(row.x, span); off(root, row.root) > 0.1 {
				t.Fatalf("the equation's root is %.5f, printed %.5f", root, row.root)
			}
			ripple := func(rs float64) float64 {
				c := stiff(row.topology, vp, rs, rl, 1e6*row.x/(2*math.Pi*50*rl))
				c.TEndS = 4
				return mustSimulate(t, c, Settings{StepsPerCycle: 2000}).Caps[0].SteadyRippleVPP / vp
			}
			got, halved := ripple(0.002), ripple(0.001)
			if off(got, exactRipple(row.x, span)) > 0.5 {
				t.Errorf("ripple over Vp is %.6f, exact %.6f", got, exactRipple(row.x, span))
			}
			if off(halved, got) > 0.05 {
				t.Errorf("halving Rs moves the ripple from %.6f to %.6f", got, halved)
			}
		})
	}
}

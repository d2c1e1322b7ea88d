package supply

import "math"

// thermalV is kT/q at 27 °C, V: the temperature of the reference circuits.
const thermalV = 25.864e-3

// newtonLimit bounds every scalar iteration. Both laws are convex and start
// right of their root, so the iteration falls to it; a dozen rounds are rare.
const newtonLimit = 100

// diodeLaw is one conducting path: all diodes that the current passes, in SI.
type diodeLaw struct {
	tube  bool
	g     float64 // tube: i = w·g·v^1.5, A/V^1.5
	knee  float64 // silicon: n·Vt times the diodes in series, V
	is    float64 // silicon: saturation current, A
	ohmic float64 // silicon: bulk resistance of all in series, Ω
}

// newDiodeLaw compiles a diode with perPath of them in one path.
func newDiodeLaw(d *Diode, perPath int) diodeLaw {
	if d.Kind == "tube" {
		g := d.DropMA / 1000 / math.Pow(d.DropV, 1.5)
		return diodeLaw{tube: true, g: g / math.Pow(float64(perPath), 1.5)}
	}
	count := float64(perPath * max(d.SeriesCount, 1))
	return diodeLaw{knee: d.N * thermalV * count, is: d.IsA, ohmic: d.RsOhm * count}
}

// current solves e = r·i + drop(i) for i, A: e volts drive the path through
// r ohms. W is the emission of a tube.
func (l *diodeLaw) current(e, r, w float64) float64 {
	if l.tube {
		return l.tubeCurrent(e, r, w)
	}
	return l.siliconCurrent(e, r+l.ohmic)
}

// drop gives the volts across the path at i amperes, and its slope, Ω.
func (l *diodeLaw) drop(i, w float64) (volts, slope float64) {
	if !l.tube {
		return l.knee*math.Log1p(i/l.is) + l.ohmic*i, l.knee/(i+l.is) + l.ohmic
	}
	if i <= 0 {
		return 0, math.Inf(1)
	}
	root := math.Cbrt(i / (w * l.g))
	volts = root * root
	return volts, volts / i * 2 / 3
}

// tubeCurrent works in y = √v: r·w·g·y³ + y² = e, convex for y ≥ 0. Solving
// for v itself would meet an infinite slope of v(i) at the start of conduction.
func (l *diodeLaw) tubeCurrent(e, r, w float64) float64 {
	k := w * l.g
	if e <= 0 || k <= 0 {
		return 0
	}
	rk := r * k
	y := math.Sqrt(e)
	if rk*y > 8 { // the resistance takes most of it: the cube bounds y closer
		y = math.Min(y, math.Cbrt(e/rk))
	}
	for range newtonLimit {
		dy := (rk*y*y*y + y*y - e) / (3*rk*y*y + 2*y)
		y -= dy
		if math.Abs(dy) <= 1e-10*y {
			break
		}
	}
	return k * y * y * y
}

// siliconCurrent works in u, the junction voltage over n·Vt:
// r·is·e^u + knee·u = e + r·is, convex and rising in u.
func (l *diodeLaw) siliconCurrent(e, r float64) float64 {
	ris := r * l.is
	rhs := e + ris
	if rhs < -40*l.knee {
		return -l.is // e^u is below 1e-17
	}
	u := 0.0
	if e > 0 {
		u = math.Min(rhs/l.knee, math.Log(rhs/ris))
	}
	for range newtonLimit {
		x := ris * math.Exp(u)
		du := (x + l.knee*u - rhs) / (x + l.knee)
		if u -= du; math.Abs(du) <= 1e-5 { // the error left is du²/2; e^−du by its series spares an exp
			return l.is * (x/ris*(1-du+du*du/2) - 1)
		}
	}
	return l.is * math.Expm1(u)
}

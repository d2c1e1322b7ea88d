package supply

import "math"

// diodeFollower solves a diode's law again and again along a pulse, each time
// from where the last solution was.
type diodeFollower struct {
	y, drop float64 // tube: √v; silicon: V across the junctions
	i       float64 // A: silicon
	first   float64 // V: drop where the pulse began
	warm    bool
	last    float64 // V: drop of the last solution, bulk resistance apart
	lack    float64 // V: that less its slope times the current
}

func (d *diodeFollower) forget() { d.warm = false }

// ramp says how the charge of a pulse's first or last part, at whose far end
// drive volts gave the last solution's current, compares with a straight ramp's:
// the current goes with a power of the drive, and 2/(1 + power) is the ratio.
func (d *diodeFollower) ramp(drive float64) float64 {
	return 2 * (drive - d.lack) / (2*drive - d.lack)
}

// current is diodeLaw.current.
func (d *diodeFollower) current(l *diodeLaw, e, r, w float64) float64 {
	if l.tube {
		i := d.tube(e, r, w*l.g)
		d.last = d.y * d.y
		d.lack = d.last / 3
		return i
	}
	i := d.silicon(l, e, r+l.ohmic)
	d.last = d.drop
	d.lack = math.Max(0, d.drop-l.knee)
	return i
}

// tube is diodeLaw.tubeCurrent from the last root on, by Halley's method: the
// cubic is convex and rises, so it closes in from either side.
func (d *diodeFollower) tube(e, r, k float64) float64 {
	if e <= 0 || k <= 0 {
		return 0
	}
	rk := r * k
	y := d.y
	if !d.warm || !(y > 0) {
		y = math.Sqrt(e)
		if rk*y > 8 {
			y = math.Min(y, math.Cbrt(e/rk))
		}
		d.warm = true
	}
	for range newtonLimit {
		f, slope := y*y*(rk*y+1)-e, y*(3*rk*y+2)
		dy := 2 * f * slope / (2*slope*slope - f*(6*rk*y+2)) // Halley's step
		if dy > y*0.9 {
			dy = 0.9 * y
		}
		y -= dy
		if math.Abs(dy) <= 1e-3*y { // the error left is of the order of its cube
			break
		}
	}
	d.y = y
	return k * y * y * y
}

// silicon solves r·i + drop(i) = e for the current by Newton's method, from
// what the last drop leaves of e. Near the last current the drop is taken from
// it, changed by knee·ln of the currents' ratio as 2·artanh z, z their
// difference over their sum. At a pulse's start the last is that of the pulse
// before's start. Where the drop is most of e, diodeLaw solves from the start.
func (d *diodeFollower) silicon(l *diodeLaw, e, r float64) float64 {
	last := d.drop
	if !d.warm {
		last = d.first
	}
	if last > 0 && e > 1.2*last {
		i := (e - last) / r
		for range 6 {
			z := (i - d.i) / (i + d.i)
			drop := 0.0
			if q := z * z; d.warm && q < 0.09 {
				drop = d.drop + l.knee*2*z*(1+q*(1./3+q*(1./5+q*(1./7+q/9))))
			} else {
				drop = l.knee * math.Log(1+i/l.is)
			}
			step := (r*i + drop - e) / (r + l.knee/i)
			next := i - step
			if math.Abs(step) <= 1e-3*i { // the error left is below knee/2e6
				d.hold(l, drop-l.knee*step/i, next)
				return next
			}
			i = math.Max(next, 0.1*i)
		}
	}
	i := l.siliconCurrent(e, r)
	d.hold(l, e-r*i, i)
	return i
}

// hold keeps a solution of silicon for the next.
func (d *diodeFollower) hold(l *diodeLaw, drop, i float64) {
	if !d.warm {
		d.first = drop
	}
	d.drop, d.i = drop, i
	d.warm = i > 1e3*l.is
}

package supply

import "math"

// diodeFollower solves a diode's law again and again along a pulse, each time
// from where a line through the last two solutions leads.
type diodeFollower struct {
	y, drop float64 // tube: √v; silicon: V across the junctions
	climb   float64 // tube: by which y grew last
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
	d.lack = max(0, d.drop-l.knee)
	return i
}

// tube is diodeLaw.tubeCurrent from the last root on, by Halley's method: the
// cubic is convex and rises, so it closes in from either side.
func (d *diodeFollower) tube(e, r, k float64) float64 {
	if e <= 0 || k <= 0 {
		return 0
	}
	rk := r * k
	y := d.y + d.climb
	if d.climb < -0.5*d.y {
		y = 0.5 * d.y
	}
	if !d.warm || !(y > 0) {
		y = math.Sqrt(e)
		if rk*y > 8 {
			y = min(y, math.Cbrt(e/rk))
		}
		d.y = y
	}
	for range newtonLimit {
		f, slope := y*y*(rk*y+1)-e, y*(3*rk*y+2)
		dy := 2 * f * slope / (2*slope*slope - f*(6*rk*y+2)) // Halley's step
		if dy > y*0.9 {
			dy = 0.9 * y
		}
		y -= dy
		if math.Abs(dy) <= 2e-2*y { // the error left is of the order of its cube
			break
		}
	}
	d.climb = 0
	if d.warm {
		d.climb = y - d.y
	}
	d.y, d.warm = y, true
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
			if q := z * z; d.warm && q < 0.25 {
				drop = d.drop + l.knee*2*z*(1+q*(1./3+q*(1./5+q*(1./7+q*(1./9+q*(1./11+q/13))))))
			} else {
				drop = l.knee * math.Log(1+i/l.is)
			}
			step := (r*i + drop - e) / (r + l.knee/i)
			next := i - step
			if math.Abs(step) <= 1e-2*i { // the error left is below knee/2e4
				d.hold(l, drop-l.knee*step/i, next)
				return next
			}
			i = max(next, 0.1*i)
		}
	}
	i := l.siliconCurrent(e, r)
	d.hold(l, e-r*i, i)
	return i
}

// closeIn solves for both paths of a pair by Newton's method from the currents
// given; false, and they are no solution, where that does not close in.
func (l *diodeLaw) closeIn(p *pair, i *[2]float64) bool {
	for range newtonLimit / 10 {
		drop0, slope0 := l.drop(i[0], p.w)
		drop1, slope1 := l.drop(i[1], p.w)
		r0, r1 := p.rs+p.own[0], p.rs+p.own[1]
		off0 := p.drive[0] - r0*i[0] - p.mutual*i[1] - drop0
		off1 := p.drive[1] - r1*i[1] - p.mutual*i[0] - drop1
		r0, r1 = r0+slope0, r1+slope1
		det := r0*r1 - p.mutual*p.mutual
		by0, by1 := (off0*r1-p.mutual*off1)/det, (off1*r0-p.mutual*off0)/det
		now0, now1 := max(i[0]+by0, i[0]/8), max(i[1]+by1, i[1]/8)
		done := math.Abs(now0-i[0])+math.Abs(now1-i[1]) <= 1e-4*(now0+now1)
		if i[0], i[1] = now0, now1; done {
			return true
		}
	}
	i[1] = 0
	return false
}

// hold keeps a solution of silicon for the next.
func (d *diodeFollower) hold(l *diodeLaw, drop, i float64) {
	if !d.warm {
		d.first = drop
	}
	d.drop, d.i = drop, i
	d.warm = i > 1e3*l.is
}

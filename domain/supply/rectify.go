package supply

import "math"

// pair is a rectifier's two conducting paths as the network drives them:
//
//	drive[k] = (rs + own[k])·i[k] + mutual·i[other] + drop(i[k])
type pair struct {
	drive  [2]float64 // V
	own    [2]float64 // Ω, of the network alone
	mutual float64    // Ω
	rs     float64    // Ω
	w      float64    // emission of a tube
}

// rectify finds the current of each path, and with it the root's voltage.
func (m *machine) rectify(p *coefficients, e float64) {
	w := 1.0
	if m.net.heater >= 0 {
		w = m.emission[m.net.heater]
	}
	if m.net.doubler {
		m.double(p, e, w)
		return
	}
	ohm := 1 / m.rootG
	open := m.inject[0] * ohm
	if m.net.paths == 1 {
		m.path[0] = m.net.diode.current(e-open, p.rs+ohm, w)
		m.v[0] = open + ohm*m.path[0]
		return
	}
	pr := pair{drive: [2]float64{e - open, -e - open}, own: [2]float64{ohm, ohm}, mutual: ohm, rs: p.rs, w: w}
	if m.net.oneWinding {
		pr.mutual -= p.rs // each path's current relieves the winding of the other's
	}
	m.path = m.net.diode.solvePair(&pr)
	m.v[0] = open + ohm*(m.path[0]+m.path[1])
}

// double solves the doubler: the winding joins the midpoint of the first
// stack to two diodes, one to the node, one from ground. With no diode current
// the two voltages follow from a 2 × 2 system; each current then acts on both.
func (m *machine) double(p *coefficients, e, w float64) {
	top, low := m.net.stacks[0].first, m.net.stacks[0].first+1
	gt, gl := 1/p.unitR[top], 1/p.unitR[low]
	st, sl := p.unitG[top]*m.fromInner[top], p.unitG[low]*m.fromInner[low]
	det := m.rootG*(gt+gl) + gt*gl
	atNode, atMid := m.inject[0]+st, sl-st
	node := ((gt+gl)*atNode + gt*atMid) / det
	mid := (gt*atNode + (m.rootG+gt)*atMid) / det
	own := [2]float64{(gl + m.rootG) / det, (gt + m.rootG) / det}
	cross := -m.rootG / det // a path's current lifts its own unit and lowers the other
	pr := pair{drive: [2]float64{e - (node - mid), -e - mid}, own: own, mutual: cross - p.rs, rs: p.rs, w: w}
	m.path = m.net.diode.solvePair(&pr)
	m.unitV[top] = node - mid + own[0]*m.path[0] + cross*m.path[1]
	m.unitV[low] = mid + cross*m.path[0] + own[1]*m.path[1]
	m.v[0] = m.unitV[top] + m.unitV[low]
}

// solvePair gives the current of each path. Nearly always one conducts and
// the other leaks; both do while a choke's current passes from one to the other.
func (l *diodeLaw) solvePair(p *pair) [2]float64 {
	on, off := 0, 1
	if p.drive[1] > p.drive[0] {
		on, off = 1, 0
	}
	var i [2]float64
	i[off] = l.current(math.Min(p.drive[off], 0), p.rs+p.own[off], p.w)
	i[on] = l.current(p.drive[on]-p.mutual*i[off], p.rs+p.own[on], p.w)
	if p.drive[off]-p.mutual*i[on] > 0 {
		l.overlap(p, &i, on, off)
	}
	return i
}

// overlap solves the case that both paths conduct. With the first path's
// current a function of the second's, the second's balance falls steadily as
// its current grows, since own and mutual come from a passive network: a
// bracketed Newton finds its zero.
func (l *diodeLaw) overlap(p *pair, i *[2]float64, on, off int) {
	if l.tube && p.w*l.g <= 0 {
		return
	}
	low := i[off]
	high := l.current(p.drive[off], p.rs+p.own[off], p.w) + math.Abs(low)
	for range newtonLimit { // a negative mutual lets it exceed its own drive's current
		if balance, _ := l.balance(p, i, on, off, high); balance <= 0 {
			break
		}
		low, high = high, 2*high
	}
	x := 0.5 * (low + high)
	for range newtonLimit {
		balance, slope := l.balance(p, i, on, off, x)
		if balance > 0 {
			low = x
		} else {
			high = x
		}
		next := x - balance/slope
		if !(next > low && next < high) {
			next = 0.5 * (low + high)
		}
		moved := math.Abs(next - x)
		if x = next; moved <= 1e-10*(math.Abs(i[on])+math.Abs(x)) {
			break
		}
	}
	l.balance(p, i, on, off, x)
}

// balance takes the second path's current as x, sets both in i, and gives
// what is left of the second's drive and how that changes with x.
func (l *diodeLaw) balance(p *pair, i *[2]float64, on, off int, x float64) (volts, slope float64) {
	i[off] = x
	i[on] = l.current(p.drive[on]-p.mutual*x, p.rs+p.own[on], p.w)
	drop, rise := l.drop(x, p.w)
	_, riseOn := l.drop(i[on], p.w)
	volts = p.drive[off] - (p.rs+p.own[off])*x - p.mutual*i[on] - drop
	slope = p.mutual*p.mutual/(p.rs+p.own[on]+riseOn) - (p.rs + p.own[off]) - rise
	return volts, slope
}

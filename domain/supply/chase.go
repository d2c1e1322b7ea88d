package supply

import (
	"context"
	"fmt"
	"math"
	"sort"

	"coldrise/domain/problem"
)

const (
	// warmthStep is the most that a cathode may warm in a stride.
	warmthStep = 0.15
	// logisticReach is how many τ from its middle a logistic warm-up is followed
	// as if it had corners there: it is then within 6e-6 of none or full.
	logisticReach = 12
	// afterJump periods are walked before strides are thought of.
	afterJump = 5
	// afterCorner is the longest stride from where a slope changed.
	afterCorner = 8
	// knotSpacing is how many walked periods lie between the points that strides build on.
	knotSpacing = 2
	// askEvery is how many periods or strides pass between looks at the context.
	askEvery = 32
)

// corners gives the periods at whose start something in the circuit changes
// its course, in order, up to the last; the last itself ends them.
func (f *follower) corners(last int, more ...float64) []int {
	times := append([]float64{}, more...)
	for _, e := range f.net.emissions {
		if e.logistic {
			times = append(times, e.a-logisticReach*e.b, e.a+logisticReach*e.b)
		} else {
			times = append(times, e.a, e.b)
		}
	}
	var at []int
	for _, t := range times {
		if k := int(math.Floor(t/f.period + 1e-9)); k > 0 && k < last {
			at = append(at, k)
		}
	}
	sort.Ints(at)
	return append(at, last)
}

// chase takes the follower to the end of its run.
type chase struct {
	*follower
	str     *strider
	last    int     // the period that ends the run
	corners []int   // still ahead
	close   int     // the period in which the switch closes; −1 where it has or never does
	hurry   int     // periods to walk before striding
	finely  int     // of these, walked finely, the first of them most
	jumped  bool    // the next period follows a jump
	since   int     // periods walked since the last knot
	stride  float64 // periods the next stride may take
	asked   int
	care    float64
	checks  int // strides held against a walk
	strides int

	untilTop bool // only peaks are asked, and it can be told when they have passed
	over     bool // they have
}

// Care is how many times less than usual strides may err.
func newChase(f *follower, endS, windowS, care float64) *chase {
	c := &chase{follower: f, str: newStrider(f, care), care: care, close: -1, hurry: afterJump, finely: finePeriods, jumped: true}
	c.last = int(math.Floor(endS/f.period + 1e-6))
	c.corners = f.corners(c.last, endS-windowS)
	if sw := f.net.sw; sw != nil && !f.closed && sw.CloseS < endS {
		c.close = int(math.Floor(sw.CloseS/f.period + 1e-9))
	}
	return c
}

// to goes on until period k has begun.
func (c *chase) to(ctx context.Context, k int) error {
	for c.k < k && c.failed == "" && c.doubt == "" && !c.over {
		if c.asked++; c.asked%askEvery == 0 {
			if err := cancelled(ctx); err != nil {
				return err
			}
		}
		for len(c.corners) > 0 && c.corners[0] <= c.k {
			c.turn()
		}
		if c.k == c.close {
			c.throw()
			continue
		}
		if c.hurry > 0 || c.stride < leastStride {
			c.walkOne()
			continue
		}
		c.strideTo(min(k, c.nextStop()))
		c.over = c.untilTop && c.passedTop()
	}
	c.finite()
	return nil
}

// nextStop is the period a stride may not pass.
func (c *chase) nextStop() int {
	stop := c.last
	if len(c.corners) > 0 {
		stop = min(stop, c.corners[0])
	}
	if c.close >= c.k {
		stop = min(stop, c.close)
	}
	return stop
}

// turn passes a corner: only a slope changes there, so strides go on, short at
// first. Where the rectifier begins to conduct no smooth line leads on.
func (c *chase) turn() {
	at := c.corners[0]
	c.corners = c.corners[1:]
	c.stride = min(c.stride, afterCorner)
	if h := c.net.heater; h >= 0 && at == int(math.Floor(c.net.emissions[h].a/c.period+1e-9)) {
		c.hurry, c.stride, c.since = afterCorner, 0, 0
		c.str.forget()
		c.str.push()
	}
}

// walkOne walks one period.
func (c *chase) walkOne() {
	c.direct(min(c.finely, 2), c.jumped)
	c.finely = max(0, c.finely-1)
	c.jumped = false
	c.hurry = max(0, c.hurry-1)
	c.refresh()
	if c.since++; c.since >= knotSpacing {
		c.since = 0
		c.str.push()
		if c.hurry == 0 {
			c.stride = min(c.str.reach(), 2*knotSpacing)
		}
	}
}

// strideTo takes one stride, no further than to period stop.
func (c *chase) strideTo(stop int) {
	if c.str.knots[0].k != c.k {
		c.str.push()
		c.since = 0
	}
	most := growth[leastOrder] * float64(c.k-c.str.knots[1].k)
	h := int(min(min(c.stride, most), float64(c.limit(stop-c.k))))
	if left := stop - c.k - h; left > 0 && left < leastStride {
		h = (stop - c.k + 1) / 2
	}
	if h < leastStride || c.str.have < 3 {
		c.hurry, c.since = min(stop-c.k, knotSpacing), 0
		return
	}
	c.strides++
	copy(c.str.from, c.x)
	next, taken := c.str.take(h)
	c.stride = next
	if !taken {
		if next < leastStride {
			c.hurry, c.since = knotSpacing, 0
		}
		return
	}
	c.land(h)
	if c.checks < len(checkAt) && c.strides >= checkAt[c.checks] && h <= longestCheck {
		c.checks++
		c.check(h)
	}
}

// checkAt is after how many strides the next short one is walked as well.
var checkAt = [...]int{4, 24}

const (
	// longestCheck is the longest stride that is walked as well, in periods.
	longestCheck = 12
	// checkTol is how far the walk may end from the stride, in units of what a
	// stride may err; a run made with more care is held to no more than
	// checkCare times less than the first.
	checkTol  = 4
	checkCare = 5
)

// check walks the periods of the stride just taken one by one and holds the
// end against the stride's.
func (c *chase) check(h int) {
	x := c.str.from
	for k := c.k - h; k < c.k; k++ {
		c.image(c.grid(0), x, k)
	}
	tol := checkTol * max(1, c.care/checkCare)
	for i, allow := range c.str.allow {
		if off := math.Abs(x[i] - c.x[i]); !(off <= tol*allow) {
			c.suspect(fmt.Sprintf("a stride of %d periods at %.4g s ended %.2g %% of the winding's peak off the same periods walked",
				h, float64(c.k)*c.period, 100*off/c.net.peak))
		}
	}
}

// land goes to the end of a stride that has been solved.
func (c *chase) land(h int) {
	from := float64(c.k+h-1) * c.period
	c.shift(c.grid(0), c.str.moveY, c.str.moveX)
	c.see(c.grid(0), from)
	for i := range c.s.real {
		c.x[i] = c.str.x1[i] + c.str.moveX[i]
	}
	c.k += h - 1
	c.t.note(walkedPeriod{from: from, to: from + c.period, whole: true}, c.flips(c.k))
	c.t.cycle(c.share(), false, false, true)
	c.k++
	c.choose(c.grid(0))
	c.refresh()
	c.str.push()
	c.since = 0
}

// share is what part of a mains cycle a period is.
func (c *chase) share() float64 {
	if c.half {
		return 0.5
	}
	return 1
}

// limit bounds a stride by how fast the cathodes warm.
func (c *chase) limit(h int) int {
	t := float64(c.k) * c.period
	for i := range c.net.emissions {
		e := &c.net.emissions[i]
		if t >= e.full {
			continue
		}
		from := e.at(t)
		for h > leastStride && math.Abs(e.at(t+float64(h)*c.period)-from) > warmthStep {
			h = h * 3 / 4
		}
	}
	return h
}

// throw walks the period in which the switch closes, in two parts.
func (c *chase) throw() {
	start, at := float64(c.k)*c.period, c.net.sw.CloseS
	end := start + c.period
	c.part(start, at, coarsePart)
	c.closed = true
	c.guessSlope()
	if !c.lay() {
		c.fail(noSolution)
	}
	c.jumped = true
	c.part(at, end, finePart)
	c.k++
	c.jumped = false
	c.close = -1
	c.hurry, c.finely = afterJump, finePeriods
	c.stride = 0
	c.str.forget()
	c.str.known = false
	c.since = 0
}

// How finely the parts of a period beside a switch are walked, against a plain period.
const (
	coarsePart = 1
	finePart   = 6
)

// part walks from one instant to another within a period.
func (c *chase) part(from, to float64, finer float64) {
	if to-from < 1e-9*c.period {
		return
	}
	steps := max(1, int(math.Ceil(finer*(to-from)/c.grids[0].h)))
	c.odd.reserve(c.s, steps, c.mem)
	c.odd.drive(c.net, from, (to-from)/float64(steps))
	copy(c.start, c.x)
	for try := range observations { // again where the loads' voltages were not what they were taken for
		if !c.odd.lay(c.s, c.odd.h, c.w.rs, c.slopes) {
			c.fail(noSolution)
			return
		}
		c.observe(c.odd, c.x, from, thinned)
		if try == observations-1 || c.missed <= mostMissed*c.net.peak {
			break
		}
		copy(c.x, c.start)
		c.refresh()
	}
	c.t.note(walkedPeriod{from: from, to: to, jump: c.jumped}, false)
	begins := from <= float64(c.k)*c.period && (!c.half || c.k%2 == 0)
	ends := to >= float64(c.k+1)*c.period && (!c.half || c.k%2 == 1)
	c.t.cycle(1, begins, ends, false)
}

func (f *follower) fail(why string) {
	if f.failed == "" {
		f.failed = why
	}
}

// suspect notes what more care may mend.
func (f *follower) suspect(what string) {
	if f.doubt == "" {
		f.doubt = what
	}
}

// finite notes where a state has left the numbers.
func (c *chase) finite() {
	for _, v := range c.x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			c.fail("its numbers ran away")
		}
	}
}

// cancelled gives an error where ctx has ended.
func cancelled(ctx context.Context) error {
	err := context.Cause(ctx)
	if err == nil {
		return nil
	}
	e := problem.New(problem.Cancelled, "the simulation was stopped before its end")
	e.Cause = err
	return e
}

package supply

import "context"

// Peaks is Run where only the highest voltages are asked: the result's currents,
// steady figures and times above a threshold are left out. It stops as soon as
// no voltage can rise any more.
//
// That is so where every state has fallen from one look to the next and what
// is still to come can only pull down: cathodes of loads that warm. In a network
// of resistances and capacitors behind a rectifier no voltage then ever comes
// back, since more volts anywhere at one time mean no less anywhere later.
// Chokes ring, and the units of an uneven stack exchange volts; with these it
// runs on.
//
// Errors: as Simulate.
func (v *Solver) Peaks(ctx context.Context, c *Circuit, s Settings) (*Result, error) {
	if err := checkRun(c, s); err != nil {
		return nil, err
	}
	f := newFollower(c, s.StepsPerCycle, &v.mem)
	if err := f.climb(ctx, c.TEndS); err != nil {
		return nil, err
	}
	if f.failed != "" || f.doubt != "" {
		return v.Run(ctx, c, s) // with its own checks, which may end in equal steps
	}
	out := &Result{Status: Complete, StepUS: 1e6 * f.grids[0].h, Steps: f.w.steps}
	f.collect(c, newSettled(f.t, len(f.s.loaded)), out)
	out.Diodes = nil // loads that are still to warm would raise these
	c.markUnstarted(out)
	return out, nil
}

// climb runs the follower until nothing can rise any more, or to the end.
func (f *follower) climb(ctx context.Context, endS float64) error {
	if f.begin(); f.failed != "" {
		return nil
	}
	c := newChase(f, endS, 0, 1)
	c.untilTop = f.cooperative()
	if err := c.to(ctx, c.last); err != nil {
		return err
	}
	f.judge()
	return nil
}

// cooperative says whether more volts on any capacitor can only mean more on
// the others.
func (f *follower) cooperative() bool {
	if f.net.doubler || len(f.s.chokes) > 0 {
		return false
	}
	for _, st := range f.net.stacks {
		for _, u := range f.net.units[st.first : st.first+st.count] {
			if u != f.net.units[st.first] {
				return false
			}
		}
	}
	return true
}

// fallen is by how much every state must have fallen from one point of the
// envelope to the next, in units of strideTol: more than a stride may err.
const fallen = 1

// passedTop says whether nothing can rise any more in a cooperative network.
func (c *chase) passedTop() bool {
	if !c.closed || c.close >= 0 || c.hurry > 0 || c.str.have < 3 {
		return false
	}
	if h := c.net.heater; h >= 0 && float64(c.k)*c.period < c.net.emissions[h].full {
		return false
	}
	p := &c.str.knots
	for i, scale := range c.str.scale {
		if !(p[1].x[i]-p[0].x[i] > fallen*scale && p[2].x[i]-p[1].x[i] > fallen*scale) {
			return false
		}
	}
	return true
}

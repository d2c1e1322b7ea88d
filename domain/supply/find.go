package supply

import (
	"context"
	"math"
)

// briefS is settleS where a thousand samples are run.
const briefS = 6

// Find runs a service: from rest where it begins cold, else by its steady state
// alone. Thresholds are those of Circuit. Errors: as Simulate.
func (m *Model) Find(ctx context.Context, v *Solver, s Service, thresholds map[string][]float64) (*Result, error) {
	if s.warm {
		return v.Steady(ctx, m.Circuit(s, nil), Settings{})
	}
	r, err := v.Run(ctx, m.Circuit(s, thresholds), Settings{})
	if err != nil || m.elmoreS() <= slowestKeptS {
		return r, err
	}
	return r, m.raise(ctx, v, s, r)
}

// FindHighest finds what a service that begins cold rises to, and of a warm one
// what Find does. The length is what this model needs (a turned one may be
// slower than the one the service was made for), shorter than Find's: enough
// for a peak, not for a tube's last volt. Errors: as Simulate.
func (m *Model) FindHighest(ctx context.Context, v *Solver, s Service) (*Result, error) {
	if s.warm {
		return v.Steady(ctx, m.Circuit(s, nil), Settings{})
	}
	s.EndS = math.Max(m.endOf(&s)-settleS+briefS, 2+6*m.slowestS())
	r, err := v.Peaks(ctx, m.Circuit(s, nil), Settings{})
	if err != nil || m.elmoreS() <= slowestKeptS {
		return r, err
	}
	return r, m.raise(ctx, v, s, r)
}

// raise lifts a result to where the service comes to rest, for a supply too
// slow to get there within the longest run.
func (m *Model) raise(ctx context.Context, v *Solver, s Service, r *Result) error {
	at, err := v.Steady(ctx, m.Circuit(s, nil), Settings{})
	if err != nil {
		return err
	}
	for i := range r.Caps {
		c := &r.Caps[i]
		c.PeakV, c.SteadyMaxV = math.Max(c.PeakV, at.Caps[i].SteadyMaxV), math.Max(c.SteadyMaxV, at.Caps[i].SteadyMaxV)
	}
	for i := range r.Nodes {
		n := &r.Nodes[i]
		n.PeakV, n.SteadyMaxV = math.Max(n.PeakV, at.Nodes[i].SteadyMaxV), math.Max(n.SteadyMaxV, at.Nodes[i].SteadyMaxV)
	}
	return nil
}

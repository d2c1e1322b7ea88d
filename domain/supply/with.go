package supply

// Capacitor is what is to stand at a place instead of what the model was made
// with: a part picked, or the same one at an end of its tolerance.
type Capacitor struct {
	CapacitanceUF float64
	ESROhm        float64 // 0 takes what a model takes where none is stated
	// LeakOhm is across it, a stack's balancing resistor with it; 0 takes that of
	// a sound capacitor.
	LeakOhm float64
}

// With gives the model with other capacitors at some of its places: of says
// what stands at a place, false where it stays as it is. The winding stays at
// its volts: a fitted one is not fitted again, for another capacitor does not
// change it. m is left as it was.
func (m *Model) With(of func(Place) (Capacitor, bool)) *Model {
	out := m.clone()
	out.Places = append([]Place(nil), m.Places...)
	for i := range out.Places {
		p := &out.Places[i]
		c, changed := of(*p)
		if !changed {
			continue
		}
		u := out.unit(nil, c.CapacitanceUF)
		if c.ESROhm > 0 {
			u.ESROhm = c.ESROhm
		}
		if c.LeakOhm > 0 {
			u.LeakOhm = c.LeakOhm
		}
		for k := range out.Nodes {
			if out.Nodes[k].Name == p.Node {
				out.Nodes[k].stacks[p.stackIndex()][p.unit()] = u
			}
		}
	}
	out.shareAmongParallel()
	return out
}

package amp

import (
	"fmt"
	"strings"

	"coldrise/domain/document"
	"coldrise/domain/tube"
)

// silicon is the rectifier type that is no tube.
const silicon = "silicon"

// IsSilicon says whether the rectifier is silicon rather than a tube.
func (r *Rectifier) IsSilicon() bool { return strings.EqualFold(r.Type, silicon) }

func (c checker) supply(i int) {
	s := &c.a.Supplies[i]
	c.tidy(s.Name, "supplies", i, "name")
	for k := range i {
		if c.a.Supplies[k].Name == s.Name && s.Name != "" {
			c.fault(document.Pointer("supplies", i, "name"), s.Name, "is the name of %s already", document.Pointer("supplies", k))
			break
		}
	}
	c.winding(s, document.Pointer("supplies", i, "winding"))
	c.rectifier(&s.Rectifier, document.Pointer("supplies", i, "rectifier"))
	c.standby(s, document.Pointer("supplies", i, "standby"))
	c.ladder(s, document.Pointer("supplies", i, "nodes"))
}

func (c checker) winding(s *Supply, at string) {
	w := s.Winding
	known := w != nil && (w.UnloadedV != nil || w.LoadedV != nil || w.LoadedMA != nil)
	if !known && len(s.Nodes) > 0 && !s.Nodes[0].hasReading() {
		c.fault(at, nil, "has no volts to start from: give unloaded_v, or loaded_v with loaded_ma, or measured_v or schematic_v of the first node")
	}
	if w == nil {
		return
	}
	c.pair(at, "loaded_v", w.LoadedV, "loaded_ma", w.LoadedMA)
	if w.LoadedV != nil && w.UnloadedV != nil {
		c.atLeast(document.Under(at, "unloaded_v"), *w.UnloadedV, *w.LoadedV, "V", "must not be below loaded_v: a winding sags under load")
	}
	if w.SourceOhm != nil && (w.SecondaryOhm != nil || w.PrimaryOhm != nil) {
		c.fault(document.Under(at, "source_ohm"), *w.SourceOhm, "stands for secondary_ohm and primary_ohm together, so not beside them")
	}
}

// pair wants both of two members or neither.
func (c checker) pair(at, nameA string, a *float64, nameB string, b *float64) {
	if a != nil && b == nil {
		c.fault(document.Under(at, nameB), nil, "is required beside %s", nameA)
	}
	if b != nil && a == nil {
		c.fault(document.Under(at, nameA), nil, "is required beside %s", nameB)
	}
}

func (c checker) rectifier(r *Rectifier, at string) {
	c.pair(at, "drop_v", r.DropV, "drop_ma", r.DropMA)
	c.warmUp(r.WarmUp, document.Under(at, "warm_up"))
	if r.Type == "" {
		return
	}
	if _, isTube := tube.LookupRectifier(r.Type); isTube {
		c.notWith(at, "silicon", r.Silicon != nil, "belongs to a silicon rectifier, and %s is a tube", r.Type)
		c.notWith(at, "series_count", r.SeriesCount != 0, "counts silicon diodes, and %s is a tube", r.Type)
		return
	}
	if r.IsSilicon() {
		c.notWith(at, "count", r.Count != 0, "counts tubes in parallel, and the rectifier is silicon; diodes in series are series_count")
		c.notWith(at, "drop_v", r.DropV != nil, "is a tube's, and the rectifier is silicon")
		c.notWith(at, "drop_ma", r.DropMA != nil, "is a tube's, and the rectifier is silicon")
		c.notWith(at, "warm_up", r.WarmUp != nil, "is a tube's: silicon conducts from the first instant")
		return
	}
	at = document.Under(at, "type")
	if t, ok := tube.LookupReceiving(r.Type); ok {
		c.fault(at, r.Type, "%s is no rectifier but a tube of a stage; give a rectifier's type, or %q", t.Type, silicon)
		return
	}
	near := tube.NearestRectifier(r.Type)
	if _, close := document.Nearest(r.Type, []string{silicon}); close || near == "" {
		near = silicon
	}
	c.fault(at, r.Type, "is not a rectifier that is known; the nearest is %q", near)
}

// notWith takes a fault where a member is given that does not go with the rest.
func (c checker) notWith(at, member string, given bool, format string, args ...any) {
	if given {
		c.fault(document.Under(at, member), nil, format, args...)
	}
}

func (c checker) standby(s *Supply, at string) {
	if s.Standby == nil {
		return
	}
	switch s.Standby.Switch {
	case "none":
		c.notWith(at, "closes_after_s", s.Standby.ClosesAfterS != nil, "there is no switch to close: switch is none")
	case "after_reservoir":
		if len(s.Nodes) == 1 {
			c.fault(document.Under(at, "switch"), s.Standby.Switch, "needs a second node: the switch stands between the first and what it feeds")
		}
	}
}

// warmUp wants the members of the law named, and those alone.
func (c checker) warmUp(w *WarmUp, at string) {
	if w == nil {
		return
	}
	wanted := map[string][2]string{"smoothstep": {"ta_s", "tb_s"}, "logistic": {"t0_s", "tau_s"}}[w.Law]
	for _, m := range []struct {
		name  string
		given bool
	}{{"ta_s", w.TaS != nil}, {"tb_s", w.TbS != nil}, {"t0_s", w.T0S != nil}, {"tau_s", w.TauS != nil}} {
		switch takes := m.name == wanted[0] || m.name == wanted[1]; {
		case wanted[0] == "":
		case takes && !m.given:
			c.fault(document.Under(at, m.name), nil, "is required by the law %s", w.Law)
		case !takes && m.given:
			c.fault(document.Under(at, m.name), nil, "is no part of the law %s, which takes %s and %s", w.Law, wanted[0], wanted[1])
		}
	}
	if w.Law == "smoothstep" && w.TaS != nil && w.TbS != nil && *w.TbS > 0 && *w.TbS <= *w.TaS {
		c.over(document.Under(at, "tb_s"), *w.TbS, *w.TaS, "s", "must be after ta_s")
	}
}

func (c checker) over(at string, value, limit float64, unit, message string) {
	f := faultOf(at, message, value)
	f.Limit, f.Unit = fmt.Sprintf("more than %g", limit), unit
	c.faults.Add(f)
}

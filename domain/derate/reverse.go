package derate

import (
	"fmt"

	"coldrise/domain/part"
)

// reverseV is the most that an aluminium electrolytic may stand the wrong way
// round: 1 V (Vishay ASH, doc 28329, and RSU, doc 28309); GE grants 1.5 V.
const reverseV = 1.0

const sourceReverse = "Vishay ASH and RSU: 1 V reverse (GE capacitor application data: 1.5 V)"

// reverse shows what switching off may do to the smaller unit of a stack. At
// rest the units share alike; while what still draws empties the stack, every
// unit gives the same charge, so the smaller one is empty first and the others
// drive it the wrong way. Nobody's parts are matched to a volt, so this advises
// and never decides.
func reverse(s Stress, e *part.Effective) []Check {
	if s.Units < 2 || s.RestShare <= 0 || e.Technology != part.Electrolytic {
		return nil
	}
	back := ReverseV(s.DCV/s.RestShare*float64(s.Units), s.ChargingShare/float64(s.Units), s.Units)
	c := atMost("reverse_voltage", back, reverseV, "V", sourceReverse)
	c.Advisory = true
	c.Text = "the units empty together at switch-off"
	if !c.Pass {
		c.Text = fmt.Sprintf("advice only: at switch-off the tubes may empty the stack until its smallest unit stands at %.0f V the wrong way, where %g V is the most: measure the units and match them, or fit a diode across each, its cathode to the plus end",
			back, reverseV)
	}
	return []Check{c}
}

// ReverseV gives how far, V, the smallest of n stacked units is driven the
// wrong way when a stack that stood at v, shared alike at rest, is emptied
// faster than its balancing resistors follow: v·(share − 1/n), where share is
// what that unit takes while charging (StackSplit). 0 where it takes no more
// than its part.
func ReverseV(v, share float64, n int) float64 {
	if n < 2 || share*float64(n) <= 1 {
		return 0
	}
	return v * (share - 1/float64(n))
}

package derate

import (
	"fmt"
	"math"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// Fits of a body. Common practice.
const (
	clampSlackMM = 1.0
	pitchSlackMM = 0.5
	// bendMM is what an axial lead takes at each end before it can turn down.
	bendMM = 2.0
)

// body holds a part against the room there is: every miss is a check of its
// own; where there is none, one check with the least room. No room given, no check.
//
// A part without its size is unknown even where no room is given: whoever fits
// it could not tell either.
func body(room *amp.Body, p *part.Part) []Check {
	if p.DiameterMM == nil || p.LengthMM == nil {
		return []Check{unsized(p)}
	}
	if room == nil {
		return nil
	}
	var all []Check
	if len(room.Styles) > 0 {
		all = append(all, style(room.Styles, p.Style))
	}
	if room.MaxDiameterMM != nil {
		all = append(all, size("diameter", *p.DiameterMM, *room.MaxDiameterMM))
	}
	if room.MaxLengthMM != nil {
		all = append(all, size("length", *p.LengthMM, *room.MaxLengthMM))
	}
	if room.ClampMM != nil {
		all = append(all, clamp(*p.DiameterMM, *room.ClampMM))
	}
	if room.LeadPitchMM != nil {
		all = append(all, pitch(p, *room.LeadPitchMM))
	}
	return missesOrTightest(all)
}

func unsized(p *part.Part) Check {
	var missing []string
	if p.DiameterMM == nil {
		missing = append(missing, "diameter_mm")
	}
	if p.LengthMM == nil {
		missing = append(missing, "length_mm")
	}
	return unknown("body", "its size is not given: whether it fits is not known", sourceBody, missing...)
}

func missesOrTightest(all []Check) []Check {
	var missed []Check
	for _, c := range all {
		if !c.Pass {
			missed = append(missed, c)
		}
	}
	if len(missed) > 0 || len(all) == 0 {
		return missed
	}
	tightest := all[0]
	for _, c := range all[1:] {
		// A style that fits has no measure; any measure says more.
		if tightest.Unit == "" || c.MarginPct < tightest.MarginPct {
			tightest = c
		}
	}
	return []Check{tightest}
}

const sourceBody = "the room given for this position"

func style(fits []string, have part.Style) Check {
	for _, s := range fits {
		if s == string(have) {
			return is("body", true, words(s)+" fits", sourceBody)
		}
	}
	c := is("body", false, fmt.Sprintf("%s; the place takes %s", words(string(have)), words(strings.Join(fits, " or "))), sourceBody)
	c.Cure = "a body of the kind " + words(strings.Join(fits, " or "))
	return c
}

func size(what string, have, room float64) Check {
	c := atMost("body", have, room, "mm", sourceBody)
	c.Text = fmt.Sprintf("%s %g mm; room for %g mm", what, have, room)
	if !c.Pass {
		c.Text += fmt.Sprintf(": %.3g mm too much", have-room)
		c.Cure = fmt.Sprintf("a %s of at most %g mm", what, room)
	}
	return c
}

func clamp(diameter, holds float64) Check {
	c := within(diameter, holds, clampSlackMM)
	c.Text = fmt.Sprintf("diameter %g mm; the clamp holds %g mm, within %g mm", diameter, holds, clampSlackMM)
	if !c.Pass {
		c.Cure = fmt.Sprintf("a diameter of %g to %g mm", holds-clampSlackMM, holds+clampSlackMM)
	}
	return c
}

// pitch holds the leads against the holes. Axial leads are bent to them, for
// which the body needs room between.
func pitch(p *part.Part, holes float64) Check {
	switch {
	case p.LeadPitchMM != nil:
		c := within(*p.LeadPitchMM, holes, pitchSlackMM)
		c.Text = fmt.Sprintf("lead pitch %g mm; holes at %g mm, within %g mm", *p.LeadPitchMM, holes, pitchSlackMM)
		if !c.Pass {
			c.Cure = fmt.Sprintf("a lead pitch of %g mm", holes)
		}
		return c
	case p.Style == part.Axial:
		c := atMost("body", *p.LengthMM+2*bendMM, holes, "mm", "common practice: 2 mm to bend each lead")
		c.Text = fmt.Sprintf("axial, %g mm long: its leads bend to %g mm at least; holes at %g mm", *p.LengthMM, c.Have, holes)
		if !c.Pass {
			c.Cure = fmt.Sprintf("an axial body of at most %g mm in length", holes-2*bendMM)
		}
		return c
	}
	return unknown("body", fmt.Sprintf("its lead pitch is not given; holes at %g mm", holes), sourceBody, "lead_pitch_mm")
}

// within is a check that passes where have is no further than slack from
// wanted. Have and Limit are the deviation and the slack.
func within(have, wanted, slack float64) Check {
	return atMost("body", math.Abs(have-wanted), slack, "mm", sourceBody)
}

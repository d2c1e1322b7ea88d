package derate

import (
	"fmt"
	"math"
	"strings"

	"coldrise/domain/amp"
)

// endGapMM is what two bodies end to end need between them for their leads.
// Common practice.
const endGapMM = 5.0

const sourceSet = "the room given for one body: a set fits side by side or end to end within it (common practice)"

// setBody holds several bodies against the room of one. Whatever of the room is
// not described is said not to be known, and refuses nothing. Besides says what
// small parts come with them.
func setBody(room *amp.Body, besides string, set ...Rated) []Check {
	for i := range set {
		if p := &set[i].Part; p.DiameterMM == nil || p.LengthMM == nil {
			return []Check{unsized(p)}
		}
	}
	if besides != "" {
		besides = " and " + besides
	}
	var all []Check
	if room != nil && len(room.Styles) > 0 {
		for i := range set {
			if c := style(room.Styles, set[i].Part.Style); !c.Pass || i == 0 {
				all = append(all, c)
			}
		}
	}
	if room != nil && (room.ClampMM != nil || room.LeadPitchMM != nil) {
		c := is("body", false, "a clamp or a pair of holes takes one body, and this is a set of "+bodies(set), sourceSet)
		c.Cure = "room beside the clamp or off the board"
		return missesOrTightest(append(all, c))
	}
	if room == nil || room.MaxDiameterMM == nil && room.MaxLengthMM == nil {
		c := unknown("body", fmt.Sprintf("advice only: the room is not described: %s%s must find theirs", bodies(set), besides), sourceSet, "body")
		c.Advisory = true
		return append(missesOrTightest(all), c)
	}
	return missesOrTightest(append(all, roomFor(room, besides, set)))
}

// bodies lists the bodies of a set.
func bodies(set []Rated) string {
	if len(set) > 1 && set[0].Part.Key() == set[len(set)-1].Part.Key() {
		return fmt.Sprintf("%d bodies of %.3g × %.3g mm", len(set), *set[0].Part.DiameterMM, *set[0].Part.LengthMM)
	}
	var list []string
	for i := range set {
		list = append(list, fmt.Sprintf("%.3g × %.3g mm", *set[i].Part.DiameterMM, *set[i].Part.LengthMM))
	}
	return "bodies of " + strings.Join(list, " and ")
}

// roomFor tries the set side by side and end to end, and keeps the better. A
// side of the room that is not given counts as enough, and the sentence says so.
func roomFor(room *amp.Body, besides string, set []Rated) Check {
	widest, wide, longest, long := 0.0, 0.0, 0.0, endGapMM*float64(len(set)-1)
	for i := range set {
		d, l := *set[i].Part.DiameterMM, *set[i].Part.LengthMM
		widest, wide = math.Max(widest, d), wide+d
		longest, long = math.Max(longest, l), long+l
	}
	beside, after := fits(room, wide, longest), fits(room, widest, long)
	c, how := beside, "side by side"
	if after.MarginPct > beside.MarginPct {
		c, how = after, "end to end"
	}
	w, l := wide, longest
	if how == "end to end" {
		w, l = widest, long
	}
	c.Text = fmt.Sprintf("%s %s take %.3g × %.3g mm; room for %s", bodies(set), how, w, l, described(room))
	if besides != "" {
		c.Text += ";" + strings.TrimPrefix(besides, " and") + " come beside them, and their room is not known"
	}
	return c
}

func fits(room *amp.Body, wide, long float64) Check {
	c := Check{Name: "body", MarginPct: maxMarginPct}
	if room.MaxDiameterMM != nil {
		c = atMost("body", wide, *room.MaxDiameterMM, "mm", sourceSet)
		c.Cure = fmt.Sprintf("room of %.3g mm across", wide)
	}
	if room.MaxLengthMM != nil {
		if l := atMost("body", long, *room.MaxLengthMM, "mm", sourceSet); room.MaxDiameterMM == nil || l.MarginPct < c.MarginPct {
			c = l
			c.Cure = fmt.Sprintf("room of %.3g mm in length", long)
		}
	}
	if c.Pass {
		c.Cure = ""
	}
	return c
}

func described(room *amp.Body) string {
	switch {
	case room.MaxLengthMM == nil:
		return fmt.Sprintf("%g mm across, its length not given", *room.MaxDiameterMM)
	case room.MaxDiameterMM == nil:
		return fmt.Sprintf("%g mm in length, its width not given", *room.MaxLengthMM)
	}
	return fmt.Sprintf("%g × %g mm", *room.MaxDiameterMM, *room.MaxLengthMM)
}

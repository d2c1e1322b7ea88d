package derate

import (
	"fmt"
	"math"

	"coldrise/domain/part"
	"coldrise/domain/quantity"
)

// Recipe is how to reform one part: what to put in series, how fast to raise
// the volts, how long to leave them on, and when to stop.
type Recipe struct {
	Name   string   `json:"name"`
	Source string   `json:"source"`
	Series Resistor `json:"series" doc:"In series with the part for the whole time; E12, rated for a part that is shorted"`
	// LimitMA is what the bench supply is set to, and what may flow at most.
	LimitMA float64      `json:"limit_ma"`
	Steps   []ReformStep `json:"steps"`
	Minutes float64      `json:"minutes" doc:"At rated volts"`
	// Done is reached when no more than this flows at rated volts.
	DoneUA float64 `json:"done_ua"`
	DoneV  float64 `json:"done_v" doc:"The same as volts across the series resistor"`
	// Reject the part when more than this still flows at the end.
	RejectUA     float64  `json:"reject_ua"`
	RejectV      float64  `json:"reject_v"`
	RejectSource string   `json:"reject_source"`
	Discharge    Resistor `json:"discharge" doc:"To discharge it through afterwards: 1 Ω per applied volt"`
	RestHours    float64  `json:"rest_hours" doc:"To lie before the leakage that counts is read"`
	// Others are the published recipes that were not taken, and why.
	Others []string `json:"others"`
}

// ReformStep is one step of a recipe.
type ReformStep struct {
	V       float64 `json:"v" doc:"Of the bench supply"`
	Minutes float64 `json:"minutes,omitempty" doc:"At these volts; left out where a current ends the step"`
	Text    string  `json:"text"`
}

// The published recipes.
const (
	sourceEIA      = "ECIA/EIA-815 (1999), preconditioning, abstract: rated volts through 100 Ω up to 100 V, 1000 Ω above, for 1 h; discharge through 1 Ω per volt; rest 12 to 48 h"
	sourceCDE      = "CDE 1993, re-ageing (quoted by an amateur's page): 10 kΩ up to 75 V, 100 kΩ above, raised slowly, 1 mA at most, 4 h and more at rated volts"
	sourceMilitary = "a forces' practice (quoted in a forum): some 30 kΩ 5 W, 5 min and 1 min per month stored; reject where more than 10 % of the applied volts drop after 1 h"
	sourceMaker    = "a maker's text and Panasonic (quoted in forums): rated volts through some 1 kΩ for 30 min"
)

// gentleYears is up to where the quick recipe is taken: CDE 1993 holds parts
// good after re-ageing up to 5 years.
const gentleYears = 5

// quickMA bounds the bench supply where the series resistor alone would let a
// shorted part draw amperes. Common practice.
const quickMA = 10

// recipeFor picks by how long the part has lain and how it is built: the quick
// one of the standard for single parts up to 5 years, the slow one for older
// parts and for cans, whose large sections heat before they form.
func recipeFor(o OldStock, counted, soundUA float64) *Recipe {
	var r Recipe
	if counted <= gentleYears && o.Style != part.Can {
		r = quickRecipe(o)
	} else {
		r = slowRecipe(o, counted)
	}
	r.DoneUA, r.RejectUA, r.RejectSource = soundUA, 2*soundUA, sourceShelf
	r.DoneV, r.RejectV = r.DoneUA*1e-6*r.Series.Ohm, r.RejectUA*1e-6*r.Series.Ohm
	r.RestHours = 12
	each, _ := quantity.E12.AtMost(o.RatedV)
	if each < o.RatedV {
		each, _ = quantity.E12.Next(o.RatedV) // never less than 1 Ω per volt
	}
	energy := EnergyJ(o.CapacitanceUF*1e-6, o.RatedV)
	r.Discharge = Resistor{Ohm: each, Pieces: 1, EachOhm: each, EachW: pulseWatts(energy), EachV: o.RatedV}
	r.Steps = append(r.Steps, ReformStep{V: 0, Text: fmt.Sprintf("supply off; discharge it through %.0f Ω (it holds %.2g J), measure that it is empty, and let it lie %.0f h or more with that resistor across it, for it recovers",
		each, energy, r.RestHours)},
		ReformStep{V: o.RatedV, Minutes: 5, Text: fmt.Sprintf("back to rated volts; after 5 min it may leak %s. At %s or more it is scrap", microamp(r.DoneUA), microamp(r.RejectUA))})
	return &r
}

// quickRecipe is the standard's preconditioning.
func quickRecipe(o OldStock) Recipe {
	ohm := 1000.0
	if o.RatedV <= 100 {
		ohm = 100
	}
	r := Recipe{Name: "preconditioning", Source: sourceEIA, LimitMA: quickMA, Minutes: 60, Series: fixedResistor(ohm, quickMA, o.RatedV),
		Others: []string{"not the slow one, which is for older parts and cans: " + sourceCDE, "shorter: " + sourceMaker, "for parts stored longer: " + sourceMilitary}}
	r.Steps = []ReformStep{
		{V: 0, Text: fmt.Sprintf("look at it, check its polarity, put it under a cover; %.0f Ω in series; bench supply limited to %d mA, for a shorted part would draw %.2g A through that", ohm, quickMA, o.RatedV/ohm)},
		{V: o.RatedV, Text: fmt.Sprintf("raise to %.4g V, no faster than the limit lets it charge (%.2g s and more)", o.RatedV, o.CapacitanceUF*1e-6*o.RatedV/(quickMA*1e-3))},
		{V: o.RatedV, Minutes: 60, Text: "leave it there; the current must fall all the time. If it rises, or the part gets warm, supply off"},
	}
	return r
}

// gentleOhm is the series resistor of CDE's re-ageing.
func gentleOhm(ratedV float64) float64 {
	if ratedV <= 75 {
		return 10e3
	}
	return 100e3
}

// slowRecipe is re-ageing at 1 mA, for as long as the forces' rule asks where
// that is longer.
func slowRecipe(o OldStock, counted float64) Recipe {
	ohm := gentleOhm(o.RatedV)
	const limit = 1.0
	drop := limit / 1000 * ohm // what may stand across the resistor
	fit, ok := FitResistor(ohm, drop, o.RatedV)
	if !ok {
		fit = fixedResistor(ohm, limit, o.RatedV)
	}
	r := Recipe{Name: "re-ageing", Source: sourceCDE, LimitMA: limit, Minutes: math.Max(240, 5+12*counted), Series: fit,
		Others: []string{"not the quick one, which is for single parts up to 5 years: " + sourceEIA, "its time counts where it is longer: " + sourceMilitary, "too quick for this one: " + sourceMaker}}
	r.Steps = []ReformStep{{V: 0, Text: fmt.Sprintf("look at it, check its polarity, put it under a cover; %s in series, and a meter across that: %.4g V there are 1 mA, the most that may flow", seriesText(fit), fit.Ohm/1000)}}
	for _, share := range [...]float64{0.25, 0.5, 0.75} {
		r.Steps = append(r.Steps, ReformStep{V: math.Round(share * o.RatedV), Text: fmt.Sprintf("raise slowly to %.0f V and wait until less than %.3g V stand across the resistor", math.Round(share*o.RatedV), fit.Ohm/1000/2)})
	}
	text := "raise to rated volts and leave it there; the current must fall all the time. If it rises, or the part gets warm, supply off"
	if o.Style == part.Can {
		text += ". Each section by itself, the others left open; then all together"
	}
	r.Steps = append(r.Steps, ReformStep{V: o.RatedV, Minutes: r.Minutes, Text: text})
	r.Steps = append(r.Steps, ReformStep{V: o.RatedV, Text: fmt.Sprintf("after the first hour: with more than %.3g V across the resistor, 10 %% of those applied, it is scrap (forces' practice; stricter here than with its 30 kΩ)", 0.1*o.RatedV)})
	return r
}

// fixedResistor is a given E12 value with the watts that a limited current
// makes in it, twice over, and the volts of the supply should the limit fail.
func fixedResistor(ohm, limitMA, v float64) Resistor {
	w := limitMA * limitMA * 1e-6 * ohm / resistorShare
	for _, s := range resistorSizes {
		if w <= s.w && v <= s.v {
			return Resistor{Ohm: ohm, Pieces: 1, EachOhm: ohm, EachW: s.w, EachV: s.v}
		}
	}
	return Resistor{Ohm: ohm, Pieces: 1, EachOhm: ohm, EachW: w, EachV: v}
}

// pulseWatts is a wire-wound resistor that takes a capacitor's energy at once:
// a joule to the watt. Common practice; its pulse rating is on its sheet.
func pulseWatts(energyJ float64) float64 {
	for _, s := range resistorSizes {
		if s.w >= 3 && s.w >= energyJ {
			return s.w
		}
	}
	return 25
}

func seriesText(r Resistor) string {
	each := fmt.Sprintf("%s %.3g W", quantity.Print(r.EachOhm, quantity.Ohm, 3), r.EachW)
	if r.Pieces > 1 {
		return fmt.Sprintf("%d × %s", r.Pieces, each)
	}
	return each
}

// ReformCaution stands wherever a part may have to be formed anew.
const ReformCaution = "Reforming is done out of the amplifier, under a cover that holds a vent, through a series resistor from an isolated, current-limited supply; the part stays charged afterwards. coldrise oldstock prints the steps."

// reformCautions stand with every recipe.
var reformCautions = []string{
	"Reforming puts lethal volts on an open bench: one hand, insulated clips put on with the supply off, nobody else within reach.",
	"Under a cover that holds a vent: a part that shorts or dries boils. Eye protection, and stay away from its end.",
	"Never without the series resistor, and never from the mains by itself: an isolated, current-limited supply.",
	"It stays charged when the supply is off. Discharge through the resistor named, measure, and leave it across.",
}

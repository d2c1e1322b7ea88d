// Package tube holds published ratings of rectifiers and of receiving tubes by
// their type designation, with the source beside each entry.
//
// A figure that is not known is zero. Where an entry rests on memory in whole
// or in part it says so, in FromMemory and in Source; nothing that is safety
// alone may lean on such a figure. Times to warm up are common practice
// unless Source gives them: hardly any were published.
//
// Designations are found in any case, with or without blanks, hyphens and
// points, by any of the names a type goes by, and written as two names with a
// slash between: gz34, 5AR4, "5AR4/GZ34", 6V6-GT.
package tube

import (
	"slices"
	"strings"

	"coldrise/domain/document"
)

// Heating is how a cathode is brought to emission.
type Heating string

// The heatings.
const (
	Direct   Heating = "direct"   // the filament is the cathode: emits in a second or two
	Indirect Heating = "indirect" // a heater inside a sleeve
)

// Rectifier is one type of vacuum rectifier.
type Rectifier struct {
	Type    string // the designation it is listed under
	also    []string
	Heating Heating
	Plates  int // 2 for full wave, 1 for half wave
	// DropV at DropMA is one point of one plate's law I = G·v^1.5.
	DropV, DropMA float64
	// MaxFirstUF is the largest first capacitor allowed, nominal.
	MaxFirstUF float64
	// FirstFromMemory says that nobody held a page with MaxFirstUF: it may warn, never refuse.
	FirstFromMemory bool
	// MaxPeakMA is the largest repetitive peak current per plate.
	MaxPeakMA float64
	// MaxDCMA is the largest direct output current of the tube with capacitor
	// input, at the plate volts where most is allowed.
	MaxDCMA float64
	// PIV is the largest peak inverse voltage, V.
	PIV float64
	// MaxPlateV is the largest RMS voltage per plate with capacitor input.
	MaxPlateV float64
	// MinSourceOhm is the least source resistance per plate at MaxPlateV.
	MinSourceOhm float64
	source       []sourcePoint
	// WarmFromS to WarmToS is where emission rises from nothing to full in an
	// ordinary start, as a smoothstep; EarliestFromS to EarliestToS in the
	// fastest, which the worst case pairs with the latest load.
	WarmFromS, WarmToS         float64
	EarliestFromS, EarliestToS float64
	Source                     string // where the figures are from
	FromMemory                 bool   // some figure rests on memory: Source says which
}

// sourcePoint is the least source resistance per plate at a plate voltage.
type sourcePoint struct{ volts, ohm float64 }

// MinSourceAt gives the least source resistance per plate in ohm at an RMS
// voltage per plate: between two published points on the line through them,
// outside them the nearest point's. 0 where nothing was published.
func (r Rectifier) MinSourceAt(volts float64) float64 {
	if len(r.source) == 0 {
		return r.MinSourceOhm
	}
	last := r.source[0]
	for _, p := range r.source {
		if volts <= p.volts {
			if p == last {
				return p.ohm
			}
			return last.ohm + (p.ohm-last.ohm)*(volts-last.volts)/(p.volts-last.volts)
		}
		last = p
	}
	return last.ohm
}

// Kind is what a receiving tube is built to do.
type Kind string

// The kinds.
const (
	Output Kind = "output" // power stages; goes when the output tubes are pulled
	Small  Kind = "small"  // voltage amplifiers, inverters, drivers
)

// Receiving is one type of receiving tube. Ratings are per tube, those of a
// double triode per section.
type Receiving struct {
	Type       string
	also       []string
	Kind       Kind
	MaxPlateV  float64
	MaxPlateW  float64
	MaxScreenV float64
	MaxScreenW float64
	// TypicalIdleMA is the cathode current of the whole tube in an ordinary
	// stage: common practice, not a rating.
	TypicalIdleMA float64
	// WarmFromS to WarmToS is where emission rises from nothing to full, as a
	// smoothstep; LatestFromS to LatestToS in the slowest start.
	WarmFromS, WarmToS     float64
	LatestFromS, LatestToS float64
	Source                 string
	FromMemory             bool
}

// LookupRectifier finds a rectifier by any of its designations.
func LookupRectifier(name string) (Rectifier, bool) {
	return lookup(name, rectifiers, func(r Rectifier) []string { return append([]string{r.Type}, r.also...) })
}

// LookupReceiving finds a receiving tube by any of its designations.
func LookupReceiving(name string) (Receiving, bool) {
	return lookup(name, receiving, func(r Receiving) []string { return append([]string{r.Type}, r.also...) })
}

func lookup[T any](name string, table []T, names func(T) []string) (T, bool) {
	for one := range strings.SplitSeq(name, "/") {
		key := fold(one)
		for _, entry := range table {
			if key != "" && slices.ContainsFunc(names(entry), func(n string) bool { return fold(n) == key }) {
				return entry, true
			}
		}
	}
	var none T
	return none, false
}

var unwritten = strings.NewReplacer(" ", "", "-", "", ".", "")

// fold brings a designation to the form in which two of them are compared.
func fold(name string) string { return strings.ToUpper(unwritten.Replace(name)) }

// RectifierNames lists every designation LookupRectifier knows, sorted.
func RectifierNames() []string {
	var all []string
	for _, r := range rectifiers {
		all = append(append(all, r.Type), r.also...)
	}
	slices.Sort(all)
	return all
}

// ReceivingNames lists every designation LookupReceiving knows, sorted.
func ReceivingNames() []string {
	var all []string
	for _, r := range receiving {
		all = append(append(all, r.Type), r.also...)
	}
	slices.Sort(all)
	return all
}

// Names lists every designation known here, sorted.
func Names() []string {
	all := append(RectifierNames(), ReceivingNames()...)
	slices.Sort(all)
	return all
}

// Nearest gives the known designation closest to name, for the text of an
// error; "" where name is too long to be one.
func Nearest(name string) string { return nearest(name, Names()) }

// NearestRectifier is Nearest among the rectifiers.
func NearestRectifier(name string) string { return nearest(name, RectifierNames()) }

// NearestReceiving is Nearest among the receiving tubes.
func NearestReceiving(name string) string { return nearest(name, ReceivingNames()) }

// nearest takes the closest even where it is not close: designations are
// short, and a wrong guess costs the reader no more than a glance.
func nearest(name string, known []string) string {
	near, _ := document.Nearest(fold(name), known)
	return near
}

package plan

import (
	"strings"

	"coldrise/domain/supply"
)

// Measurement is a reading that would narrow the highest cold voltage.
type Measurement struct {
	Pointer     string  `json:"pointer" doc:"Member of the amplifier that the reading would give"`
	Text        string  `json:"text"`
	AccuracyPct float64 `json:"accuracy_pct"`
	Position    string  `json:"position" doc:"The position whose band it narrows"`
	LowV        float64 `json:"low_v"`
	HighV       float64 `json:"high_v"`
	ThenLowV    float64 `json:"then_low_v"`
	ThenHighV   float64 `json:"then_high_v"`
	NarrowsV    float64 `json:"narrows_v"`
	How         string  `json:"how" doc:"What to do, with its caution"`
}

const (
	liveCaution = " Live work: only by someone trained for it, one hand, probes rated above the no-load voltage."
	deadCaution = " Mains off, unplugged, discharged and measured first."
	windingHow  = "With every tube out and the rectifier out or lifted, read the winding's AC volts per side, and the wall volts with them." + liveCaution
)

// instruction says how to measure a knob and how closely that is done at a
// bench; false for what no ordinary reading gives. Common practice.
func instruction(k *supply.Knob) (how string, accuracyPct float64, ok bool) {
	switch {
	case strings.HasSuffix(k.Pointer, "/unloaded_v"):
		return windingHow, supply.MeasuredWindingPct, true
	case strings.HasSuffix(k.Pointer, "/secondary_ohm"):
		return "Read the secondary's DC resistance per side and the primary's, cold, with the meter's leads taken off." + deadCaution, 3, true
	case strings.HasSuffix(k.Pointer, "/measured_v"), strings.HasSuffix(k.Pointer, "/schematic_v"):
		return "Read the node with everything warm and idling, and the wall volts with it." + liveCaution, 1, true
	case strings.HasSuffix(k.Pointer, "/loads"):
		return "Read the cathode volts of its tubes and divide by their cathode resistors." + liveCaution, 5, true
	case strings.HasSuffix(k.Pointer, "/dropper_ohm"), strings.HasSuffix(k.Pointer, "/dcr_ohm"), strings.HasSuffix(k.Pointer, "/bleeder_ohm"):
		return "Read it with an ohmmeter, one end free if anything stands across it." + deadCaution, 1, true
	case strings.HasSuffix(k.Pointer, "/capacitance_uf"), strings.HasSuffix(k.Pointer, "/wanted_uf"):
		return "Measure the capacitor out of circuit." + deadCaution, 3, true
	}
	return "", 0, false
}

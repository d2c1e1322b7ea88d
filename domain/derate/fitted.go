package derate

import "coldrise/domain/amp"

// FittedSurge is the surge voltage of what is fitted: as marked, else by the
// factors of IEC 60384-1 for an electrolytic, else its rated voltage.
func FittedSurge(role amp.Role, f amp.Fitted) float64 { return holdOfFitted(role, f).surgeV }

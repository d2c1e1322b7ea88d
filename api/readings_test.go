package api_test

import (
	"net/http"
	"testing"
)

// The bench's clock stands at 4 March 2026: week 11 of that year is to come.
func TestADateCodeInTheFutureIsAFault(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	const amplifier = `{"name":"Kelp 5","mains":{"nominal_v":230,"frequency_hz":50},
		"supplies":[{"name":"HT","rectifier":{"type":"EZ80"},"nodes":[{"name":"A","schematic_v":260}]}],
		"positions":[{"ref":"C1","role":"reservoir","node":"HT/A","fitted":{"capacitance_uf":32,"rated_v":450,"readings":{"date_code":"2611","age_years":3}}}]}`
	const at = "/positions/0/fitted/readings/date_code"
	for path, want := range map[string][2]string{
		"/v1/amps":  {amplifier, at},
		"/v1/plans": {`{"amplifier":` + amplifier + `}`, "/amplifier" + at},
	} {
		p := b.want(http.StatusUnprocessableEntity, "POST", path, want[0]).problem(t)
		if len(p.Errors) != 1 || p.Errors[0].Pointer != want[1] {
			t.Errorf("POST %s: %+v; want one fault at %s", path, p.Errors, want[1])
		}
	}
}

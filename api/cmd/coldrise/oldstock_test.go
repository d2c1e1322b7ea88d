package main

import (
	"strings"
	"testing"
)

func TestOldStockCommand(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		args string
		code int
		says string
	}{
		{"oldstock 47u 450V --years 1", exitMade, "47 µF 450 V: FIT AS IT IS"},
		{"oldstock --years 4 47u 450V", exitMade, "47 µF 450 V: REFORM FIRST"},
		{"oldstock 32µF 450 --style can --years 8 --store-c 30", exitMade, "RE-AGEING"},
		{"oldstock 47u 450V --made 6744", exitIncomplete, "reads as week 44 of 1967"},
		{"oldstock 100n 630V --technology film --made 6744", exitMade, "no electrolytic"},
		{"oldstock 47u 450V --years 4 --json", exitMade, `"verdict": "reform"`},
		{"oldstock 47u", exitBadInput, "the capacitance and the rated volts are wanted"},
		{"oldstock 47u 450V", exitBadInput, "/date_code: is required"},
		{"oldstock 47 450V --years 1", exitBadInput, "has no unit"},
		{"oldstock 47u 450 --years 1 --style tin", exitBadInput, "/style"},
		{"oldstock 47u 450V --years -3 --store-c 900", exitBadInput, "/storage_c"},
	} {
		var out, errs strings.Builder
		a := &app{stdin: strings.NewReader(""), stdout: &out, stderr: &errs}
		if code := a.run(t.Context(), strings.Fields(r.args)); code != r.code || !strings.Contains(out.String()+errs.String(), r.says) {
			t.Errorf("%s: exit %d\n%s%s\nwant %d and %q", r.args, code, out.String(), errs.String(), r.code, r.says)
		}
	}
}

package amp

import (
	"math"
	"strings"
	"testing"
	"time"

	"coldrise/domain/problem"
)

// read puts readings on the reservoir of the sound amplifier.
func read(t *testing.T, readings string) []byte {
	t.Helper()
	return edits{"/positions/0/fitted/readings": readings}.apply(t)
}

func TestReadingsThatContradict(t *testing.T) {
	t.Parallel()
	const at = "/positions/0/fitted/readings/"
	for _, r := range []struct {
		name, readings string
		want           map[string]string // pointer to part of the message
	}{
		{"whole", `{"capacitance_uf":28,"capacitance_hz":120,"esr_ohm":8,"esr_hz":100000,"leakage_ua":900,"leakage_v":400,"leakage_min":5,"leakage_c":21,"seen":["bulge"],"date_code":"6744","age_years":58}`, nil},
		{"capacitance read at 0 Hz", `{"capacitance_uf":28,"capacitance_hz":0}`, map[string]string{at + "capacitance_hz": "at least 10 Hz"}},
		{"frequency of nothing", `{"capacitance_hz":120,"esr_hz":1000}`, map[string]string{at + "capacitance_hz": "without capacitance_uf", at + "esr_hz": "without esr_ohm"}},
		{"leakage without volts", `{"leakage_ua":900}`, map[string]string{at + "leakage_v": "without the volts it was read at"}},
		{"volts, minutes and temperature of no leakage", `{"leakage_v":400,"leakage_min":5,"leakage_c":20}`,
			map[string]string{at + "leakage_v": "without leakage_ua", at + "leakage_min": "without leakage_ua", at + "leakage_c": "without leakage_ua"}},
		{"leakage above the surge voltage", `{"leakage_ua":900,"leakage_v":510}`, map[string]string{at + "leakage_v": "above surge_v"}},
		{"seen what there is no word for", `{"seen":["bulged"]}`, map[string]string{at + "seen/0": `did you mean "bulge"`}},
		{"no date code", `{"date_code":"1299"}`, map[string]string{at + "date_code": "no date code that is known"}},
		{"all at once", `{"capacitance_uf":-1,"esr_hz":5,"leakage_ua":2,"date_code":"??","age_years":400}`, map[string]string{
			at + "capacitance_uf": "at least 0", at + "esr_hz": "at least 10 Hz", at + "leakage_v": "is required beside leakage_ua", at + "date_code": "no date code", at + "age_years": "at most 120"}},
	} {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			_, err := Parse(read(t, r.readings))
			if len(r.want) == 0 {
				if err != nil {
					t.Error(err)
				}
				return
			}
			e := problem.As(err)
			if e == nil || len(e.Faults) != len(r.want) {
				t.Fatalf("want %d faults; got %v", len(r.want), err)
			}
			for _, f := range e.Faults {
				if says, ok := r.want[f.Pointer]; !ok || !strings.Contains(f.Message, says) {
					t.Errorf("%s: %s; want %v", f.Pointer, f.Message, r.want)
				}
			}
		})
	}
}

// A single capacitor's leakage is told once; across the unit of a stack stands
// its balancing resistor, so there both have a meaning.
func TestLeakageToldTwice(t *testing.T) {
	t.Parallel()
	_, err := Parse(edits{"/positions/0/fitted/leak_ohm": "500000", "/positions/0/fitted/readings": `{"leakage_ua":900,"leakage_v":400}`}.apply(t))
	if e := problem.As(err); e == nil || len(e.Faults) != 1 || !strings.Contains(e.Faults[0].Message, "beside leak_ohm") {
		t.Errorf("got %v", err)
	}
	if _, err := Parse(edits{"/positions/1/fitted": `{"capacitance_uf":47,"rated_v":350,"leak_ohm":220000,"readings":{"leakage_ua":90,"leakage_v":300}}`}.apply(t)); err != nil {
		t.Error(err)
	}
}

func TestDatesAreHeldAgainstTheDay(t *testing.T) {
	t.Parallel()
	today := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	for _, r := range []struct{ readings, pointer, says string }{
		{`{"date_code":"1208"}`, "", ""},
		{`{"date_code":"1208","age_years":14}`, "", ""},
		{`{"date_code":"235-744","age_years":50}`, "", ""}, // one of five decades
		{`{"date_code":"2640"}`, "date_code", "in the future: it reads as week 40 of 2026"},
		{`{"date_code":"2640","age_years":3}`, "date_code", "in the future"},
		{`{"date_code":"1208","age_years":40}`, "age_years", "by which it is 14 years old (week 8 of 2012)"},
	} {
		a, err := Parse(read(t, r.readings))
		if err != nil {
			t.Fatal(err)
		}
		l := &problem.List{}
		a.CheckAges(today, l)
		e := problem.As(l.Err("amplifier"))
		switch {
		case r.says == "" && e != nil:
			t.Errorf("%s: %v", r.readings, e)
		case r.says == "":
		case e == nil || len(e.Faults) != 1 || e.Faults[0].Pointer != "/positions/0/fitted/readings/"+r.pointer || !strings.Contains(e.Faults[0].Message, r.says):
			t.Errorf("%s: %v; want %s at %s", r.readings, e, r.says, r.pointer)
		}
	}
}

// The oldest reading of an ambiguous code counts, and the others are named.
func TestAge(t *testing.T) {
	t.Parallel()
	today := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	stated := 30.0
	for _, r := range []struct {
		readings Readings
		years    float64 // within 0.02
		how      string
		ok       bool
	}{
		{Readings{DateCode: "1208"}, 14.28, "date code 1208 reads as week 8 of 2012", true},
		{Readings{DateCode: "2012"}, 14.42, "date code 2012 reads as the year 2012, the oldest of 2 readings: it may also be week 12 of 2020", true},
		{Readings{DateCode: "1208", AgeYears: &stated}, 30, "as stated", true},
		{Readings{}, 0, "", false},
		{Readings{DateCode: "2640"}, 0, "", false},
	} {
		years, how, ok := r.readings.Age(today)
		if math.Abs(years-r.years) > 0.02 || how != r.how || ok != r.ok {
			t.Errorf("%+v: %.2f years, %q, %v; want %.2f, %q, %v", r.readings, years, how, ok, r.years, r.how, r.ok)
		}
	}
	code := Readings{DateCode: "1208"}
	if _, _, ok := code.Age(time.Time{}); ok {
		t.Error("an age is given without a day to count to")
	}
}

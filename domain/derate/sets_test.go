package derate_test

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/document"
	"coldrise/domain/problem"
	"github.com/google/go-cmp/cmp"
)

// members gives the JSON names of the members of o that are given.
func members(t *testing.T, o derate.Overrides) []string {
	t.Helper()
	data, err := json.Marshal(o)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	var names []string
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// Every figure of every set has a source or is common practice, and the first
// set has them all.
func TestEveryRuleOfEverySetSaysWhatItRestsOn(t *testing.T) {
	t.Parallel()
	names := map[string]bool{}
	for i, s := range derate.Sets() {
		if names[s.Name] || s.For == "" {
			t.Errorf("set %q", s.Name)
		}
		names[s.Name] = true
		var reasons []string
		for _, r := range s.Reasons {
			reasons = append(reasons, r.Member)
			if r.Source == "" {
				t.Errorf("%s: %s has no source", s.Name, r.Member)
			}
		}
		slices.Sort(reasons)
		want := members(t, s.Changes)
		if i == 0 {
			want = nil
			for f := range reflect.TypeFor[derate.Policy]().Fields() {
				if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "name" {
					want = append(want, name)
				}
			}
			slices.Sort(want)
		}
		if diff := cmp.Diff(want, reasons); diff != "" {
			t.Errorf("%s: rules without a reason, or reasons without a rule:\n%s", s.Name, diff)
		}
	}
}

// Each set is a policy that its own limits take, and differs from everyday in
// its changes alone.
func TestEverySetIsASoundPolicy(t *testing.T) {
	t.Parallel()
	for _, s := range derate.Sets() {
		data, err := json.Marshal(s.Policy())
		if err != nil {
			t.Fatal(err)
		}
		var back derate.Policy
		if err := document.Decode(data, &back, "policy", nil); err != nil {
			t.Errorf("%s: %v", s.Name, err)
		}
		got, err := derate.ParsePolicy([]byte(`{"from":"` + s.Name + `"}`))
		if err != nil || got != s.Policy() || got.Name != s.Name {
			t.Errorf("%s: %+v, %v", s.Name, got, err)
		}
		want := s.Changes.Apply(derate.Default())
		want.Name = s.Name
		if s.Policy() != want {
			t.Errorf("%s: %s", s.Name, cmp.Diff(want, s.Policy()))
		}
		if s.Name != derate.Everyday && len(members(t, s.Changes)) == 0 {
			t.Errorf("%s changes nothing", s.Name)
		}
	}
	if _, ok := derate.SetNamed("gold plated"); ok {
		t.Error("a set that is not there was found")
	}
}

// A test may change a set it was given; nobody else's is touched.
func TestASetIsTheCallersOwn(t *testing.T) {
	t.Parallel()
	s := derate.Sets()[0]
	*s.Changes.WorkingShare, s.Reasons[0].Source = 0.3, ""
	if derate.Default().WorkingShare != 0.9 || derate.Sets()[0].Reasons[0].Source == "" {
		t.Error("a caller's change came back")
	}
}

func TestAPolicyStartsFromANamedSetAndChangesIt(t *testing.T) {
	t.Parallel()
	got, err := derate.ParsePolicy([]byte(`{"from":"roadworthy","spare":2}`))
	if err != nil || got.WorkingShare != 0.8 || got.Spare != 2 || got.Name != "roadworthy, changed" {
		t.Errorf("%+v, %v", got, err)
	}
	got, err = derate.ParsePolicy([]byte(`{"from":"thrifty","name":"Oxbow's own","life_years":3}`))
	if err != nil || got.Name != "Oxbow's own" || !got.UseSurge || got.LifeYears != 3 {
		t.Errorf("%+v, %v", got, err)
	}
	_, err = derate.ParsePolicy([]byte(`{"from":"roadwrthy"}`))
	if faults := problem.As(err).Faults; len(faults) != 1 || faults[0].Pointer != "/from" || !strings.Contains(faults[0].Message, "roadworthy") {
		t.Errorf("%v", err)
	}
	// The enum of From and the sets there are.
	f, _ := reflect.TypeFor[derate.Overrides]().FieldByName("From")
	var names []string
	for _, s := range derate.Sets() {
		names = append(names, s.Name)
	}
	if got := strings.Join(names, ","); got != f.Tag.Get("enum") {
		t.Errorf("the enum of from is %s, the sets are %s", f.Tag.Get("enum"), got)
	}
}

// The figures of the sets as they stand: whoever moves one moves it here too.
func TestTheFiguresOfTheSets(t *testing.T) {
	t.Parallel()
	want := map[string]string{
		"everyday": `{"name":"everyday","working_share":0.9,"use_surge":false,"surge_limit_s":30,"ripple_share":1,"signal_hz":100,"life_years":8,` +
			`"hours_per_week":20,"hum_allow_db":1,"max_ratio":2.2,"full_drive_share":0.25,"temperature_margin_k":0,"cathode_fault_ratio":1,` +
			`"touch_rule":"by_region","use_high_end":true,"widest_pct":11,"discharge_s":60,"stock_years":10,"replace_all":false,"constructions":"any","spare_sections":1,"mounting_cost":"1.00","line_cost":"1.50","currency":"GBP","spare":0}`,
		"roadworthy": `{"working_share":0.8,"ripple_share":0.8,"hours_per_week":40,"full_drive_share":0.5,"temperature_margin_k":20,"cathode_fault_ratio":2,"replace_all":true,"spare":1}`,
		"unattended": `{"working_share":0.7,"life_years":5,"hours_per_week":168,"full_drive_share":0.1,"temperature_margin_k":20,"cathode_fault_ratio":2,"touch_rule":"iec_60950_unearthed","replace_all":true}`,
		"keepsake":   `{"hours_per_week":2,"hum_allow_db":0.5,"max_ratio":1.5,"full_drive_share":0.1,"constructions":"as_drawn"}`,
		"thrifty":    `{"working_share":1,"use_surge":true,"life_years":4,"hum_allow_db":2,"mounting_cost":"0.00","line_cost":"0.00"}`,
	}
	for _, s := range derate.Sets() {
		var figures any = s.Changes
		if s.Name == derate.Everyday {
			figures = s.Policy()
		}
		got, err := json.Marshal(figures)
		if err != nil || string(got) != want[s.Name] {
			t.Errorf("%s: %v\n%s\nwant\n%s", s.Name, err, got, want[s.Name])
		}
	}
}

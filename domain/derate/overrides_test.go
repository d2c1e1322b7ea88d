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

func TestDefaultPolicyKeepsItsOwnLimits(t *testing.T) {
	t.Parallel()
	data, err := json.Marshal(derate.Default())
	if err != nil {
		t.Fatal(err)
	}
	var back derate.Policy
	if err := document.Decode(data, &back, "policy", nil); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(derate.Default(), back); diff != "" {
		t.Error(diff)
	}
	if p := derate.Default(); p.UseSurge || p.WorkingShare > 0.9 || p.TouchMA > 0.5 {
		t.Errorf("the default is not on the safe side: %+v", p)
	}
}

func TestAPartialPolicyChangesOnlyWhatItGives(t *testing.T) {
	t.Parallel()
	got, err := derate.ParsePolicy([]byte(`{"working_share":0.8,"use_surge":true,"line_cost":"2.25","spare":1}`))
	if err != nil {
		t.Fatal(err)
	}
	want := derate.Default()
	want.WorkingShare, want.UseSurge, want.LineCost, want.Spare = 0.8, true, 2_250_000, 1
	want.Name = "everyday, changed"
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if got, err := derate.ParsePolicy([]byte(`{}`)); err != nil || got != derate.Default() {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestParsePolicyNamesEveryFault(t *testing.T) {
	t.Parallel()
	_, err := derate.ParsePolicy([]byte(`{"working_share":1.5,"touch_ma":-1,"currency":"gbp","colour":1,"line_cost":2.25,"spare":1.5,"hours_per_week":200}`))
	var at []string
	for _, f := range problem.As(err).Faults {
		at = append(at, f.Pointer)
	}
	want := []string{"/working_share", "/touch_ma", "/currency", "/colour", "/line_cost", "/spare", "/hours_per_week"}
	if diff := cmp.Diff(want, at); diff != "" {
		t.Error(diff)
	}
	if _, err := derate.ParsePolicy([]byte(`{`)); problem.CodeOf(err) != problem.Malformed {
		t.Errorf("broken JSON: %v", err)
	}
}

// A member added to Policy must be added to Overrides, with the same limits, and to Apply.
func TestOverridesHaveEveryMemberOfPolicyAndApplyThem(t *testing.T) {
	t.Parallel()
	policy, over := reflect.TypeFor[derate.Policy](), reflect.TypeFor[derate.Overrides]()
	if policy.NumField()+1 != over.NumField() || over.Field(0).Name != "From" {
		t.Fatalf("%d members of Policy, %d of Overrides", policy.NumField(), over.NumField())
	}
	for i := range policy.NumField() {
		a, b := policy.Field(i), over.Field(i+1)
		if a.Name != b.Name || b.Type != reflect.PointerTo(a.Type) || b.Tag.Get("json") != strings.TrimSuffix(a.Tag.Get("json"), ",omitempty")+",omitempty" {
			t.Errorf("%s %s beside %s %s", a.Name, a.Type, b.Name, b.Type)
		}
		for _, key := range []string{"minimum", "maximum", "minLength", "maxLength", "unit", "enum", "doc"} {
			if key == "doc" && a.Tag.Get(key) == "" {
				continue
			}
			if a.Tag.Get(key) != b.Tag.Get(key) {
				t.Errorf("%s: %s differs", a.Name, key)
			}
		}
		var o derate.Overrides
		value := reflect.New(a.Type)
		switch a.Type.Kind() {
		case reflect.String:
			value.Elem().SetString("XYZ")
		case reflect.Bool:
			value.Elem().SetBool(!reflect.ValueOf(derate.Default()).Field(i).Bool())
		case reflect.Int, reflect.Int64:
			value.Elem().SetInt(7)
		default:
			value.Elem().SetFloat(0.77)
		}
		reflect.ValueOf(&o).Elem().Field(i + 1).Set(value)
		changed := o.Apply(derate.Default())
		var differ []string
		for j := range policy.NumField() {
			if reflect.ValueOf(changed).Field(j).Interface() != reflect.ValueOf(derate.Default()).Field(j).Interface() {
				differ = append(differ, policy.Field(j).Name)
			}
		}
		if !slices.Equal(differ, []string{a.Name}) {
			t.Errorf("giving %s changes %v", a.Name, differ)
		}
	}
}

func FuzzParsePolicy(f *testing.F) {
	f.Add([]byte(`{}`))
	f.Add([]byte(`{"working_share":0.8,"line_cost":"1.50"}`))
	f.Add([]byte(`{"spare":1e300}`))
	f.Add([]byte(`{"from":"roadworthy","touch_ma":0.25}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := derate.ParsePolicy(data)
		if err != nil {
			if problem.CodeOf(err) == problem.Internal {
				t.Fatal(err)
			}
			return
		}
		again, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := derate.ParsePolicy(again); err != nil || back != p {
			t.Fatalf("%s reads back as %+v, %v", again, back, err)
		}
	})
}

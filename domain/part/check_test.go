package part_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// sound is a part document without a fault.
const sound = `{"maker":"Sedgemere","part_number":"HA-450-22","series":"HA","technology":"electrolytic","style":"axial",
 "capacitance_uf":22,"tol_minus_pct":10,"tol_plus_pct":50,"rated_v":450,"ripple_ma":240,"esr_ohm":6.8,"diameter_mm":15,"length_mm":30,
 "offers":[{"supplier":"Oxbow Spares","sku":"SE-22","currency":"GBP","pack":1,"min_qty":1,"stock":40,"lead_days":2,
  "breaks":[{"min_qty":1,"unit_price":"3.20"},{"min_qty":10,"unit_price":"2.88"}]}]}`

const soundSeries = `{"name":"HA","maker":"Sedgemere","technology":"electrolytic","base_hz":100,"max_c":85,
 "frequency_factors":[{"hz":50,"factor":0.86},{"hz":100,"factor":1},{"hz":400,"factor":1.21}],
 "temperature_factors":[{"ambient_c":50,"factor":2},{"ambient_c":85,"factor":1}],
 "life":{"model":"ten_kelvin","rated_h":10000,"rated_c":85,"core_rise_k":5},"tan_delta":0.1}`

func pointers(err error) []string {
	var at []string
	for _, f := range problem.As(err).Faults {
		at = append(at, f.Pointer)
	}
	slices.Sort(at)
	return at
}

// edit changes members of a document; a nil value removes the member.
func edit(t *testing.T, doc string, changes map[string]any) []byte {
	t.Helper()
	var m map[string]any
	if err := json.Unmarshal([]byte(doc), &m); err != nil {
		t.Fatal(err)
	}
	for k, v := range changes {
		if m[k] = v; v == nil {
			delete(m, k)
		}
	}
	data, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestParsePartRoundTrips(t *testing.T) {
	t.Parallel()
	p, err := part.ParsePart([]byte(sound))
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	back, err := part.ParsePart(data)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(p, back); diff != "" {
		t.Error(diff)
	}
}

func TestParsePartNamesEveryFault(t *testing.T) {
	t.Parallel()
	offer := func(changes map[string]any) []any {
		o := map[string]any{"supplier": "Oxbow Spares", "sku": "A", "currency": "GBP", "pack": 1, "min_qty": 1, "stock": 1, "lead_days": 1,
			"breaks": []any{map[string]any{"min_qty": 1, "unit_price": "3"}}}
		for k, v := range changes {
			o[k] = v
		}
		return []any{o}
	}
	breaks := func(b ...[2]any) []any {
		var list []any
		for _, x := range b {
			list = append(list, map[string]any{"min_qty": x[0], "unit_price": x[1]})
		}
		return list
	}
	tests := []struct {
		name    string
		changes map[string]any
		want    []string
	}{
		{"surge below rated", map[string]any{"surge_v": 400}, []string{"/surge_v"}},
		{"surge with a digit slipped", map[string]any{"surge_v": 4950}, []string{"/surge_v"}},
		{"electrolytic in a box", map[string]any{"style": "box"}, []string{"/style"}},
		{"sections on an axial", map[string]any{"further_sections_uf": []any{20}}, []string{"/further_sections_uf"}},
		{"safety class on an electrolytic", map[string]any{"safety_class": "X2", "rated_v_ac": 275}, []string{"/rated_v_ac", "/safety_class"}},
		{"class X without class and AC volts", map[string]any{"technology": "safety_x", "style": "box"}, []string{"/rated_v_ac", "/safety_class"}},
		{"class Y part marked X2", map[string]any{"technology": "safety_y", "style": "disc", "safety_class": "X2", "rated_v_ac": 300}, []string{"/safety_class"}},
		{"breaks that descend", map[string]any{"offers": offer(map[string]any{"breaks": breaks([2]any{10, "3"}, [2]any{5, "2"}), "min_qty": 10})}, []string{"/offers/0/breaks/1/min_qty"}},
		{"two prices for one quantity", map[string]any{"offers": offer(map[string]any{"breaks": breaks([2]any{1, "3"}, [2]any{1, "2"})})}, []string{"/offers/0/breaks/1/min_qty"}},
		{"prices that rise", map[string]any{"offers": offer(map[string]any{"breaks": breaks([2]any{1, "3"}, [2]any{5, "3.01"})})}, []string{"/offers/0/breaks/1/unit_price"}},
		{"no price at the least quantity", map[string]any{"offers": offer(map[string]any{"breaks": breaks([2]any{5, "3"})})}, []string{"/offers/0/breaks/0/min_qty"}},
		{"currency in small letters", map[string]any{"offers": offer(map[string]any{"currency": "gbp"})}, []string{"/offers/0/currency"}},
		{"one order code twice", map[string]any{"offers": append(offer(nil), offer(nil)...)}, []string{"/offers/1/sku"}},
		{"a price that is a number", map[string]any{"offers": offer(map[string]any{"breaks": breaks([2]any{1, 3.2})})}, []string{"/offers/0/breaks/0/unit_price"}},
		{"negative, absurd, unknown and missing at once",
			map[string]any{"rated_v": -450, "capacitance_uf": 1e7, "colour": "blue", "maker": nil},
			[]string{"/capacitance_uf", "/colour", "/maker", "/rated_v"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := part.ParsePart(edit(t, sound, tt.changes))
			if diff := cmp.Diff(tt.want, pointers(err)); diff != "" {
				t.Errorf("%v\n%s", err, diff)
			}
		})
	}
}

func TestCheckHoldsAPartAgainstItsSeries(t *testing.T) {
	t.Parallel()
	p, err := part.ParsePart([]byte(sound))
	if err != nil {
		t.Fatal(err)
	}
	var clean problem.List
	p.Check(&clean, &part.Series{Name: "HA", Maker: "Sedgemere", Technology: part.Electrolytic, BaseHz: 100})
	if err := clean.Err("part"); err != nil {
		t.Error(err)
	}
	var l problem.List
	p.Check(&l, &part.Series{Name: "FK", Maker: "Brackenholme", Technology: part.Film})
	want := []string{"/maker", "/ripple_ma", "/series", "/technology"}
	if diff := cmp.Diff(want, pointers(l.Err("part"))); diff != "" {
		t.Error(diff)
	}
}

func TestParseSeriesNamesEveryFault(t *testing.T) {
	t.Parallel()
	if _, err := part.ParseSeries([]byte(soundSeries)); err != nil {
		t.Fatal(err)
	}
	points := func(x, y string, p ...[2]float64) []any {
		var list []any
		for _, v := range p {
			list = append(list, map[string]any{x: v[0], y: v[1]})
		}
		return list
	}
	hz := func(p ...[2]float64) map[string]any {
		return map[string]any{"frequency_factors": points("hz", "factor", p...)}
	}
	ambient := func(p ...[2]float64) map[string]any {
		return map[string]any{"temperature_factors": points("ambient_c", "factor", p...)}
	}
	life := func(model string, rise, ratedC float64) map[string]any {
		return map[string]any{"life": map[string]any{"model": model, "rated_h": 5000, "rated_c": ratedC, "core_rise_k": rise}}
	}
	tests := []struct {
		name    string
		changes map[string]any
		want    string
	}{
		{"frequencies out of order", hz([2]float64{100, 1}, [2]float64{50, 1.2}), "/frequency_factors/1/hz"},
		{"factor falls with frequency", hz([2]float64{100, 1}, [2]float64{400, 0.9}), "/frequency_factors/1/factor"},
		{"not 1 at the base: a 120 Hz table on a 100 Hz rating", hz([2]float64{50, 0.8}, [2]float64{120, 1}), "/frequency_factors"},
		{"ambients out of order", ambient([2]float64{85, 1}, [2]float64{65, 1}), "/temperature_factors/1/ambient_c"},
		{"factor rises with the ambient", ambient([2]float64{65, 1}, [2]float64{85, 1.3}), "/temperature_factors/1/factor"},
		{"more than the rating at the hottest", ambient([2]float64{45, 2}, [2]float64{85, 1.7}), "/temperature_factors"},
		{"life rated above the category", life("ten_kelvin", 5, 105), "/life/rated_c"},
		{"ripple model without a rise", life("ten_kelvin_ripple", 0, 85), "/life/core_rise_k"},
		{"ripple model near its pole", life("ten_kelvin_ripple", 39, 85), "/life/core_rise_k"},
		{"life model not known", life("arrhenius", 5, 85), "/life/model"},
		{"coldest above hottest", map[string]any{"min_c": 50, "max_c": 45, "life": nil, "temperature_factors": nil}, "/min_c"},
		{"loss factor without a frequency", map[string]any{"base_hz": 0, "frequency_factors": nil}, "/tan_delta"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := part.ParseSeries(edit(t, soundSeries, tt.changes))
			if at := pointers(err); !slices.Contains(at, tt.want) {
				t.Errorf("faults at %v, want one at %s", at, tt.want)
			}
		})
	}
}

func TestSectionsCountsTheCan(t *testing.T) {
	t.Parallel()
	data := edit(t, strings.Replace(sound, `"axial"`, `"can"`, 1), map[string]any{"further_sections_uf": []any{20, 20, 20}})
	p, err := part.ParsePart(data)
	if err != nil || p.Sections() != 4 {
		t.Errorf("%d sections, %v; want 4", p.Sections(), err)
	}
}

func FuzzParsePart(f *testing.F) {
	f.Add([]byte(sound))
	f.Add([]byte(`{"technology":"safety_y","safety_class":"Y2","rated_v_ac":300}`))
	f.Add([]byte(`{"offers":[{"breaks":[{"min_qty":1,"unit_price":"1e9"},{}]}]}`))
	f.Add([]byte(`[]`))
	f.Add([]byte(`{"rated_v":1e999}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := part.ParsePart(data)
		if err != nil {
			if c := problem.CodeOf(err); c != problem.Malformed && c != problem.Invalid {
				t.Fatalf("code %s: %v", c, err)
			}
			return
		}
		again, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		back, err := part.ParsePart(again)
		if err != nil {
			t.Fatalf("accepted, then refused as %s: %v", again, err)
		}
		if diff := cmp.Diff(p, back, cmpopts.EquateEmpty()); diff != "" {
			t.Fatal(diff)
		}
	})
}

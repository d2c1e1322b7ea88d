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
	if err == nil {
		return nil
	}
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
		{"AC volts above the direct ones", map[string]any{"technology": "safety_x", "style": "box", "safety_class": "X2", "rated_v_ac": 460}, []string{"/rated_v_ac"}},
		{"minutes of no leakage", map[string]any{"leakage_min": 5}, []string{"/leakage_min"}},
		{"an ESR its loss factor cannot have", map[string]any{"base_hz": 100, "tan_delta": 0.1, "esr_ohm": 22}, []string{"/esr_ohm"}},
		{"a law without a term", map[string]any{"leakage": map[string]any{"minutes": 5}}, []string{"/leakage"}},
		{"a law without minutes", map[string]any{"leakage": map[string]any{"per_cv": 0.01}}, []string{"/leakage/minutes"}},
		{"stood for less long than not reformed", map[string]any{"storage": map[string]any{"reform_after_years": 3, "max_years": 2}}, []string{"/storage/max_years"}},
		{"life above its class", map[string]any{"max_c": 85, "life": map[string]any{"rated_h": 2000, "rated_c": 105}}, []string{"/life/rated_c"}},
		{"coldest above hottest", map[string]any{"min_c": 45, "max_c": 40}, []string{"/min_c"}},
		{"a constant of another model", map[string]any{"life": map[string]any{"model": "ten_kelvin", "rated_h": 2000, "voltage_from": 0.6}}, []string{"/life/voltage_from"}},
		{"ripple at 120 Hz above that at 10 kHz", map[string]any{"base_hz": 120,
			"frequency_factors": []any{map[string]any{"hz": 120, "factor": 1}, map[string]any{"hz": 10000, "factor": 0.8}}}, []string{"/frequency_factors/1/factor"}},
		{"a table without a base, and no series to give it", map[string]any{"series": nil,
			"frequency_factors": []any{map[string]any{"hz": 100, "factor": 1}}}, []string{"/frequency_factors"}},
		{"a core rise of nothing", map[string]any{"life": map[string]any{"core_rise_k": 0}}, []string{"/life/core_rise_k"}},
		{"contradictions all at once", map[string]any{"surge_v": 400, "max_c": 85, "min_c": 50, "life": map[string]any{"rated_c": 105}, "leakage": map[string]any{"minutes": 1},
			"temperature_factors": []any{map[string]any{"ambient_c": 85, "factor": 1.7}}},
			[]string{"/leakage", "/life/rated_c", "/surge_v", "/temperature_factors"}},
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
	p.Check(&clean, &part.Series{Name: "HA", Maker: "Sedgemere", Technology: part.Electrolytic})
	if err := clean.Err("part"); err != nil {
		t.Error(err)
	}
	var l problem.List
	p.Check(&l, &part.Series{Name: "FK", Maker: "Brackenholme", Technology: part.Film})
	want := []string{"/maker", "/series", "/technology"}
	if diff := cmp.Diff(want, pointers(l.Err("part"))); diff != "" {
		t.Error(diff)
	}
}

// A figure of the part's own may contradict what its series says.
func TestCheckHoldsAPartsOwnFiguresAgainstItsSeries(t *testing.T) {
	t.Parallel()
	series, err := part.ParseSeries([]byte(soundSeries)) // 85 °C, base 100 Hz, life at 85 °C, ten_kelvin
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		own  part.Ratings
		want []string
	}{
		{"hotter than the series", part.Ratings{MaxC: ptr(105.0)}, nil},
		{"hours alone", part.Ratings{Life: &part.Life{RatedH: ptr(3000.0)}}, nil},
		{"a class below its series' life and table", part.Ratings{MaxC: ptr(60.0)}, []string{"/max_c"}},
		{"life above the series' class", part.Ratings{Life: &part.Life{RatedC: ptr(105.0)}}, []string{"/life/rated_c"}},
		{"a table on another base than the series'", part.Ratings{FrequencyFactors: part.FrequencyTable{{Hz: 120, Factor: 1.3}}}, []string{"/frequency_factors"}},
		{"another base, and a table that fits it", part.Ratings{BaseHz: ptr(120.0), FrequencyFactors: part.FrequencyTable{{Hz: 120, Factor: 1}}}, nil},
		{"another base alone: the series' table is rebased", part.Ratings{BaseHz: ptr(120.0)}, nil},
		{"voltage terms on the series' 10 K rule", part.Ratings{Life: &part.Life{VoltageExponent: ptr(2.5)}}, []string{"/life/voltage_exponent"}},
		{"a rise beyond the model of both", part.Ratings{Life: &part.Life{Model: part.TenKelvinRipple, CoreRiseK: ptr(30.0)}}, []string{"/life/core_rise_k"}},
		{"no colder than the series", part.Ratings{MinC: ptr(50.0)}, nil},
	}
	for _, tt := range tests {
		p := part.Part{Maker: "Sedgemere", Series: "HA", Technology: part.Electrolytic, RatedV: 450, Ratings: tt.own}
		var l problem.List
		p.Check(&l, &series)
		if diff := cmp.Diff(tt.want, pointers(l.Err("part"))); diff != "" {
			t.Errorf("%s: %v %s", tt.name, l.Err("part"), diff)
		}
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
		{"a rise of nothing", life("ten_kelvin_ripple", 0, 85), "/life/core_rise_k"},
		{"surge below rated", map[string]any{"surge_ratio": 0.9}, "/surge_ratio"},
		{"a law that grants no leakage", map[string]any{"leakage": map[string]any{"minutes": 2}}, "/leakage"},
		{"a base of nothing", map[string]any{"base_hz": 0}, "/base_hz"},
		{"ripple model near its pole", life("ten_kelvin_ripple", 39, 85), "/life/core_rise_k"},
		{"life model not known", life("arrhenius", 5, 85), "/life/model"},
		{"coldest above hottest", map[string]any{"min_c": 50, "max_c": 45, "life": nil, "temperature_factors": nil}, "/min_c"},
		{"a table without a base", map[string]any{"base_hz": nil}, "/frequency_factors"},
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

func ptr[T any](v T) *T { return &v }

// A shop's own file may know no series, no size, no tolerance and no class: the
// part is taken, and the checks say what is missing.
func TestAPartMayLackWhatAShopDoesNotKnow(t *testing.T) {
	t.Parallel()
	const bare = `{"maker":"M","part_number":"1","technology":"electrolytic","style":"axial","capacitance_uf":22,"rated_v":450}`
	p, err := part.ParsePart([]byte(bare))
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(p)
	if err != nil || string(data) != bare {
		t.Errorf("%s, %v", data, err)
	}
	for _, name := range []string{"capacitance_uf", "rated_v", "technology", "style", "maker", "part_number"} {
		if _, err := part.ParsePart(edit(t, bare, map[string]any{name: nil})); !slices.Contains(pointers(err), "/"+name) {
			t.Errorf("without %s: %v", name, err)
		}
	}
	own := `{"maker":"M","part_number":"1","technology":"electrolytic","style":"axial","capacitance_uf":22,"rated_v":450,"max_c":105,"life":{"rated_h":3000},
		"tol_minus_pct":20,"tol_plus_pct":20,"leakage":{"per_cv":0.01,"floor_ua":3,"minutes":2},"storage":{"reform_after_years":2}}`
	if p, err = part.ParsePart([]byte(own)); err != nil || *p.MaxC != 105 || *p.Life.RatedH != 3000 || *p.TolPlusPct != 20 || p.Leakage.Minutes != 2 {
		t.Errorf("%+v, %v", p, err)
	}
}

func FuzzParseSeries(f *testing.F) {
	f.Add([]byte(soundSeries))
	f.Add([]byte(`{"life":{"model":"ten_kelvin_ripple_voltage","voltage_from":0.3},"leakage":{"minutes":0}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := part.ParseSeries(data)
		if err != nil {
			if c := problem.CodeOf(err); c != problem.Malformed && c != problem.Invalid {
				t.Fatalf("code %s: %v", c, err)
			}
			return
		}
		again, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		back, err := part.ParseSeries(again)
		if err != nil {
			t.Fatalf("accepted, then refused as %s: %v", again, err)
		}
		if diff := cmp.Diff(s, back, cmpopts.EquateEmpty()); diff != "" {
			t.Fatal(diff)
		}
	})
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

package repotest

import (
	"fmt"
	"iter"
	"reflect"
	"strings"

	"pgregory.net/rapid"

	"coldrise/domain/amp"
	"coldrise/domain/part"
	"coldrise/repo"
)

// The samples are invented; every member that can be left out is given once.

func some(v float64) *float64 { return &v }

// samplePart is a can of the series HA with two sections and two offers.
func samplePart(number string) part.Part {
	return part.Part{
		Maker: "Sedgemere", PartNumber: number, Series: "HA", Technology: part.Electrolytic, Style: part.Can,
		CapacitanceUF: 32, FurtherSectionsUF: []float64{16}, Tolerance: part.Within(10, 50), RatedV: 450, Ratings: sampleRatings(),
		RatedVAC: some(0.1), SafetyClass: "X2", SurgeV: some(495), RippleMA: some(240.5), ESROhm: some(6.8), LeakageUA: some(0), LeakageMin: some(5),
		DiameterMM: some(35), LengthMM: some(51), ThicknessMM: some(1.0 / 3), LeadPitchMM: some(7.5), Note: "two lugs",
		Offers: []part.Offer{
			{Supplier: "Oxbow Spares", SKU: "SE-" + number, Currency: "GBP", Pack: 1, MinQty: 1, Stock: 40, LeadDays: 2, Preferred: true,
				Breaks: []part.Break{{MinQty: 1, UnitPrice: 3_200_000}, {MinQty: 10, UnitPrice: 2_880_001}}},
			{Supplier: "Fenwick", SKU: "99", Currency: "EUR", Pack: 5, MinQty: 10, Breaks: []part.Break{{MinQty: 10, UnitPrice: part.MaxMoney}}},
		},
	}
}

// sampleRatings has every member, in numbers base two cannot hold.
func sampleRatings() part.Ratings {
	return part.Ratings{MinC: some(-40.1), MaxC: some(85.3), BaseHz: some(100),
		FrequencyFactors:   part.FrequencyTable{{Hz: 50, Factor: 0.8}, {Hz: 100, Factor: 1}},
		TemperatureFactors: part.TemperatureTable{{AmbientC: 40, Factor: 1.0 / 3}, {AmbientC: 85, Factor: 1}},
		Life: &part.Life{Model: part.TenKelvinRippleVoltage, RatedH: some(10000), RatedC: some(85), CoreRiseK: some(5.7),
			RippleBase: some(2), RippleBaseOver: some(4), VoltageExponent: some(2.5), VoltageFrom: some(0.6)},
		TanDelta: some(0.15), Leakage: &part.Leakage{PerCV: 0.009, PerRootCV: 0.1, PlusUA: 200, FloorUA: 3, Minutes: 1},
		Storage: &part.Storage{ReformAfterYears: some(2), MaxYears: some(10), ShelfTestH: some(500)}}
}

// plainPart is an axial of one section that nobody offers, and all that may be
// left out is.
func plainPart(maker, number string, uf, volts float64) part.Part {
	return part.Part{Maker: maker, PartNumber: number, Series: "HA", Technology: part.Electrolytic, Style: part.Axial,
		CapacitanceUF: uf, RatedV: volts}
}

func sampleSeries(name string) part.Series {
	return part.Series{Name: name, Maker: "Sedgemere", Technology: part.Electrolytic, Note: "long life",
		Tolerance: part.Within(20, 20), SurgeRatio: some(1.1), Ratings: sampleRatings()}
}

// bareSeries gives a temperature class and nothing else.
func bareSeries(name string, maxC float64) part.Series {
	return part.Series{Name: name, Ratings: part.Ratings{MaxC: &maxC}}
}

func sampleAmp(name string) amp.Amplifier {
	return amp.Amplifier{
		Name:  name,
		Mains: amp.Mains{NominalV: 120, FrequencyHz: 60, HighV: some(127)},
		Supplies: []amp.Supply{{Name: "HT", Rectifier: amp.Rectifier{Type: "GZ34"}, Nodes: []amp.Node{
			{Name: "A", MeasuredV: some(322.25), Loads: []amp.Load{{Tube: "EL84", Count: 4}}},
			{Name: "B", ChokeH: some(4)},
		}}},
		Positions: []amp.Position{{Ref: "C20", Role: amp.Reservoir, Node: "HT/A",
			Fitted: &amp.Fitted{CapacitanceUF: 32, RatedV: 450, Style: "can"}}},
	}
}

// samplePlan has a document no JSON encoder would write like this.
func samplePlan(id, ampID string) repo.Plan {
	return repo.Plan{ID: id, AmpID: ampID, AmpName: "Saltmarsh 30", Created: noon,
		Document: []byte("{ \"b\" : 1.50,\t\"a\":1e2, \"b\": \"\\u00b5\\/µ\" }\r\n")}
}

// sampleDocument is a run about plan-1 whose body no JSON encoder would write like this.
func sampleDocument(id string) repo.Document {
	return repo.Document{Meta: repo.Meta{ID: id}, Kind: repo.Run, About: "plan-1", Parts: []string{"part-2"},
		Body: []byte("{ \"units\" : 25.0,\t\"a\":1e2, \"a\": \"\\u00b5\\/µ\" }\r\n")}
}

func sampleFile(id string) repo.File {
	return repo.File{ID: id, Name: "orders – Ω.xlsx", MediaType: "application/octet-stream", Created: noon, By: "Ada", Content: []byte("PK\x00\xff\r\n")}
}

// sampleImport is an import under an id whose new parts are called after it.
func sampleImport(id string) repo.Import {
	n := 0
	return repo.Import{ID: id, Source: "Oxbow 2026-03.csv", SHA256: "00ff", Findings: []byte(`{"warnings": [] }`),
		NewID: func() string { n++; return fmt.Sprintf("%s-%03d", id, n) }}
}

// rowsOf are the rows of a file, from line 2 on.
func rowsOf(parts ...part.Part) iter.Seq2[repo.ImportRow, error] {
	return func(yield func(repo.ImportRow, error) bool) {
		for i, p := range parts {
			if !yield(repo.ImportRow{Line: i + 2, Part: p}, nil) {
				return
			}
		}
	}
}

// oddNames are names in byte order, which is neither that of a dictionary, nor
// that of UTF-16, nor one that ignores case or marks: U+FF5E comes before the
// emoji in bytes and after it in UTF-16, and the ohm sign is not the omega.
var oddNames = []string{
	" HA", "-HA", "100%", "9", "HA", "HA 450", "HA-450", "HA.450", "HA450", "HA_450", "Ha450", "Z", "\\", "a", "e\u0301", "ha450", "z", "~",
	"\u00b5F", "\u00e9", "\u03a9", "\u03bcF", "\u2126", "\uff5e", "\U0001f600",
}

// text draws strings that engines have been known to bend: empty, with quotes
// and wildcards, marks that fold, characters beyond UTF-16's first plane.
func text() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.SampledFrom(append([]string{"", "'", `"`, `\`, "a'; DROP TABLE parts; --", "%_", "null", "\u202e", "\r\n\t", "\u007f\u0080\ufeff"}, oddNames...)),
		rapid.Map(rapid.String(), func(s string) string { return strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", ""), "") }),
	)
}

func named() *rapid.Generator[string] {
	return rapid.Map(text(), func(s string) string { return s + "n" })
}

// number draws from a range with the ends and the fractions that base two
// cannot hold.
func number(least, most float64) *rapid.Generator[float64] {
	return rapid.OneOf(rapid.Float64Range(least, most), rapid.SampledFrom([]float64{least, most, least + (most-least)/3, least + (most-least)*0.1}))
}

func maybe(g *rapid.Generator[float64]) *rapid.Generator[*float64] { return rapid.Ptr(g, true) }

// anyPart draws a part within the limits of its members, of one of the series.
func anyPart(series ...string) *rapid.Generator[part.Part] {
	return rapid.Custom(func(t *rapid.T) part.Part {
		p := part.Part{
			Maker: named().Draw(t, "maker"), PartNumber: named().Draw(t, "part_number"), Series: rapid.SampledFrom(series).Draw(t, "series"),
			Technology:        rapid.SampledFrom([]part.Technology{part.Electrolytic, part.Film, part.SafetyX, part.SafetyY}).Draw(t, "technology"),
			Style:             rapid.SampledFrom([]part.Style{part.Axial, part.Radial, part.SnapIn, part.Can, part.Box, part.Disc}).Draw(t, "style"),
			CapacitanceUF:     number(1e-6, 1e5).Draw(t, "capacitance_uf"),
			FurtherSectionsUF: rapid.SliceOfN(number(1e-6, 1e5), 0, 5).Draw(t, "further_sections_uf"),
			Tolerance:         part.Tolerance{TolMinusPct: maybe(number(0, 90)).Draw(t, "tol_minus_pct"), TolPlusPct: maybe(number(0, 200)).Draw(t, "tol_plus_pct")},
			Ratings:           rapid.Make[part.Ratings]().Draw(t, "ratings"),
			RatedV:            number(1, 1e4).Draw(t, "rated_v"), RatedVAC: maybe(number(1, 2000)).Draw(t, "rated_v_ac"),
			SafetyClass: rapid.SampledFrom([]string{"", "X1", "X2", "Y1", "Y2"}).Draw(t, "safety_class"),
			SurgeV:      maybe(number(1, 12000)).Draw(t, "surge_v"), RippleMA: maybe(number(0.1, 1e5)).Draw(t, "ripple_ma"),
			ESROhm: maybe(number(1e-9, 1e4)).Draw(t, "esr_ohm"), LeakageUA: maybe(number(0, 1e6)).Draw(t, "leakage_ua"), LeakageMin: maybe(number(1e-9, 120)).Draw(t, "leakage_min"),
			DiameterMM: maybe(number(1e-3, 200)).Draw(t, "diameter_mm"), LengthMM: maybe(number(1e-3, 300)).Draw(t, "length_mm"),
			ThicknessMM: maybe(number(1e-3, 200)).Draw(t, "thickness_mm"), LeadPitchMM: maybe(number(1e-3, 200)).Draw(t, "lead_pitch_mm"),
			Note: text().Draw(t, "note"), Offers: rapid.SliceOfN(anyOffer(), 0, 4).Draw(t, "offers"),
		}
		plain(reflect.ValueOf(&p.Ratings))
		return p
	})
}

func anyOffer() *rapid.Generator[part.Offer] {
	return rapid.Custom(func(t *rapid.T) part.Offer {
		return part.Offer{
			Supplier: named().Draw(t, "supplier"), SKU: named().Draw(t, "sku"), Currency: rapid.StringMatching(`[A-Z]{3}`).Draw(t, "currency"),
			Pack: rapid.IntRange(1, 1e5).Draw(t, "pack"), MinQty: rapid.IntRange(1, 1e6).Draw(t, "min_qty"),
			Stock: rapid.IntRange(0, 1e8).Draw(t, "stock"), LeadDays: rapid.IntRange(0, 1000).Draw(t, "lead_days"),
			Preferred: rapid.Bool().Draw(t, "preferred"),
			Breaks: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) part.Break {
				return part.Break{MinQty: rapid.IntRange(1, 1e6).Draw(t, "min_qty"),
					UnitPrice: part.Money(rapid.Int64Range(0, int64(part.MaxMoney)).Draw(t, "unit_price"))}
			}), 0, 4).Draw(t, "breaks"),
		}
	})
}

// anyAmp draws any amplifier JSON can express, whether it makes sense or not;
// a small one, for a hundred of them are drawn.
func anyAmp() *rapid.Generator[amp.Amplifier] {
	return rapid.Custom(func(t *rapid.T) amp.Amplifier {
		a := amp.Amplifier{
			Name: text().Draw(t, "name"), Note: text().Draw(t, "note"), Mains: rapid.Make[amp.Mains]().Draw(t, "mains"),
			ChassisC:  maybe(number(0, 120)).Draw(t, "chassis_c"),
			Positions: rapid.SliceOfN(rapid.Make[amp.Position](), 0, 2).Draw(t, "positions"),
		}
		for range rapid.IntRange(0, 2).Draw(t, "supplies") {
			supply := amp.Supply{
				Name: text().Draw(t, "name"), Winding: rapid.Make[*amp.Winding]().Draw(t, "winding"),
				Rectifier: rapid.Make[amp.Rectifier]().Draw(t, "rectifier"), Standby: rapid.Make[*amp.Standby]().Draw(t, "standby"),
				Nodes: rapid.SliceOfN(rapid.Map(rapid.Make[amp.Node](), func(n amp.Node) amp.Node {
					n.Loads = n.Loads[:min(len(n.Loads), 2)]
					return n
				}), 0, 2).Draw(t, "nodes"),
			}
			a.Supplies = append(a.Supplies, supply)
		}
		plain(reflect.ValueOf(&a))
		return a
	})
}

// anySeries draws any series with a name.
func anySeries() *rapid.Generator[part.Series] {
	return rapid.Map(rapid.Make[part.Series](), func(s part.Series) part.Series {
		s.Name += "n"
		plain(reflect.ValueOf(&s))
		return s
	})
}

// plain takes out of a drawn value what stores refuse: text with NUL or that
// is no UTF-8.
func plain(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			plain(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			plain(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			plain(v.Field(i))
		}
	case reflect.String:
		v.SetString(strings.ToValidUTF8(strings.ReplaceAll(v.String(), "\x00", ""), ""))
	}
}

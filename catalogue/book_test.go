package catalogue

import (
	"testing"

	"coldrise/domain/problem"
	"github.com/google/go-cmp/cmp"
)

func TestABookReportsTheFaultsOfItsSeriesAndPartsAtTheirPlace(t *testing.T) {
	t.Parallel()
	const data = `{"series":{"name":"S","maker":"M","technology":"electrolytic","max_c":85,"base_hz":100,
	  "frequency_factors":[{"hz":50,"factor":1},{"hz":100,"factor":1.2}]},
	 "parts":[{"maker":"M","part_number":"P","series":"T","technology":"electrolytic","style":"axial","capacitance_uf":10,
	  "tol_minus_pct":20,"tol_plus_pct":20,"rated_v":450,"surge_v":400,"diameter_mm":10,"length_mm":20,"paint":"red"}]}`
	_, err := parseBook([]byte(data), "book")
	var at []string
	for _, f := range problem.As(err).Faults {
		at = append(at, f.Pointer)
	}
	want := []string{"/series/frequency_factors", "/parts/0/series", "/parts/0/surge_v", "/parts/0/paint"}
	if diff := cmp.Diff(want, at); diff != "" {
		t.Errorf("%v\n%s", err, diff)
	}
}

func FuzzParseBook(f *testing.F) {
	files, err := starterFiles.ReadDir("starter")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files[:2] {
		data, err := starterFiles.ReadFile("starter/" + file.Name())
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(`{"series":{},"parts":[{}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := parseBook(data, "book"); err != nil && problem.CodeOf(err) == problem.Internal {
			t.Fatal(err)
		}
	})
}

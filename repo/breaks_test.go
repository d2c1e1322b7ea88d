package repo_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/repo"
)

func TestBreaksComeBack(t *testing.T) {
	t.Parallel()
	for want, breaks := range map[string][]part.Break{
		"[]":                           nil,
		"[[1,0]]":                      {{MinQty: 1}},
		"[[1,3200000],[10,2880000]]":   {{MinQty: 1, UnitPrice: 3_200_000}, {MinQty: 10, UnitPrice: 2_880_000}},
		"[[9223372036854775807,1]]":    {{MinQty: math.MaxInt64, UnitPrice: 1}},
		"[[5,1000000000000000],[1,2]]": {{MinQty: 5, UnitPrice: part.MaxMoney}, {MinQty: 1, UnitPrice: 2}},
	} {
		text, err := repo.EncodeBreaks(breaks)
		if err != nil || text != want {
			t.Errorf("%v is %s, %v; want %s", breaks, text, err, want)
		}
		back, err := repo.DecodeBreaks(text)
		if diff := cmp.Diff(breaks, back); diff != "" || err != nil {
			t.Errorf("%s: %v %s", text, err, diff)
		}
	}
}

func TestBreaksThatNobodyAsksAreNotKept(t *testing.T) {
	t.Parallel()
	for _, b := range []part.Break{{MinQty: 0, UnitPrice: 1}, {MinQty: -1, UnitPrice: 1}, {MinQty: 1, UnitPrice: -1}} {
		if text, err := repo.EncodeBreaks([]part.Break{{MinQty: 1}, b}); err == nil {
			t.Errorf("%+v was written as %s", b, text)
		}
	}
}

// FuzzDecodeBreaks looks for text that is taken and is not what would be
// written, and for a crash.
func FuzzDecodeBreaks(f *testing.F) {
	for _, seed := range []string{"", "[]", "[[1,2]]", "[[1,2],[3,4]]", "[[1,2],]", "[[1,2]", "[1,2]", "[[01,2]]", "[[1,-2]]", "[[1, 2]]", "[[1,2]][[1,2]]", "[[+1,2]]", "[[0,2]]", "[[1,99999999999999999999]]"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		breaks, err := repo.DecodeBreaks(text)
		if err != nil {
			return
		}
		again, err := repo.EncodeBreaks(breaks)
		if err != nil || again != text || !json.Valid([]byte(text)) {
			t.Fatalf("%q was taken, and would be written as %q (%v)", text, again, err)
		}
	})
}

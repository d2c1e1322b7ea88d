package repo_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

func TestCursorGivesItsKeysBack(t *testing.T) {
	t.Parallel()
	list := repo.AmpsList(repo.Bench)
	for _, keys := range [][]string{
		{""}, {"a"}, {"a", "b"}, {"", ""}, {"Sedgemere", "HA-450/22 µF"}, {"\x00", "Ω😀"}, {strings.Repeat("x", 300)},
	} {
		got, err := repo.DecodeCursor(list, repo.EncodeCursor(list, keys...), len(keys))
		if err != nil {
			t.Errorf("%q: %v", keys, err)
		}
		if diff := cmp.Diff(keys, got); diff != "" {
			t.Error(diff)
		}
	}
	if keys, err := repo.DecodeCursor(list, "", 2); keys != nil || err != nil {
		t.Errorf("the empty cursor gives %q, %v; want the start of the list", keys, err)
	}
}

func TestCursorOfAnotherListIsRefused(t *testing.T) {
	t.Parallel()
	filter := repo.PartFilter{Maker: "Sedgemere", Series: "HA", Technology: part.Electrolytic, Style: part.Axial, MinUF: 10, MaxUF: 50, MinRatedV: 450, InStock: true}
	mine := repo.PartsList("bench", filter)
	cursor := repo.EncodeCursor(mine, "a", "b")
	changed := func(change func(f *repo.PartFilter)) string {
		f := filter
		change(&f)
		return repo.PartsList("bench", f)
	}
	for name, list := range map[string]string{
		"another shop":            repo.PartsList("other", filter),
		"no filter":               repo.PartsList("bench", repo.PartFilter{}),
		"another maker":           changed(func(f *repo.PartFilter) { f.Maker = "sedgemere" }),
		"another series":          changed(func(f *repo.PartFilter) { f.Series = "HB" }),
		"maker and series joined": changed(func(f *repo.PartFilter) { f.Maker, f.Series = "SedgemereHA", "" }),
		"another technology":      changed(func(f *repo.PartFilter) { f.Technology = part.Film }),
		"another style":           changed(func(f *repo.PartFilter) { f.Style = part.Can }),
		"another least value":     changed(func(f *repo.PartFilter) { f.MinUF = 11 }),
		"another largest value":   changed(func(f *repo.PartFilter) { f.MaxUF = 51 }),
		"another voltage":         changed(func(f *repo.PartFilter) { f.MinRatedV = 400 }),
		"stock of no matter":      changed(func(f *repo.PartFilter) { f.InStock = false }),
		"amplifiers":              repo.AmpsList("bench"),
		"plans":                   repo.PlansList("bench", "a"),
	} {
		wantBadCursor(t, name, list, cursor)
	}
	if _, err := repo.DecodeCursor(mine, cursor, 2); err != nil {
		t.Errorf("under its own filter: %v", err)
	}
}

func TestForgedCursorIsRefused(t *testing.T) {
	t.Parallel()
	list := repo.AmpsList(repo.Bench)
	good := repo.EncodeCursor(list, "a", "b")
	for i := range len(good) {
		for _, c := range []byte("A_0") {
			if good[i] != c {
				wantBadCursor(t, "one character changed", list, good[:i]+string(c)+good[i+1:])
			}
		}
		wantBadCursor(t, "cut short", list, good[:i])
	}
	for name, cursor := range map[string]string{
		"one key too few":  repo.EncodeCursor(list, "a"),
		"one key too many": repo.EncodeCursor(list, "a", "b", "c"),
		"padded":           good + "=",
		"with a line end":  good + "\n",
		"no base64":        "page 2",
		"far too long":     repo.EncodeCursor(list, strings.Repeat("x", 4000), "b"),
		"a page number":    "2",
	} {
		wantBadCursor(t, name, list, cursor)
	}
}

func wantBadCursor(t *testing.T, name, list, cursor string) {
	t.Helper()
	if cursor == "" {
		return // The start of every list.
	}
	keys, err := repo.DecodeCursor(list, cursor, 2)
	faults := problem.As(err)
	if err == nil || faults.Code != problem.Invalid || len(faults.Faults) != 1 || faults.Faults[0].Pointer != "/cursor" {
		t.Errorf("%s: %q gives %q, %v; want invalid at /cursor", name, cursor, keys, err)
	}
}

func TestPageLength(t *testing.T) {
	t.Parallel()
	for limit, ok := range map[int]bool{-1: false, 0: false, 1: true, repo.MaxPage: true, repo.MaxPage + 1: false} {
		err := repo.CheckLimit(limit)
		if (err == nil) != ok {
			t.Errorf("limit %d: %v", limit, err)
		}
		if err != nil && problem.As(err).Faults[0].Pointer != "/limit" {
			t.Errorf("limit %d: the fault is at %s", limit, problem.As(err).Faults[0].Pointer)
		}
	}
}

// FuzzDecodeCursor looks for text that is taken for a cursor without being
// one, and for a crash.
func FuzzDecodeCursor(f *testing.F) {
	list := repo.PlansList(repo.Bench, "a")
	for _, seed := range []string{"", "A", "AAAAAAAAAAAAAAAA", "=", repo.EncodeCursor(list, "1", "b"), repo.EncodeCursor("", "1", "b"), strings.Repeat("_", 3000)} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, cursor string) {
		keys, err := repo.DecodeCursor(list, cursor, 2)
		if err != nil {
			if problem.CodeOf(err) != problem.Invalid {
				t.Fatalf("%q: %v", cursor, err)
			}
			return
		}
		if cursor != "" && repo.EncodeCursor(list, keys...) != cursor {
			t.Fatalf("%q was taken, and is not the cursor of %q", cursor, keys)
		}
	})
}

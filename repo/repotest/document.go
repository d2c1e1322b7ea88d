package repotest

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"coldrise/domain/problem"
	"coldrise/repo"
)

// documentCases: documents of every kind, and files.
func documentCases() []testCase {
	return []testCase{
		{"a document comes back as created, byte for byte", documentKept},
		{"a document's version and instants", documentVersions},
		{"ids are apart by kind", kindsApart},
		{"by id, either way, of one subject", documentsInOrder},
		{"documents that are refused", documentsRefused},
		{"of twenty writers of one document none loses an update", noLostDocuments},
		{"a file comes back byte for byte", filesKept},
		{"files that are refused", filesRefused},
		{"series by version", seriesVersions},
		{"series that are refused", seriesRefused},
	}
}

func documentKept(t *testing.T, s repo.Store) {
	ctx := background()
	for i, body := range []string{`{"b":1,"a":2,"b":3}`, "  {\r\n\t}  ", `{"v":1.0,"w":1e400,"x":-0}`, `{"t":"\u0000\u00b5µ\/\ud83d\ude00"}`, `[]`, `null`, `7`,
		`{"long":"` + strings.Repeat("µ", 1<<19) + `"}`} {
		d := sampleDocument(fmt.Sprint("d", i))
		d.Body, d.Parts = []byte(body), []string{"z", "a", "Ω", "a"}
		want := d
		want.Meta = repo.Meta{ID: d.ID, Version: 1, Created: noonKept, Changed: noonKept}
		want.By, want.Parts, want.Body = "Ada", []string{"a", "z", "Ω"}, bytes.Clone(d.Body)
		got := sure(s.CreateDocument(ctx, shop, d, by("Ada", 0)))(t)
		d.Body[0] = '!'
		same(t, want, got)
		same(t, want, sure(s.Document(ctx, shop, repo.Run, d.ID))(t))
	}
	bare := repo.Document{Meta: repo.Meta{ID: "bare"}, Kind: repo.Rates, Body: []byte("{}")}
	want := bare
	want.Meta = repo.Meta{ID: "bare", Version: 1, Created: noonKept, Changed: noonKept}
	same(t, want, sure(s.CreateDocument(ctx, shop, bare, stamp()))(t))
}

func documentVersions(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	for version := int64(1); version < 4; version++ {
		d := sampleDocument("run-1")
		d.Version, d.About, d.Parts, d.Body = version, fmt.Sprint("plan ", version), []string{fmt.Sprint("part ", version)}, []byte(fmt.Sprint(version))
		want := d
		want.Meta = repo.Meta{ID: "run-1", Version: version + 1, Created: noonKept, Changed: noonKept.Add(time.Hour)}
		want.By = "Ben"
		same(t, want, sure(s.ReplaceDocument(ctx, shop, d, by("Ben", time.Hour)))(t))
		same(t, want, sure(s.Document(ctx, shop, repo.Run, "run-1"))(t))
	}
	wantCode(t, s.DeleteDocument(ctx, shop, repo.Run, "run-1", 3), problem.Stale)
	must(t, s.DeleteDocument(ctx, shop, repo.Run, "run-1", 4))
	_, err := s.Document(ctx, shop, repo.Run, "run-1")
	wantCode(t, err, problem.NotFound)
	same(t, int64(1), sure(s.CreateDocument(ctx, shop, sampleDocument("run-1"), stamp()))(t).Version)
}

func kindsApart(t *testing.T, s repo.Store) {
	ctx := background()
	for i, kind := range repo.Kinds {
		d := repo.Document{Meta: repo.Meta{ID: "one"}, Kind: kind, Body: []byte(fmt.Sprint(i))}
		sure(s.CreateDocument(ctx, shop, d, stamp()))(t)
	}
	for i, kind := range repo.Kinds {
		same(t, []byte(fmt.Sprint(i)), sure(s.Document(ctx, shop, kind, "one"))(t).Body)
		all, next, err := s.Documents(ctx, shop, repo.DocumentFilter{Kind: kind}, repo.Page{Limit: 5})
		must(t, err)
		same(t, 1, len(all))
		same(t, "", next)
	}
	must(t, s.DeleteDocument(ctx, shop, repo.Order, "one", 1))
	sure(s.Document(ctx, shop, repo.Run, "one"))(t)
}

func documentIDs(t *testing.T, s repo.Store, f repo.DocumentFilter, limit int) []string {
	t.Helper()
	var ids []string
	for _, d := range walk(t, limit, func(p repo.Page) ([]repo.Document, string, error) { return s.Documents(background(), shop, f, p) }) {
		ids = append(ids, d.ID)
	}
	return ids
}

func documentsInOrder(t *testing.T, s repo.Store) {
	ctx := background()
	var odd, reversed []string
	for i, id := range shuffled(oddNames) {
		d := sampleDocument(id)
		d.About = []string{"even", "odd"}[i%2]
		sure(s.CreateDocument(ctx, shop, d, stamp()))(t)
	}
	for i := range oddNames {
		reversed = append(reversed, oddNames[len(oddNames)-1-i])
	}
	for _, limit := range []int{1, 4, repo.MaxPage} {
		same(t, oddNames, documentIDs(t, s, repo.DocumentFilter{Kind: repo.Run}, limit))
		same(t, reversed, documentIDs(t, s, repo.DocumentFilter{Kind: repo.Run, LastFirst: true}, limit))
		odd = documentIDs(t, s, repo.DocumentFilter{Kind: repo.Run, About: "odd"}, limit)
		same(t, len(oddNames)/2, len(odd))
		same(t, []string(nil), documentIDs(t, s, repo.DocumentFilter{Kind: repo.Order}, limit))
		same(t, []string(nil), documentIDs(t, s, repo.DocumentFilter{Kind: repo.Run, About: "ODD"}, limit))
	}
	_, next, err := s.Documents(ctx, shop, repo.DocumentFilter{Kind: repo.Run}, repo.Page{Limit: 1})
	must(t, err)
	for _, f := range []repo.DocumentFilter{{Kind: repo.Order}, {Kind: repo.Run, About: "odd"}, {Kind: repo.Run, LastFirst: true}} {
		_, _, err := s.Documents(ctx, shop, f, repo.Page{Limit: 1, After: next})
		wantFault(t, err, "/cursor")
	}
}

func documentsRefused(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	for name, tt := range map[string]struct {
		code   problem.Code
		change func(d *repo.Document)
	}{
		"an id that is there": {problem.Conflict, func(d *repo.Document) { d.ID = "run-1" }},
		"no id":               {problem.Invalid, func(d *repo.Document) { d.ID = "" }},
		"NUL in the id":       {problem.Invalid, func(d *repo.Document) { d.ID = "\x00" }},
		"no such kind":        {problem.Invalid, func(d *repo.Document) { d.Kind = "letter" }},
		"no body":             {problem.Invalid, func(d *repo.Document) { d.Body = nil }},
		"an empty body":       {problem.Invalid, func(d *repo.Document) { d.Body = []byte{} }},
		"no JSON":             {problem.Invalid, func(d *repo.Document) { d.Body = []byte("{a:1}") }},
		"no UTF-8":            {problem.Invalid, func(d *repo.Document) { d.Body = []byte("\"\xff\"") }},
		"too long a body":     {problem.TooLarge, func(d *repo.Document) { d.Body = bytes.Repeat([]byte("1"), repo.MaxBody+1) }},
		"a part with NUL":     {problem.Invalid, func(d *repo.Document) { d.Parts = []string{"\x00"} }},
		"a subject with NUL":  {problem.Invalid, func(d *repo.Document) { d.About = "\x00" }},
	} {
		d := sampleDocument("run-9")
		tt.change(&d)
		_, err := s.CreateDocument(ctx, shop, d, stamp())
		if problem.CodeOf(err) != tt.code || err == nil {
			t.Errorf("CreateDocument with %s: %v, want %s", name, err, tt.code)
		}
		if d.ID != "run-9" || d.Kind != repo.Run {
			continue
		}
		d.ID, d.Version = "run-1", 1
		if _, err = s.ReplaceDocument(ctx, shop, d, stamp()); problem.CodeOf(err) != tt.code || err == nil {
			t.Errorf("ReplaceDocument with %s: %v, want %s", name, err, tt.code)
		}
	}
	gone, old := sampleDocument("run-9"), sampleDocument("run-1")
	old.Version = 2
	_, err := s.ReplaceDocument(ctx, shop, gone, stamp())
	wantCode(t, err, problem.NotFound)
	_, err = s.ReplaceDocument(ctx, shop, old, stamp())
	wantCode(t, err, problem.Stale)
	for _, id := range []string{"run-9", "", "\x00", "RUN-1"} {
		_, err = s.Document(ctx, shop, repo.Run, id)
		wantCode(t, err, problem.NotFound)
		wantCode(t, s.DeleteDocument(ctx, shop, repo.Run, id, 1), problem.NotFound)
	}
	_, err = s.Document(ctx, shop, "letter", "run-1")
	wantCode(t, err, problem.NotFound)
	_, _, err = s.Documents(ctx, shop, repo.DocumentFilter{}, repo.Page{Limit: 1})
	wantCode(t, err, problem.Invalid)
	_, _, err = s.Documents(ctx, shop, repo.DocumentFilter{Kind: repo.Run}, repo.Page{})
	wantFault(t, err, "/limit")
	same(t, before, holdingsOf(t, s, shop))
}

func noLostDocuments(t *testing.T, s repo.Store) {
	ctx := background()
	d := sampleDocument("d")
	d.Body = []byte("0")
	sure(s.CreateDocument(ctx, shop, d, stamp()))(t)
	for _, err := range atOnce(writers, func(int) error {
		return untilTaken(func() error {
			d, err := s.Document(ctx, shop, repo.Run, "d")
			if err != nil {
				return err
			}
			var n int
			if _, err := fmt.Sscan(string(d.Body), &n); err != nil {
				return err
			}
			d.Body = []byte(fmt.Sprint(n + 1))
			_, err = s.ReplaceDocument(ctx, shop, d, stamp())
			return err
		})
	}) {
		must(t, err)
	}
	same(t, fmt.Sprint(writers*rounds), string(sure(s.Document(ctx, shop, repo.Run, "d"))(t).Body))
}

func filesKept(t *testing.T, s repo.Store) {
	ctx := background()
	for i, content := range [][]byte{nil, {0}, []byte("PK\x03\x04\xff\x00"), bytes.Repeat([]byte{0, 1, 0xff}, 1<<20)} {
		f := sampleFile(fmt.Sprint("f", i))
		f.Content = content
		must(t, s.SaveFile(ctx, shop, f))
		got := sure(s.File(ctx, shop, f.ID))(t)
		if !bytes.Equal(got.Content, content) {
			t.Errorf("%d bytes came back as %d", len(content), len(got.Content))
		}
		got.Content, f.Content, f.Created = nil, nil, noonKept
		same(t, f, got)
	}
	must(t, s.DeleteFile(ctx, shop, "f1"))
	_, err := s.File(ctx, shop, "f1")
	wantCode(t, err, problem.NotFound)
	must(t, s.SaveFile(ctx, shop, sampleFile("f1")))
}

func filesRefused(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	for name, tt := range map[string]struct {
		code   problem.Code
		change func(f *repo.File)
	}{
		"an id that is there": {problem.Conflict, func(f *repo.File) { f.ID = "file-1" }},
		"no id":               {problem.Invalid, func(f *repo.File) { f.ID = "" }},
		"NUL in the name":     {problem.Invalid, func(f *repo.File) { f.Name = "\x00" }},
		"no UTF-8":            {problem.Invalid, func(f *repo.File) { f.By = "\xff" }},
		"too much":            {problem.TooLarge, func(f *repo.File) { f.Content = make([]byte, repo.MaxFile+1) }},
	} {
		f := sampleFile("file-9")
		tt.change(&f)
		if err := s.SaveFile(ctx, shop, f); problem.CodeOf(err) != tt.code || err == nil {
			t.Errorf("%s: %v, want %s", name, err, tt.code)
		}
	}
	for _, id := range []string{"file-9", "", "\x00"} {
		_, err := s.File(ctx, shop, id)
		wantCode(t, err, problem.NotFound)
		wantCode(t, s.DeleteFile(ctx, shop, id), problem.NotFound)
	}
}

func seriesVersions(t *testing.T, s repo.Store) {
	ctx := background()
	want := repo.Series{Meta: repo.Meta{ID: "HA", Version: 1, Created: noonKept, Changed: noonKept}, Series: sampleSeries("HA")}
	same(t, want, sure(s.CreateSeries(ctx, shop, sampleSeries("HA"), stamp()))(t))
	same(t, want, sure(s.OneSeries(ctx, shop, "HA"))(t))
	want.Version, want.Changed, want.Series = 2, noonKept.Add(time.Hour), bareSeries("HA", 105)
	same(t, want, sure(s.ReplaceSeries(ctx, shop, 1, bareSeries("HA", 105), by("", time.Hour)))(t))
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), by("", 2*time.Hour)))
	want.Version, want.Changed, want.Series = 3, noonKept.Add(2*time.Hour), sampleSeries("HA")
	same(t, want, sure(s.OneSeries(ctx, shop, "HA"))(t))
	must(t, s.DeleteSeries(ctx, shop, "HA", 3))
	same(t, int64(1), sure(s.CreateSeries(ctx, shop, sampleSeries("HA"), stamp()))(t).Version)
}

func seriesRefused(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	_, err := s.CreateSeries(ctx, shop, sampleSeries("HA"), stamp())
	wantCode(t, err, problem.Conflict)
	_, err = s.CreateSeries(ctx, shop, bareSeries("", 85), stamp())
	wantCode(t, err, problem.Invalid)
	_, err = s.ReplaceSeries(ctx, shop, 2, sampleSeries("HA"), stamp())
	wantCode(t, err, problem.Stale)
	_, err = s.ReplaceSeries(ctx, shop, 1, sampleSeries("ha"), stamp())
	wantCode(t, err, problem.NotFound)
	for _, name := range []string{"HB", "", "\x00"} {
		_, err = s.OneSeries(ctx, shop, name)
		wantCode(t, err, problem.NotFound)
		wantCode(t, s.DeleteSeries(ctx, shop, name, 1), problem.NotFound)
	}
	wantCode(t, s.DeleteSeries(ctx, shop, "HA", 1), problem.Conflict)
	wantCode(t, s.DeleteSeries(ctx, shop, "spare", 2), problem.Stale)
	same(t, before, holdingsOf(t, s, shop))
}

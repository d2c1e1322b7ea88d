package repotest

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/amp"
	"coldrise/domain/part"
	"coldrise/repo"
)

// keptCases: what was stored comes back, and is the caller's to change.
func keptCases() []testCase {
	return []testCase{
		{"a part comes back as created", partKept},
		{"a part that gives little", littleKept},
		{"a part of no series", noSeriesKept},
		{"empty lists come back nil", emptyLists},
		{"random parts bit for bit", randomParts},
		{"random amplifiers bit for bit", randomAmps},
		{"random series bit for bit", randomSeries},
		{"an amplifier comes back as created", ampKept},
		{"instants from year 1 to 9999", instantsKept},
		{"a plan's document byte for byte", documentsKept},
		{"a plan of no stored amplifier", looseplanKept},
		{"a plan outlives its amplifier", planOutlives},
		{"a series is replaced by its name", seriesReplaced},
		{"replacing a part leaves nothing of the old one", nothingLeft},
		{"a deleted part can be made again", madeAgain},
		{"answers are the caller's own", ownAnswers},
		{"an empty shop has empty lists", emptyShop},
	}
}

func partKept(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	want := repo.Part{Meta: repo.Meta{ID: "p", Version: 1, Created: noonKept, Changed: noonKept}, Part: samplePart("HA-1")}
	same(t, want, sure(s.CreatePart(ctx, shop, "p", samplePart("HA-1"), stamp()))(t))
	same(t, want, sure(s.Part(ctx, shop, "p"))(t))
	same(t, []repo.Part{want}, allParts(t, s, shop, repo.PartFilter{}, 1))
	same(t, []repo.Part{want}, sure(s.Candidates(ctx, shop, repo.CandidateWindow{}))(t))
}

func littleKept(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, bareSeries("HA", 85), stamp()))
	sure(s.CreatePart(ctx, shop, "p", plainPart("M", "1", 22, 450), stamp()))(t)
	same(t, plainPart("M", "1", 22, 450), sure(s.Part(ctx, shop, "p"))(t).Part)
	same(t, []part.Series{bareSeries("HA", 85)}, sure(s.Series(ctx, shop))(t))
}

// noSeriesKept stores a part that stands by its own figures, gives it a series
// and takes that away again.
func noSeriesKept(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	alone := samplePart("1")
	alone.Series = ""
	same(t, alone, sure(s.CreatePart(ctx, shop, "p", alone, stamp()))(t).Part)
	same(t, alone, sure(s.Part(ctx, shop, "p"))(t).Part)
	same(t, []string{"1"}, partNumbers(sure(s.Candidates(ctx, shop, repo.CandidateWindow{}))(t)))
	same(t, []string(nil), partNumbers(allParts(t, s, shop, repo.PartFilter{Series: "HA"}, 10)))
	of := plainPart("M", "1", 22, 450)
	same(t, of, sure(s.ReplacePart(ctx, shop, "p", 1, of, stamp()))(t).Part)
	same(t, []string{"1"}, partNumbers(allParts(t, s, shop, repo.PartFilter{Series: "HA"}, 10)))
	same(t, alone, sure(s.ReplacePart(ctx, shop, "p", 2, alone, stamp()))(t).Part)
}

func emptyLists(t *testing.T, s repo.Store) {
	ctx := background()
	series := part.Series{Name: "HA", Ratings: part.Ratings{FrequencyFactors: part.FrequencyTable{}, TemperatureFactors: part.TemperatureTable{}}}
	must(t, s.PutSeries(ctx, shop, series, stamp()))
	same(t, []part.Series{{Name: "HA"}}, sure(s.Series(ctx, shop))(t))

	p := plainPart("M", "1", 22, 450)
	p.FurtherSectionsUF, p.Offers = []float64{}, []part.Offer{}
	same(t, plainPart("M", "1", 22, 450), sure(s.CreatePart(ctx, shop, "p", p, stamp()))(t).Part)

	a := amp.Amplifier{Name: "A", Supplies: []amp.Supply{{Nodes: []amp.Node{}}}, Positions: []amp.Position{}}
	want := amp.Amplifier{Name: "A", Supplies: []amp.Supply{{}}}
	same(t, want, sure(s.CreateAmp(ctx, shop, "a", a, stamp()))(t).Amplifier)
	same(t, want, sure(s.Amp(ctx, shop, "a"))(t).Amplifier)
}

// randomParts stores each drawn part in a shop of its own, once created and
// once in the place of another.
func randomParts(t *testing.T, s repo.Store) {
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		ctx, in := background(), repo.Shop(fmt.Sprint("shop ", n))
		must(rt, s.PutSeries(ctx, in, sampleSeries("HA"), stamp()))
		for _, p := range []part.Part{anyPart("HA").Draw(rt, "created"), anyPart("HA").Draw(rt, "replaced")} {
			have, err := s.Part(ctx, in, "p")
			if err != nil {
				have, err = s.CreatePart(ctx, in, "p", p, stamp())
			} else {
				have, err = s.ReplacePart(ctx, in, "p", have.Version, p, stamp())
			}
			must(rt, err)
			repo.DropEmpty(&p)
			same(rt, p, have.Part)
			same(rt, have, sure(s.Part(ctx, in, "p"))(rt))
		}
	})
}

func randomAmps(t *testing.T, s repo.Store) {
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		a, id := anyAmp().Draw(rt, "amp"), fmt.Sprint("amp ", n)
		made := sure(s.CreateAmp(background(), shop, id, a, stamp()))(rt)
		repo.DropEmpty(&a)
		same(rt, a, made.Amplifier)
		same(rt, made, sure(s.Amp(background(), shop, id))(rt))
	})
}

func randomSeries(t *testing.T, s repo.Store) {
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		in, want := repo.Shop(fmt.Sprint("shop ", n)), anySeries().Draw(rt, "series")
		must(rt, s.PutSeries(background(), in, want, stamp()))
		repo.DropEmpty(&want)
		same(rt, []part.Series{want}, sure(s.Series(background(), in))(rt))
	})
}

func ampKept(t *testing.T, s repo.Store) {
	ctx := background()
	want := repo.Amp{Meta: repo.Meta{ID: "a", Version: 1, Created: noonKept, Changed: noonKept}, Amplifier: sampleAmp("<Saltmarsh> & \u2028 30")}
	same(t, want, sure(s.CreateAmp(ctx, shop, "a", sampleAmp("<Saltmarsh> & \u2028 30"), stamp()))(t))
	same(t, want, sure(s.Amp(ctx, shop, "a"))(t))
	amps, next, err := s.Amps(ctx, shop, repo.Page{Limit: 1})
	must(t, err)
	same(t, []repo.Amp{want}, amps)
	same(t, "", next)
}

func instantsKept(t *testing.T, s repo.Store) {
	ctx := background()
	for i, text := range []string{"0001-01-01T00:00:00.000001Z", "1969-12-31T23:59:59.999999Z", "1970-01-01T00:00:00Z", "9999-12-31T23:59:59.999999Z"} {
		want := instant(t, text)
		// Digits below a microsecond are cut towards the past, before 1970 too.
		at := repo.Stamp{At: want.Add(999)}
		id := fmt.Sprint("amp ", i)
		same(t, want, sure(s.CreateAmp(ctx, shop, id, sampleAmp("A"), at))(t).Created)
		must(t, s.SavePlan(ctx, shop, repo.Plan{ID: id, Created: at.At, Document: []byte("{}")}))
		same(t, want, sure(s.Plan(ctx, shop, id))(t).Created)
	}
}

func documentsKept(t *testing.T, s repo.Store) {
	ctx := background()
	for i, document := range []string{
		`{"b":1,"a":2,"b":3}`, "  {\r\n\t}  ", `{"v":1.0,"w":1e400,"x":-0,"y":0.1000}`, `{"t":"\u0000\u00b5µ\/\ud83d\ude00"}`, `[]`, `null`,
		`{"long":"` + strings.Repeat("µ", 1<<19) + `"}`,
	} {
		id := fmt.Sprint("plan ", i)
		given := []byte(document)
		must(t, s.SavePlan(ctx, shop, repo.Plan{ID: id, Created: noon, Document: given}))
		given[0] = '!'
		if got := sure(s.Plan(ctx, shop, id))(t).Document; !bytes.Equal(got, []byte(document)) {
			t.Errorf("%.40q came back as %.40q", document, got)
		}
	}
}

func looseplanKept(t *testing.T, s repo.Store) {
	want := samplePlan("plan", "")
	must(t, s.SavePlan(background(), shop, want))
	want.Created = noonKept
	same(t, want, sure(s.Plan(background(), shop, "plan"))(t))
	plans, _, err := s.Plans(background(), shop, "", repo.Page{Limit: 10})
	must(t, err)
	want.Document = nil
	same(t, []repo.Plan{want}, plans)
}

func planOutlives(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	must(t, s.DeleteAmp(ctx, shop, "amp-1", 1))
	want := samplePlan("plan-1", "amp-1")
	want.Created = noonKept
	same(t, want, sure(s.Plan(ctx, shop, "plan-1"))(t))
	plans, _, err := s.Plans(ctx, shop, "amp-1", repo.Page{Limit: 10})
	must(t, err)
	same(t, []string{"plan-1"}, planIDs(plans))
}

func seriesReplaced(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	changed := sampleSeries("HA")
	changed.MaxC, changed.Life = some(105), nil
	must(t, s.PutSeries(ctx, shop, changed, stamp()))
	same(t, []part.Series{changed, sampleSeries("spare")}, sure(s.Series(ctx, shop))(t))
	same(t, []string{"HA-1", "HA-2"}, partNumbers(allParts(t, s, shop, repo.PartFilter{Series: "HA"}, 10)))
}

func nothingLeft(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	sure(s.ReplacePart(ctx, shop, "part-1", 1, plainPart("M", "1", 22, 450), stamp()))(t)
	same(t, plainPart("M", "1", 22, 450), sure(s.Part(ctx, shop, "part-1"))(t).Part)
	same(t, samplePart("HA-2"), sure(s.Part(ctx, shop, "part-2"))(t).Part)
	same(t, []string{"HA-2"}, partNumbers(sure(s.Candidates(ctx, shop, repo.CandidateWindow{MinUF: 16, MaxUF: 16}))(t)))
	same(t, []string{"HA-2"}, partNumbers(allParts(t, s, shop, repo.PartFilter{InStock: true}, 10)))
}

func madeAgain(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	must(t, s.DeletePart(ctx, shop, "part-1", 1, stamp()))
	bare := plainPart("Sedgemere", "HA-1", 22, 450)
	same(t, bare, sure(s.CreatePart(ctx, shop, "part-1", bare, stamp()))(t).Part)
	same(t, bare, sure(s.Part(ctx, shop, "part-1"))(t).Part)
}

func ownAnswers(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	given := samplePart("HA-3")
	made := sure(s.CreatePart(ctx, shop, "part-3", given, stamp()))(t)
	given.Offers[0].Breaks[0].UnitPrice, *given.SurgeV = 1, 1
	made.FurtherSectionsUF[0], *made.SurgeV = math.Pi, math.Pi
	same(t, samplePart("HA-3"), sure(s.Part(ctx, shop, "part-3"))(t).Part)
	must(t, s.DeletePart(ctx, shop, "part-3", 1, stamp()))

	before, mine := holdingsOf(t, s, shop), holdingsOf(t, s, shop)
	*mine.Parts[0].RippleMA, mine.Series[0].FrequencyFactors[0].Hz, mine.Amps[0].Supplies[0].Name = 1, 1, "changed"
	mine.Documents[0].Body[0], mine.Documents[0].Parts[0], *mine.Changes[0].Before.SurgeV, mine.Imports[0].Findings[0] = 1, "changed", 1, 1
	same(t, before, holdingsOf(t, s, shop))
}

func emptyShop(t *testing.T, s repo.Store) {
	same(t, holdings{}, holdingsOf(t, s, shop))
	same(t, []repo.Part(nil), sure(s.Candidates(background(), shop, repo.CandidateWindow{}))(t))
}

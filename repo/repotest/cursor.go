package repotest

import (
	"fmt"
	"testing"
	"time"

	"coldrise/domain/part"
	"coldrise/repo"
)

// cursorCases: walking a list while it changes.
func cursorCases() []testCase {
	return []testCase{
		{"a list that ends with a full page has no next", fullPage},
		{"a cursor is good for its own list alone", ownList},
		{"a cursor is good again, and after its row is gone", rowGone},
		{"parts that stay appear once while others come and go", walkParts},
		{"amplifiers that stay appear once while others come and go", walkAmps},
		{"plans that were there appear once while others are saved", walkSavedPlans},
	}
}

func fullPage(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	parts, next, err := s.Parts(background(), shop, repo.PartFilter{}, repo.Page{Limit: 2})
	must(t, err)
	same(t, []string{"HA-1", "HA-2"}, partNumbers(parts))
	same(t, "", next)
	_, next, err = s.Amps(background(), shop, repo.Page{Limit: 1})
	must(t, err)
	same(t, "", next)
	_, next, err = s.Plans(background(), shop, "amp-1", repo.Page{Limit: 1})
	must(t, err)
	same(t, "", next)
}

func ownList(t *testing.T, s repo.Store) {
	ctx := background()
	for _, in := range []repo.Shop{shop, other} {
		stocked(t, s, in)
		sure(s.CreateAmp(ctx, in, "amp-2", sampleAmp("B"), stamp()))(t)
		must(t, s.SavePlan(ctx, in, samplePlan("plan-2", "amp-1")))
	}
	one := repo.Page{Limit: 1}
	_, ofParts, err := s.Parts(ctx, shop, repo.PartFilter{Maker: "Sedgemere"}, one)
	must(t, err)
	_, ofAmps, err := s.Amps(ctx, shop, one)
	must(t, err)
	_, ofPlans, err := s.Plans(ctx, shop, "amp-1", one)
	must(t, err)

	parts := func(in repo.Shop, f repo.PartFilter, after string) error {
		_, _, err := s.Parts(ctx, in, f, repo.Page{Limit: 1, After: after})
		return err
	}
	amps := func(in repo.Shop, after string) error {
		_, _, err := s.Amps(ctx, in, repo.Page{Limit: 1, After: after})
		return err
	}
	plans := func(in repo.Shop, ampID, after string) error {
		_, _, err := s.Plans(ctx, in, ampID, repo.Page{Limit: 1, After: after})
		return err
	}
	sedgemere := repo.PartFilter{Maker: "Sedgemere"}
	for _, err := range []error{parts(shop, sedgemere, ofParts), amps(shop, ofAmps), plans(shop, "amp-1", ofPlans)} {
		must(t, err)
	}
	for _, err := range []error{
		parts(other, sedgemere, ofParts), parts(shop, repo.PartFilter{}, ofParts), parts(shop, repo.PartFilter{Maker: "Sedgemere", InStock: true}, ofParts),
		parts(shop, sedgemere, ofAmps), parts(shop, sedgemere, ofPlans), amps(other, ofAmps), amps(shop, ofParts), amps(shop, ofPlans),
		plans(other, "amp-1", ofPlans), plans(shop, "amp-2", ofPlans), plans(shop, "", ofPlans), plans(shop, "amp-1", ofParts),
	} {
		wantFault(t, err, "/cursor")
	}
}

func rowGone(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	_, next, err := s.Parts(ctx, shop, repo.PartFilter{}, repo.Page{Limit: 1})
	must(t, err)
	for _, remove := range []bool{false, true} {
		if remove {
			must(t, s.DeletePart(ctx, shop, "part-1", 1, stamp()))
		}
		parts, end, err := s.Parts(ctx, shop, repo.PartFilter{}, repo.Page{Limit: 1, After: next})
		must(t, err)
		same(t, []string{"HA-2"}, partNumbers(parts))
		same(t, "", end)
	}
}

// churn runs change on and on beside a walk, until the walk is over, and
// makes sure that it did something meanwhile.
func churn(t *testing.T, change func(round int) error, walk func()) {
	t.Helper()
	stop, done := make(chan struct{}), make(chan error, 1)
	begun := make(chan struct{})
	go func() {
		for round := 0; ; round++ {
			if err := change(round); err != nil {
				done <- err
				return
			}
			if round == 0 {
				close(begun)
			}
			select {
			case <-stop:
				done <- nil
				return
			default:
			}
		}
	}()
	select {
	case <-begun:
		walk()
	case err := <-done:
		must(t, err)
	}
	close(stop)
	must(t, <-done)
}

// once checks that each name of the stayers was seen exactly once, and
// nothing twice.
func once(t *testing.T, stayers, seen []string) {
	t.Helper()
	times := map[string]int{}
	for _, name := range seen {
		if times[name]++; times[name] > 1 {
			t.Errorf("%s appears again", name)
		}
	}
	for _, name := range stayers {
		if times[name] == 0 {
			t.Errorf("%s does not appear", name)
		}
	}
}

func walkParts(t *testing.T, s repo.Store) {
	ctx := background()
	var stayers, ids []string
	var parts []part.Part
	for i := range 60 {
		number := fmt.Sprintf("%03d", 10*i)
		stayers, ids = append(stayers, number), append(ids, "stays "+number)
		parts = append(parts, plainPart("M", number, 22, 450))
	}
	sure(s.LoadCatalogue(ctx, shop, []part.Series{sampleSeries("HA")}, ids, parts, stamp()))(t)
	// A guest comes and goes right behind each stayer in turn, and another
	// behind the one half a list away.
	change := func(round int) error {
		for _, at := range []int{round % 60, (round + 30) % 60} {
			number := fmt.Sprintf("%03d", 10*at+1)
			if _, err := s.CreatePart(ctx, shop, "guest "+number, plainPart("M", number, 22, 450), stamp()); err != nil {
				return err
			}
			if err := s.DeletePart(ctx, shop, "guest "+number, 1, stamp()); err != nil {
				return err
			}
		}
		return nil
	}
	churn(t, change, func() {
		for _, limit := range []int{1, 7} {
			once(t, stayers, partNumbers(allParts(t, s, shop, repo.PartFilter{}, limit)))
		}
	})
}

func walkAmps(t *testing.T, s repo.Store) {
	ctx := background()
	var stayers []string
	for i := range 30 {
		stayers = append(stayers, fmt.Sprintf("%03d", 10*i))
		sure(s.CreateAmp(ctx, shop, stayers[i], sampleAmp("A"), stamp()))(t)
	}
	change := func(round int) error {
		id := fmt.Sprintf("%03d", 10*(round%30)+1)
		if _, err := s.CreateAmp(ctx, shop, id, sampleAmp("guest"), stamp()); err != nil {
			return err
		}
		return s.DeleteAmp(ctx, shop, id, 1)
	}
	churn(t, change, func() {
		once(t, stayers, ampIDs(allAmps(t, s, shop, 3)))
	})
}

func walkSavedPlans(t *testing.T, s repo.Store) {
	var stayers []string
	save := func(id string, at time.Time) error {
		return s.SavePlan(background(), shop, repo.Plan{ID: id, Created: at, Document: []byte("{}")})
	}
	for i := range 30 {
		stayers = append(stayers, fmt.Sprintf("%03d", i))
		must(t, save(stayers[i], noon.Add(time.Duration(i/3)*time.Second)))
	}
	change := func(round int) error {
		if round >= 300 {
			time.Sleep(time.Millisecond) // Enough: the walk has to come to an end.
			return nil
		}
		// Now and then at an instant that others have.
		return save(fmt.Sprintf("late %05d", round), noon.Add(time.Duration(round%12)*time.Second))
	}
	churn(t, change, func() {
		once(t, stayers, planIDs(allPlans(t, s, shop, "", 4)))
	})
}

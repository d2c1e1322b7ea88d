package repotest

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"coldrise/domain/problem"
	"coldrise/repo"
)

// transactionCases: several changes in one.
func transactionCases() []testCase {
	return []testCase{
		{"all of it is stored", allStored},
		{"an error stores none of it", noneStored},
		{"a refused change spoils it, even where its error is dropped", spoilt},
		{"a row that is not there spoils nothing", lookedInVain},
		{"it sees what it has done", seesItself},
		{"others do not see it before its end", unseen},
		{"a panic stores none of it, and the store goes on", panics},
		{"it is of no use after its end", usedLate},
		{"of transactions at once none loses an update", noLostTransactions},
	}
}

func allStored(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	must(t, s.Update(ctx, func(tx repo.Tx) error {
		p, err := tx.Part(ctx, shop, "part-1")
		if err != nil {
			return err
		}
		p.Offers[0].Stock -= 3
		if _, err := tx.ReplacePart(ctx, shop, "part-1", p.Version, p.Part, stamp()); err != nil {
			return err
		}
		_, err = tx.CreateDocument(ctx, shop, sampleDocument("run-2"), stamp())
		return errors.Join(err, tx.SaveFile(ctx, other, sampleFile("file-9")))
	}))
	same(t, 37, sure(s.Part(ctx, shop, "part-1"))(t).Offers[0].Stock)
	sure(s.Document(ctx, shop, repo.Run, "run-2"))(t)
	sure(s.File(ctx, other, "file-9"))(t)
}

func noneStored(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	for _, tt := range []struct {
		err  error
		want problem.Code
	}{{problem.New(problem.Conflict, "no"), problem.Conflict}, {errors.New("no"), problem.Internal}, {fmt.Errorf("so: %w", problem.New(problem.Stale, "no")), problem.Stale}} {
		err := s.Update(ctx, func(tx repo.Tx) error {
			must(t, tx.DeletePart(ctx, shop, "part-1", 1, stamp()))
			sure(tx.CreateAmp(ctx, shop, "amp-2", sampleAmp("B"), stamp()))(t)
			sure(tx.ImportParts(ctx, shop, sampleImport("in"), rowsOf(samplePart("HA-1")), stamp()))(t)
			return tt.err
		})
		wantCode(t, err, tt.want)
		same(t, before, holdingsOf(t, s, shop))
	}
}

func spoilt(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	err := s.Update(ctx, func(tx repo.Tx) error {
		sure(tx.CreateAmp(ctx, shop, "amp-2", sampleAmp("B"), stamp()))(t)
		_, err := tx.CreatePart(ctx, shop, "part-9", samplePart("HA-1"), stamp())
		wantCode(t, err, problem.Conflict)
		_, err = tx.CreateAmp(ctx, shop, "amp-3", sampleAmp("C"), stamp())
		wantCode(t, err, problem.Conflict) // The first error stays.
		return nil
	})
	wantCode(t, err, problem.Conflict)
	same(t, before, holdingsOf(t, s, shop))
}

func lookedInVain(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.Update(ctx, func(tx repo.Tx) error {
		_, err := tx.Amp(ctx, shop, "amp-1")
		wantCode(t, err, problem.NotFound)
		_, _, err = tx.Amps(ctx, shop, repo.Page{})
		wantFault(t, err, "/limit")
		_, err = tx.CreateAmp(ctx, shop, "amp-1", sampleAmp("A"), stamp())
		return err
	}))
	sure(s.Amp(ctx, shop, "amp-1"))(t)
}

func seesItself(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	must(t, s.Update(ctx, func(tx repo.Tx) error {
		sure(tx.ImportParts(ctx, shop, sampleImport("in"), rowsOf(samplePart("HA-3")), stamp()))(t)
		parts, _, err := tx.Parts(ctx, shop, repo.PartFilter{}, repo.Page{Limit: 10})
		must(t, err)
		same(t, []string{"HA-1", "HA-2", "HA-3"}, partNumbers(parts))
		same(t, 3, len(each(t, tx, repo.PartFilter{})))
		same(t, 3, len(sure(tx.Candidates(ctx, shop, repo.CandidateWindow{}))(t)))
		_, err = tx.UndoImport(ctx, shop, "in", stamp())
		return err
	}))
	same(t, []string{"HA-1", "HA-2"}, partNumbers(allParts(t, s, shop, repo.PartFilter{}, 10)))
}

// unseen reads beside a transaction; with one connection the read waits, and
// is given up.
func unseen(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.Update(ctx, func(tx repo.Tx) error {
		sure(tx.CreateAmp(ctx, shop, "amp-1", sampleAmp("A"), stamp()))(t)
		short, cancel := context.WithTimeout(ctx, 300*time.Millisecond)
		defer cancel()
		_, err := s.Amp(short, shop, "amp-1")
		if code := problem.CodeOf(err); code != problem.NotFound && code != problem.Cancelled || err == nil {
			t.Errorf("beside it: %v", err)
		}
		return nil
	}))
	sure(s.Amp(ctx, shop, "amp-1"))(t)
}

func panics(t *testing.T, s repo.Store) {
	ctx := background()
	for range 3 {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("the panic did not come through")
				}
			}()
			_ = s.Update(ctx, func(tx repo.Tx) error {
				sure(tx.CreateAmp(ctx, shop, "amp-1", sampleAmp("A"), stamp()))(t)
				panic("so")
			})
		}()
	}
	_, err := s.Amp(ctx, shop, "amp-1")
	wantCode(t, err, problem.NotFound)
	sure(s.CreateAmp(ctx, shop, "amp-1", sampleAmp("A"), stamp()))(t)
}

func usedLate(t *testing.T, s repo.Store) {
	ctx := background()
	var late repo.Tx
	must(t, s.Update(ctx, func(tx repo.Tx) error { late = tx; return nil }))
	_, err := late.CreateAmp(ctx, shop, "amp-1", sampleAmp("A"), stamp())
	wantCode(t, err, problem.Internal)
	_, err = late.Amp(ctx, shop, "amp-1")
	wantCode(t, err, problem.Internal)
}

func noLostTransactions(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	for _, err := range atOnce(writers, func(i int) error {
		return untilTaken(func() error {
			return s.Update(ctx, func(tx repo.Tx) error {
				p, err := tx.Part(ctx, shop, "part-1")
				if err != nil {
					return err
				}
				p.Offers[0].Stock++
				_, err = tx.ReplacePart(ctx, shop, "part-1", p.Version, p.Part, stamp())
				return err
			})
		})
	}) {
		must(t, err)
	}
	same(t, 40+writers*rounds, sure(s.Part(ctx, shop, "part-1"))(t).Offers[0].Stock)
}

// claimCases: an effect happens once, however often it is asked for.
func claimCases() []testCase {
	return []testCase{
		{"a claim is had once, and then its answer", claimedOnce},
		{"of many at once one does it, the others get its answer", claimedTogether},
		{"what failed can be asked for again", claimFreed},
		{"another request under the name is refused", otherRequest},
		{"names are apart by shop and operation", claimsApart},
		{"after its end a name is free", claimExpires},
		{"claims that are refused", claimsRefused},
	}
}

func claim(name string) repo.Claim {
	return repo.Claim{Operation: "order", Name: name, Fingerprint: "f", Expires: noon.Add(24 * time.Hour)}
}

// orderOnce creates a document under a claim, and gives the answer and
// whether it did anything.
func orderOnce(s repo.Store, c repo.Claim, id string, at repo.Stamp) (answer string, did bool, err error) {
	ctx := background()
	err = s.Update(ctx, func(tx repo.Tx) error {
		did = false
		earlier, again, err := tx.Claim(ctx, shop, c, at)
		if err != nil || again {
			answer = string(earlier)
			return err
		}
		if _, err := tx.CreateDocument(ctx, shop, sampleDocument(id), at); err != nil {
			return err
		}
		did, answer = true, "made "+id
		return tx.Settle(ctx, shop, c.Operation, c.Name, []byte(answer))
	})
	return answer, did && err == nil, err
}

func claimedOnce(t *testing.T, s repo.Store) {
	for i := range 3 {
		answer, did, err := orderOnce(s, claim("key"), fmt.Sprint("order ", i), stamp())
		must(t, err)
		same(t, "made order 0", answer)
		same(t, i == 0, did)
	}
	same(t, []string{"order 0"}, documentIDs(t, s, repo.DocumentFilter{Kind: repo.Run}, 10))
}

func claimedTogether(t *testing.T, s repo.Store) {
	var answers [writers]string
	for _, err := range atOnce(writers, func(i int) (err error) {
		answers[i], _, err = orderOnce(s, claim("key"), fmt.Sprint("order ", i), stamp())
		return err
	}) {
		must(t, err)
	}
	made := documentIDs(t, s, repo.DocumentFilter{Kind: repo.Run}, 10)
	same(t, 1, len(made))
	for _, answer := range answers {
		same(t, "made "+made[0], answer)
	}
}

func claimFreed(t *testing.T, s repo.Store) {
	sure(s.CreateDocument(background(), shop, sampleDocument("there"), stamp()))(t)
	_, _, err := orderOnce(s, claim("key"), "there", stamp())
	wantCode(t, err, problem.Conflict)
	answer, did, err := orderOnce(s, claim("key"), "new", stamp())
	must(t, err)
	same(t, "made new", answer)
	same(t, true, did)
}

func otherRequest(t *testing.T, s repo.Store) {
	_, _, err := orderOnce(s, claim("key"), "one", stamp())
	must(t, err)
	c := claim("key")
	c.Fingerprint = "g"
	_, _, err = orderOnce(s, c, "two", stamp())
	wantCode(t, err, problem.Invalid)
	same(t, []string{"one"}, documentIDs(t, s, repo.DocumentFilter{Kind: repo.Run}, 10))
}

func claimsApart(t *testing.T, s repo.Store) {
	ctx := background()
	take := func(in repo.Shop, c repo.Claim) bool {
		t.Helper()
		again := false
		must(t, s.Update(ctx, func(tx repo.Tx) (err error) {
			_, again, err = tx.Claim(ctx, in, c, stamp())
			return err
		}))
		return again
	}
	c := claim("key")
	run := c
	run.Operation = "run"
	for _, again := range []bool{false, true} {
		same(t, again, take(shop, c))
		same(t, again, take(other, c))
		same(t, again, take(shop, run))
		same(t, again, take(shop, claim("KEY")))
	}
}

func claimExpires(t *testing.T, s repo.Store) {
	for i, tt := range []struct {
		after time.Duration
		did   bool
	}{{0, true}, {24*time.Hour - time.Microsecond, false}, {24 * time.Hour, true}, {25 * time.Hour, false}} {
		c := claim("key")
		c.Expires = noon.Add(tt.after + 24*time.Hour)
		_, did, err := orderOnce(s, c, fmt.Sprint("order ", i), repo.Stamp{At: noon.Add(tt.after)})
		must(t, err)
		if did != tt.did {
			t.Errorf("after %v it did something: %t", tt.after, did)
		}
	}
}

func claimsRefused(t *testing.T, s repo.Store) {
	ctx := background()
	for name, change := range map[string]func(c *repo.Claim){
		"no operation": func(c *repo.Claim) { c.Operation = "" }, "no name": func(c *repo.Claim) { c.Name = "" },
		"NUL in the name": func(c *repo.Claim) { c.Name = "\x00" }, "no UTF-8": func(c *repo.Claim) { c.Fingerprint = "\xff" },
	} {
		c := claim("key")
		change(&c)
		err := s.Update(ctx, func(tx repo.Tx) error { _, _, err := tx.Claim(ctx, shop, c, stamp()); return err })
		if problem.CodeOf(err) != problem.Invalid || err == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, name := range []string{"key", "", "\x00"} {
		wantCode(t, s.Update(ctx, func(tx repo.Tx) error { return tx.Settle(ctx, shop, "order", name, []byte("x")) }), problem.NotFound)
	}
	wantCode(t, s.Update(ctx, func(tx repo.Tx) error { _, _, err := tx.Claim(ctx, "", claim("key"), stamp()); return err }), problem.Internal)
}

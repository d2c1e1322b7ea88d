package repotest

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// refusal is one call that a stocked shop must refuse.
type refusal struct {
	name    string
	code    problem.Code
	pointer string // where the error names one
	call    func(s repo.Store) error
}

// refusedCases: every method with every code its comment names, on a stocked
// shop. Whatever was refused, the shop must hold the same afterwards; so the
// refusals of a group need one store between them.
func refusedCases() []testCase {
	return []testCase{
		{"part", refuses(partRefusals())},
		{"amplifier", refuses(ampRefusals())},
		{"plan", refuses(planRefusals())},
		{"page", refuses(pageRefusals())},
		{"part no engine keeps", refuses(unstorableParts())},
		{"rest no engine keeps", refuses(unstorableRest())},
	}
}

func refuses(list []refusal) func(t *testing.T, s repo.Store) {
	return func(t *testing.T, s repo.Store) {
		stocked(t, s, shop)
		before := holdingsOf(t, s, shop)
		for _, r := range list {
			t.Run(r.name+" is "+string(r.code), func(t *testing.T) {
				err := r.call(s)
				if r.pointer != "" {
					wantFault(t, err, r.pointer)
				}
				wantCode(t, err, r.code)
				same(t, before, holdingsOf(t, s, shop))
			})
		}
	}
}

func partRefusals() []refusal {
	create := func(id string, p part.Part) func(s repo.Store) error {
		return func(s repo.Store) error { _, err := s.CreatePart(background(), shop, id, p, stamp()); return err }
	}
	replace := func(id string, version int64, p part.Part) func(s repo.Store) error {
		return func(s repo.Store) error {
			_, err := s.ReplacePart(background(), shop, id, version, p, stamp())
			return err
		}
	}
	read := func(id string) func(s repo.Store) error {
		return func(s repo.Store) error { _, err := s.Part(background(), shop, id); return err }
	}
	remove := func(id string, version int64) func(s repo.Store) error {
		return func(s repo.Store) error { return s.DeletePart(background(), shop, id, version, stamp()) }
	}
	of := func(series string) part.Part { p := samplePart("HA-9"); p.Series = series; return p }
	return []refusal{
		{"CreatePart with an id that is there", problem.Conflict, "", create("part-1", samplePart("HA-9"))},
		{"CreatePart with a maker and number that are there", problem.Conflict, "", create("part-9", samplePart("HA-1"))},
		{"CreatePart of no series", problem.Invalid, "/series", create("part-9", of("HB"))},
		{"CreatePart of a series in other letters", problem.Invalid, "/series", create("part-9", of("ha"))},
		{"Part of no such id", problem.NotFound, "", read("part-9")},
		{"Part of an id in other letters", problem.NotFound, "", read("PART-1")},
		{"Part of an empty id", problem.NotFound, "", read("")},
		{"Part of an id with NUL", problem.NotFound, "", read("part-1\x00")},
		{"Part of an id that is no UTF-8", problem.NotFound, "", read("part-1\xff")},
		{"Part of an id with a wildcard", problem.NotFound, "", read("part-_")},
		{"ReplacePart of no such id", problem.NotFound, "", replace("part-9", 1, samplePart("HA-9"))},
		{"ReplacePart of version 0", problem.Stale, "", replace("part-1", 0, samplePart("HA-9"))},
		{"ReplacePart of a version to come", problem.Stale, "", replace("part-1", 2, samplePart("HA-9"))},
		{"ReplacePart with another's number", problem.Conflict, "", replace("part-1", 1, samplePart("HA-2"))},
		{"ReplacePart of no series", problem.Invalid, "/series", replace("part-1", 1, of("HB"))},
		{"DeletePart of no such id", problem.NotFound, "", remove("part-9", 1)},
		{"DeletePart of another version", problem.Stale, "", remove("part-1", 2)},
	}
}

func ampRefusals() []refusal {
	return []refusal{
		{"CreateAmp with an id that is there", problem.Conflict, "", func(s repo.Store) error {
			_, err := s.CreateAmp(background(), shop, "amp-1", sampleAmp("B"), stamp())
			return err
		}},
		{"Amp of no such id", problem.NotFound, "", func(s repo.Store) error { _, err := s.Amp(background(), shop, "amp-9"); return err }},
		{"ReplaceAmp of no such id", problem.NotFound, "", func(s repo.Store) error {
			_, err := s.ReplaceAmp(background(), shop, "amp-9", 1, sampleAmp("B"), stamp())
			return err
		}},
		{"ReplaceAmp of another version", problem.Stale, "", func(s repo.Store) error {
			_, err := s.ReplaceAmp(background(), shop, "amp-1", 2, sampleAmp("B"), stamp())
			return err
		}},
		{"DeleteAmp of no such id", problem.NotFound, "", func(s repo.Store) error { return s.DeleteAmp(background(), shop, "amp-9", 1) }},
		{"DeleteAmp of another version", problem.Stale, "", func(s repo.Store) error { return s.DeleteAmp(background(), shop, "amp-1", 2) }},
	}
}

func planRefusals() []refusal {
	save := func(p repo.Plan) func(s repo.Store) error {
		return func(s repo.Store) error { return s.SavePlan(background(), shop, p) }
	}
	return []refusal{
		{"SavePlan with an id that is there", problem.Conflict, "", save(samplePlan("plan-1", ""))},
		{"SavePlan of no such amplifier", problem.NotFound, "", save(samplePlan("plan-9", "amp-9"))},
		{"SavePlan without a document", problem.Invalid, "", save(repo.Plan{ID: "plan-9", Created: noon})},
		{"SavePlan without an id", problem.Invalid, "", save(samplePlan("", ""))},
		{"SavePlan with NUL in a name", problem.Invalid, "/amp_name", save(repo.Plan{ID: "plan-9", AmpName: "\x00", Created: noon, Document: []byte("{}")})},
		{"Plan of no such id", problem.NotFound, "", func(s repo.Store) error { _, err := s.Plan(background(), shop, "plan-9"); return err }},
	}
}

// pageRefusals: every list with limits out of range and cursors not its own.
func pageRefusals() []refusal {
	lists := []struct {
		name string
		call func(s repo.Store, p repo.Page) error
	}{
		{"Parts", func(s repo.Store, p repo.Page) error {
			_, _, err := s.Parts(background(), shop, repo.PartFilter{}, p)
			return err
		}},
		{"Amps", func(s repo.Store, p repo.Page) error { _, _, err := s.Amps(background(), shop, p); return err }},
		{"Plans", func(s repo.Store, p repo.Page) error {
			_, _, err := s.Plans(background(), shop, "amp-1", p)
			return err
		}},
	}
	var all []refusal
	for _, l := range lists {
		for _, limit := range []int{math.MinInt, -1, 0, repo.MaxPage + 1, math.MaxInt} {
			all = append(all, refusal{fmt.Sprintf("%s with a limit of %d", l.name, limit), problem.Invalid, "/limit",
				func(s repo.Store) error { return l.call(s, repo.Page{Limit: limit}) }})
		}
		for _, cursor := range []string{"2", "=", "\x00", "Ω", strings.Repeat("A", 64), strings.Repeat("A", 100_000)} {
			all = append(all, refusal{fmt.Sprintf("%s after %.5q, %d long,", l.name, cursor, len(cursor)), problem.Invalid, "/cursor",
				func(s repo.Store) error { return l.call(s, repo.Page{Limit: 1, After: cursor}) }})
		}
	}
	return all
}

// unstorableParts: values that one engine would keep and another not, each
// created and put in the place of a sound part.
func unstorableParts() []refusal {
	var all []refusal
	for _, bad := range []struct {
		name, pointer string
		change        func(p *part.Part)
	}{
		{"NaN µF", "/capacitance_uf", func(p *part.Part) { p.CapacitanceUF = math.NaN() }},
		{"infinite volts", "/rated_v", func(p *part.Part) { p.RatedV = math.Inf(1) }},
		{"a surge of NaN", "/surge_v", func(p *part.Part) { p.SurgeV = some(math.NaN()) }},
		{"an infinite section", "/further_sections_uf/0", func(p *part.Part) { p.FurtherSectionsUF[0] = math.Inf(-1) }},
		{"NUL in the number", "/part_number", func(p *part.Part) { p.PartNumber = "A\x00B" }},
		{"a maker that is no UTF-8", "/maker", func(p *part.Part) { p.Maker = "\xc3" }},
		{"NUL in an order code", "/offers/1/sku", func(p *part.Part) { p.Offers[1].SKU = "\x00" }},
		{"no maker", "", func(p *part.Part) { p.Maker = "" }},
		{"no number", "", func(p *part.Part) { p.PartNumber = "" }},
		{"an unknown technology", "", func(p *part.Part) { p.Technology = "paper" }},
		{"an unknown style", "", func(p *part.Part) { p.Style = "Axial" }},
		{"an unknown safety class", "", func(p *part.Part) { p.SafetyClass = "X9" }},
		{"0 µF", "", func(p *part.Part) { p.CapacitanceUF = 0 }},
		{"negative volts", "", func(p *part.Part) { p.RatedV = -450 }},
		{"a section of 0 µF", "", func(p *part.Part) { p.FurtherSectionsUF[0] = 0 }},
		{"a negative ripple current", "", func(p *part.Part) { p.RippleMA = some(-1) }},
		{"a length of 0", "", func(p *part.Part) { p.LengthMM = some(0) }},
		{"a negative tolerance", "", func(p *part.Part) { p.TolMinusPct = some(-1) }},
		{"a life of NaN", "/life/rated_h", func(p *part.Part) { p.Life.RatedH = some(math.NaN()) }},
		{"an infinite factor", "/frequency_factors/1/factor", func(p *part.Part) { p.FrequencyFactors[1].Factor = math.Inf(1) }},
		{"a diameter past all bounds", "", func(p *part.Part) { p.DiameterMM = some(1e300) }},
		{"a pack of 0", "", func(p *part.Part) { p.Offers[0].Pack = 0 }},
		{"a negative stock", "", func(p *part.Part) { p.Offers[1].Stock = -1 }},
		{"a negative price", "", func(p *part.Part) { p.Offers[0].Breaks[1].UnitPrice = -1 }},
		{"a break at 0", "", func(p *part.Part) { p.Offers[0].Breaks[0].MinQty = 0 }},
	} {
		p := samplePart("HA-9")
		bad.change(&p)
		all = append(all,
			refusal{"CreatePart with " + bad.name, problem.Invalid, bad.pointer, func(s repo.Store) error {
				_, err := s.CreatePart(background(), shop, "part-9", p, stamp())
				return err
			}},
			refusal{"ReplacePart with " + bad.name, problem.Invalid, bad.pointer, func(s repo.Store) error {
				_, err := s.ReplacePart(background(), shop, "part-1", 1, p, stamp())
				return err
			}})
	}
	return all
}

func unstorableRest() []refusal {
	ctx := background()
	bad := func() amp.Amplifier { a := sampleAmp("A"); a.Supplies[0].Nodes[1].ChokeH = some(math.NaN()); return a }
	return []refusal{
		{"CreatePart without an id", problem.Invalid, "", func(s repo.Store) error {
			_, err := s.CreatePart(ctx, shop, "", samplePart("HA-9"), stamp())
			return err
		}},
		{"CreatePart with NUL in the id", problem.Invalid, "", func(s repo.Store) error {
			_, err := s.CreatePart(ctx, shop, "a\x00", samplePart("HA-9"), stamp())
			return err
		}},
		{"CreateAmp without an id", problem.Invalid, "", func(s repo.Store) error { _, err := s.CreateAmp(ctx, shop, "", sampleAmp("A"), stamp()); return err }},
		{"CreateAmp with NaN", problem.Invalid, "/supplies/0/nodes/1/choke_h", func(s repo.Store) error {
			_, err := s.CreateAmp(ctx, shop, "amp-9", bad(), stamp())
			return err
		}},
		{"ReplaceAmp with NaN", problem.Invalid, "/supplies/0/nodes/1/choke_h", func(s repo.Store) error {
			_, err := s.ReplaceAmp(ctx, shop, "amp-1", 1, bad(), stamp())
			return err
		}},
		{"PutSeries with NaN", problem.Invalid, "/max_c", func(s repo.Store) error {
			return s.PutSeries(ctx, shop, bareSeries("HB", math.NaN()), stamp())
		}},
		{"PutSeries without a name", problem.Invalid, "", func(s repo.Store) error { return s.PutSeries(ctx, shop, bareSeries("", 85), stamp()) }},
		{"Parts from NaN µF", problem.Invalid, "/min_uf", func(s repo.Store) error {
			_, _, err := s.Parts(ctx, shop, repo.PartFilter{MinUF: math.NaN()}, repo.Page{Limit: 1})
			return err
		}},
		{"Parts of a maker with NUL", problem.Invalid, "/maker", func(s repo.Store) error {
			_, _, err := s.Parts(ctx, shop, repo.PartFilter{Maker: "\x00"}, repo.Page{Limit: 1})
			return err
		}},
		{"Candidates up to NaN µF", problem.Invalid, "/max_uf", func(s repo.Store) error {
			_, err := s.Candidates(ctx, shop, repo.CandidateWindow{MaxUF: math.NaN()})
			return err
		}},
	}
}

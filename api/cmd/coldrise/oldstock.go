package main

import (
	"context"
	"encoding/json"
	"flag"
	"io"
	"time"

	"coldrise/api/jobsheet"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// oldStock says what a part from a drawer needs: coldrise oldstock 47u 450V --made 1208.
func (a *app) oldStock(_ context.Context, args []string) (int, error) {
	o, policy, asJSON, err := a.oldStockInput(args)
	if err != nil {
		return 0, err
	}
	advice := derate.JudgeStock(*o, time.Now(), policy)
	if asJSON {
		err = a.printJSON(advice)
	} else {
		_, err = io.WriteString(a.stdout, jobsheet.OldStock(o, &advice))
	}
	if err != nil {
		return 0, problem.Wrap(err, "printing what the part needs")
	}
	if advice.Verdict == derate.StockRefuse {
		return exitIncomplete, nil
	}
	return exitMade, nil
}

// oldStockInput makes the document that the API takes of the command line, so
// that both are checked alike.
func (a *app) oldStockInput(args []string) (*derate.OldStock, derate.Policy, bool, error) {
	policy := derate.Default()
	set := flag.NewFlagSet("oldstock", flag.ContinueOnError)
	made := set.String("made", "", "`CODE` on the body, such as 1208, X5 or 235-6744")
	years := set.Float64("years", 0, "`YEARS` it has lain without voltage, where that is known")
	celsius := set.Float64("store-c", 25, "how warm the store is, °`C`")
	style := set.String("style", "", "axial, radial, snap_in or `can`")
	technology := set.String("technology", "", "electrolytic, or `film`")
	rules := set.String("policy", "", "the `RULES`: a named set or a JSON file; its stock_years counts")
	asJSON := set.Bool("json", false, "print the answer as JSON")
	operands, err := a.flags(set, args, 0, 2)
	if err != nil {
		return nil, policy, false, err
	}
	if len(operands) != 2 {
		return nil, policy, false, usageError{"the capacitance and the rated volts are wanted, such as 47u 450V"}
	}
	o := derate.OldStock{Technology: part.Technology(*technology), Style: part.Style(*style), DateCode: *made, StorageC: celsius}
	set.Visit(func(f *flag.Flag) {
		if f.Name == "years" {
			o.StoredYears = years
		}
	})
	farad, err := quantity.Parse(operands[0], quantity.Farad)
	if err != nil {
		return nil, policy, false, err
	}
	o.CapacitanceUF = farad * 1e6
	if o.RatedV, err = quantity.Parse(operands[1], quantity.Volt); err != nil {
		return nil, policy, false, err
	}
	text, err := json.Marshal(o)
	if err != nil {
		return nil, policy, false, problem.Wrap(err, "writing the part down")
	}
	var faults []error
	checked, err := derate.ParseOldStock(text, time.Now())
	if err != nil {
		faults = append(faults, err)
	}
	if policy, err = a.rules(*rules); err != nil {
		faults = append(faults, err)
	}
	return checked, policy, *asJSON, together(faults)
}

package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"time"

	"coldrise/api"
	"coldrise/api/jobsheet"
	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// planFlags are the flags of coldrise plan.
type planFlags struct {
	db, policy            string
	temporary, json, save bool
}

func (a *app) plan(ctx context.Context, args []string) (int, error) {
	f, file, err := a.planFlags(args)
	if err != nil {
		return 0, err
	}
	amplifier, policy, err := a.planInput(file, f.policy)
	if err != nil {
		return 0, err
	}
	path := f.db
	if f.temporary {
		var remove func()
		if path, remove, err = temporary(); err != nil {
			return 0, err
		}
		defer remove()
	}
	store, err := a.open(ctx, path)
	if err != nil {
		return 0, err
	}
	p, err := a.makePlan(ctx, store, amplifier, policy, f.save)
	if closeErr := store.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return 0, err
	}
	return a.printPlan(p, f.json)
}

func (a *app) planFlags(args []string) (planFlags, string, error) {
	var f planFlags
	set := flag.NewFlagSet("plan", flag.ContinueOnError)
	a.dbFlag(set, &f.db)
	set.BoolVar(&f.temporary, "temporary", false, "use a catalogue in a temporary file, removed at the end")
	set.StringVar(&f.policy, "policy", "", "a JSON `FILE` with what is to differ from the default derating policy")
	set.BoolVar(&f.json, "json", false, "print the plan as JSON")
	set.BoolVar(&f.save, "save", false, "store the amplifier and the plan beside the catalogue")
	operands, err := a.flags(set, args, 1, 1)
	if err != nil {
		return f, "", err
	}
	named := false
	set.Visit(func(g *flag.Flag) { named = named || g.Name == "db" })
	if f.temporary && (named || f.save) {
		return f, "", usageError{"--temporary goes with neither --db nor --save"}
	}
	if operands[0] == "-" && f.policy == "-" {
		return f, "", usageError{"only one of the files can be standard input"}
	}
	return f, operands[0], nil
}

// planInput reads both documents before anything is opened, so that a fault
// in either leaves no file behind. The faults of both are told.
func (a *app) planInput(file, policyFile string) (*amp.Amplifier, derate.Policy, error) {
	policy := derate.Default()
	data, err := a.read(file)
	if err != nil {
		return nil, policy, err
	}
	amplifier, err := amp.ParseOn(data, time.Now())
	if policyFile == "" {
		return amplifier, policy, err
	}
	data, policyErr := a.read(policyFile)
	if policyErr == nil {
		policy, policyErr = derate.ParsePolicy(data)
	}
	if err != nil && policyErr != nil {
		first := problem.As(err)
		return nil, policy, &problem.Error{Code: first.Code, Faults: first.Faults,
			Message: policyErr.Error() + "\n" + first.Message}
	}
	if err == nil {
		err = policyErr
	}
	return amplifier, policy, err
}

// makePlan makes the plan and, where asked, keeps it with its amplifier.
func (a *app) makePlan(ctx context.Context, store repo.Store, amplifier *amp.Amplifier, policy derate.Policy, save bool) (*plan.Plan, error) {
	p, err := api.MakePlan(ctx, store, repo.Bench, amplifier, policy, time.Now(), a.draws())
	if err != nil || !save {
		return p, err
	}
	now := time.Now()
	row, err := store.CreateAmp(ctx, repo.Bench, api.NewID(), *amplifier, repo.Stamp{At: now})
	if err != nil {
		return nil, err
	}
	if _, err := api.KeepPlan(ctx, store, repo.Bench, p, api.NewID(), row.ID, now); err != nil {
		return nil, err
	}
	fmt.Fprintf(a.stderr, "stored: amplifier %s, plan %s\n", row.ID, p.ID)
	return p, nil
}

func (a *app) printPlan(p *plan.Plan, asJSON bool) (int, error) {
	var err error
	if asJSON {
		err = a.printJSON(p)
	} else {
		_, err = io.WriteString(a.stdout, jobsheet.Text(p))
	}
	if err != nil {
		return 0, problem.Wrap(err, "printing the plan")
	}
	if p.Status == plan.Incomplete {
		return exitIncomplete, nil
	}
	return exitMade, nil
}

func (a *app) printJSON(v any) error {
	enc := json.NewEncoder(a.stdout)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

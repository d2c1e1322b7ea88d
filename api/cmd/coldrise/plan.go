package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
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
	db, policy, against   string
	temporary, json, save bool
}

func (a *app) plan(ctx context.Context, args []string) (int, error) {
	f, file, err := a.planFlags(args)
	if err != nil {
		return 0, err
	}
	amplifier, policies, err := a.planInput(file, f.policy, f.against)
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
	code, err := a.planOrCompare(ctx, store, amplifier, policies, &f)
	if closeErr := store.Close(); err == nil {
		err = closeErr
	}
	return code, err
}

// planOrCompare makes and prints what the flags ask for.
func (a *app) planOrCompare(ctx context.Context, store repo.Store, amplifier *amp.Amplifier, policies []derate.Policy, f *planFlags) (int, error) {
	if f.against != "" {
		c, err := api.ComparePolicies(ctx, store, repo.Bench, amplifier, policies[0], policies[1], time.Now(), a.draws())
		if err != nil {
			return 0, err
		}
		return a.printComparison(c, f.json)
	}
	p, err := a.makePlan(ctx, store, amplifier, policies[0], f.save)
	if err != nil {
		return 0, err
	}
	return a.printPlan(p, f.json)
}

func (a *app) printComparison(c *plan.Comparison, asJSON bool) (int, error) {
	var err error
	if asJSON {
		err = a.printJSON(c)
	} else {
		_, err = io.WriteString(a.stdout, jobsheet.Comparison(c))
	}
	if err != nil {
		return 0, problem.Wrap(err, "printing the comparison")
	}
	return exitMade, nil
}

func (a *app) planFlags(args []string) (planFlags, string, error) {
	var f planFlags
	set := flag.NewFlagSet("plan", flag.ContinueOnError)
	a.dbFlag(set, &f.db)
	set.BoolVar(&f.temporary, "temporary", false, "use a catalogue in a temporary file, removed at the end")
	set.StringVar(&f.policy, "policy", "", "the `RULES`: a named set ("+strings.Join(setNames(), ", ")+") or a JSON file with what is to differ from one")
	set.StringVar(&f.against, "against", "", "other `RULES` to compare: print what they change, and no plan")
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
	if f.against != "" && f.save {
		return f, "", usageError{"--against makes no plan that --save could store"}
	}
	if stdins(operands[0], f.policy, f.against) > 1 {
		return f, "", usageError{"only one of the files can be standard input"}
	}
	return f, operands[0], nil
}

func stdins(files ...string) int {
	n := 0
	for _, f := range files {
		if f == "-" {
			n++
		}
	}
	return n
}

func setNames() []string {
	var names []string
	for _, s := range derate.Sets() {
		names = append(names, s.Name)
	}
	return names
}

// planInput reads every document before anything is opened, so that a fault in
// one leaves no file behind. The faults of all are told. It gives the policy,
// and the one to compare it with where there is one.
func (a *app) planInput(file, policy, against string) (*amp.Amplifier, []derate.Policy, error) {
	var faults []error
	data, err := a.read(file)
	if err != nil {
		return nil, nil, err
	}
	amplifier, err := amp.ParseOn(data, time.Now())
	if err != nil {
		faults = append(faults, err)
	}
	var policies []derate.Policy
	for _, rules := range []string{policy, against} {
		p, err := a.rules(rules)
		if err != nil {
			faults = append(faults, err)
		}
		policies = append(policies, p)
	}
	return amplifier, policies, together(faults)
}

// together gives one error of several: the first one's code and faults, and
// every one's words.
func together(list []error) error {
	if len(list) < 2 {
		return errors.Join(list...)
	}
	first := problem.As(list[0])
	text := ""
	for _, err := range list[1:] {
		text += err.Error() + "\n"
	}
	return &problem.Error{Code: first.Code, Faults: first.Faults, Message: text + first.Message}
}

// rules gives the policy a flag names: a named set, or a file's over one. The
// name of a set stands for the set; ./name is a file of that name.
func (a *app) rules(flag string) (derate.Policy, error) {
	if flag == "" {
		return derate.Default(), nil
	}
	if s, ok := derate.SetNamed(flag); ok {
		return s.Policy(), nil
	}
	data, err := a.read(flag)
	if err != nil && problem.CodeOf(err) == problem.NotFound {
		return derate.Policy{}, problem.New(problem.NotFound, "%s; and it is no named set of rules (%s)", err.Error(), strings.Join(setNames(), ", "))
	}
	if err != nil {
		return derate.Policy{}, err
	}
	return derate.ParsePolicy(data)
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

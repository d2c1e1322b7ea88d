package main

import (
	"context"
	"flag"

	"coldrise/api"
	"coldrise/domain/problem"
	"coldrise/domain/supply"
)

func (a *app) circuit(ctx context.Context, args []string) (int, error) {
	operands, err := a.flags(flag.NewFlagSet("circuit", flag.ContinueOnError), args, 1, 1)
	if err != nil {
		return 0, err
	}
	data, err := a.read(operands[0])
	if err != nil {
		return 0, err
	}
	c, err := supply.ParseCircuit(data)
	if err != nil {
		return 0, err
	}
	result, err := supply.Simulate(ctx, c, supply.Settings{})
	if err != nil {
		return 0, err
	}
	if err := a.printJSON(result); err != nil {
		return 0, problem.Wrap(err, "printing the result")
	}
	return exitMade, nil
}

func (a *app) openapi(_ context.Context, args []string) (int, error) {
	if _, err := a.flags(flag.NewFlagSet("openapi", flag.ContinueOnError), args, 0, 0); err != nil {
		return 0, err
	}
	spec, err := api.OpenAPI()
	if err != nil {
		return 0, problem.Wrap(err, "describing the interface")
	}
	if _, err := a.stdout.Write(spec); err != nil {
		return 0, problem.Wrap(err, "printing the description")
	}
	return exitMade, nil
}

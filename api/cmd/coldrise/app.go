package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"runtime/debug"
	"strings"

	"coldrise/domain/plan"
	"coldrise/domain/problem"
)

// The exit codes.
const (
	exitMade       = 0 // done; a plan with a part for every position that wants one
	exitIncomplete = 1 // a plan, and some position has no part
	exitBadInput   = 2 // a fault of the file, the policy or the command line
	exitInternal   = 3 // a fault of coldrise, of the disk or of the database
)

// app is one run of the command. Tests make their own.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	samples        int                      // draws that a plan's bands rest on; default plan.DefaultSamples
	env            func(name string) string // of the process; nil is an empty one
}

func (a *app) getenv(name string) string {
	if a.env == nil {
		return ""
	}
	return a.env(name)
}

func (a *app) draws() int {
	if a.samples > 0 {
		return a.samples
	}
	return plan.DefaultSamples
}

// command is one of coldrise's subcommands.
type command struct {
	name, args, summary string
	run                 func(a *app, ctx context.Context, args []string) (int, error)
}

func commands() []command {
	return []command{
		{"plan", "FILE.json [flags]", "make the plan of the amplifier in FILE.json (- reads standard input)", (*app).plan},
		{"oldstock", "VALUE VOLTS [flags]", "say what a part from a drawer needs, such as 47u 450V --made 1208", (*app).oldStock},
		{"serve", "[flags]", "answer REST requests", (*app).serve},
		{"circuit", "FILE.json", "simulate one exact circuit and print what was found, as JSON", (*app).circuit},
		{"openapi", "", "print the OpenAPI 3.1 description of the REST interface", (*app).openapi},
		{"version", "", "print the version", (*app).version},
	}
}

// usageError is a fault of the command line.
type usageError struct{ text string }

func (e usageError) Error() string { return e.text }

// run runs one command line and gives the exit code.
func (a *app) run(ctx context.Context, args []string) int {
	if len(args) == 0 {
		a.help(a.stderr)
		return exitBadInput
	}
	switch args[0] {
	case "help", "-h", "-help", "--help":
		a.help(a.stdout)
		return exitMade
	}
	for _, c := range commands() {
		if c.name == args[0] {
			code, err := c.run(a, ctx, args[1:])
			if err != nil {
				return a.report(c, err)
			}
			return code
		}
	}
	fmt.Fprintf(a.stderr, "coldrise: there is no command %q; coldrise help lists them\n", args[0])
	return exitBadInput
}

// report writes an error and gives its exit code. The cause of an internal
// error goes to the operator, who is the one at the terminal.
func (a *app) report(c command, err error) int {
	var usage usageError
	switch {
	case errors.Is(err, flag.ErrHelp):
		return exitMade
	case errors.As(err, &usage):
		fmt.Fprintf(a.stderr, "coldrise %s: %s\nusage: coldrise %s %s\n", c.name, usage.text, c.name, c.args)
		return exitBadInput
	}
	e := problem.As(err)
	fmt.Fprintf(a.stderr, "coldrise %s: %s\n", c.name, e.Error())
	switch e.Code {
	case problem.Malformed, problem.Invalid, problem.NotFound, problem.TooLarge, problem.Conflict:
		return exitBadInput
	}
	if e.Cause != nil {
		fmt.Fprintf(a.stderr, "  cause: %v\n", e.Cause)
	}
	return exitInternal
}

func (a *app) help(w io.Writer) {
	fmt.Fprint(w, `coldrise plans the recap of a valve amplifier: what each capacitor must
withstand on a cold start at high line, what to fit, and what to order.

The supplies it speaks of kill, charged or not, plugged in or not. Read the
cautions of a plan before you open the amplifier.

`)
	for _, c := range commands() {
		fmt.Fprintf(w, "  coldrise %-24s %s\n", strings.TrimSpace(c.name+" "+c.args), c.summary)
	}
	fmt.Fprint(w, `
coldrise COMMAND -h lists a command's flags.

Exit codes: 0 plan made; 1 plan made, some position has no part, or a drawer
part refused; 2 bad input, nothing stored; 3 internal.
`)
}

// flags reads flags and operands in any order: coldrise plan FILE --json is
// what people type. It wants between least and most operands.
func (a *app) flags(set *flag.FlagSet, args []string, least, most int) ([]string, error) {
	set.SetOutput(io.Discard)
	var operands []string
	for {
		if err := set.Parse(args); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				a.flagHelp(set)
				return nil, flag.ErrHelp
			}
			return nil, usageError{err.Error()}
		}
		if set.NArg() == 0 {
			break
		}
		operands, args = append(operands, set.Arg(0)), set.Args()[1:]
	}
	if len(operands) < least {
		return nil, usageError{"a file is missing"}
	}
	if len(operands) > most {
		return nil, usageError{fmt.Sprintf("%q is one operand too many", operands[most])}
	}
	return operands, nil
}

func (a *app) flagHelp(set *flag.FlagSet) {
	for _, c := range commands() {
		if c.name == set.Name() {
			fmt.Fprintf(a.stdout, "coldrise %s: %s\n", strings.TrimSpace(c.name+" "+c.args), c.summary)
		}
	}
	set.VisitAll(func(f *flag.Flag) {
		kind, text := flag.UnquoteUsage(f)
		fmt.Fprintf(a.stdout, "  --%-22s %s\n", strings.TrimSpace(f.Name+" "+kind), text)
	})
}

func (a *app) version(_ context.Context, args []string) (int, error) {
	if _, err := a.flags(flag.NewFlagSet("version", flag.ContinueOnError), args, 0, 0); err != nil {
		return 0, err
	}
	fmt.Fprintln(a.stdout, "coldrise", buildVersion())
	return exitMade, nil
}

func buildVersion() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown build)"
	}
	text := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && text == "(devel)" {
			text += " " + s.Value
		}
	}
	return text + " " + info.GoVersion
}

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coldrise/api"
	"coldrise/domain/plan"
	"coldrise/repo/postgres/pgtest"
)

// fewSamples keeps the plans of tests short; their bands are another package's test.
const fewSamples = 8

// TestMain lets a test start this binary as the command itself.
func TestMain(m *testing.M) {
	if os.Getenv("COLDRISE_RUN_MAIN") == "1" {
		main()
		return
	}
	os.Exit(pgtest.Run(m))
}

// ran is one run of the command.
type ran struct {
	code           int
	stdout, stderr string
}

func run(t *testing.T, stdin string, args ...string) ran {
	t.Helper()
	var out, diag bytes.Buffer
	a := app{stdin: strings.NewReader(stdin), stdout: &out, stderr: &diag, samples: fewSamples}
	code := a.run(t.Context(), args)
	return ran{code, out.String(), diag.String()}
}

// ampJSON is an amplifier of our own whose reservoir is not right.
const ampJSON = `{"name": "Bench test 5", "mains": {"nominal_v": 230, "frequency_hz": 50}, "supplies": [{"name": "HT",
 "winding": {"connection": "centre_tapped", "unloaded_v": 270, "secondary_ohm": 150, "primary_ohm": 20},
 "rectifier": {"type": "EZ81"},
 "nodes": [{"name": "A", "schematic_v": 285, "loads": [{"tube": "EL84", "idle_ma": 48}]}]}],
 "positions": [{"ref": "C1", "role": "reservoir", "node": "HT/A", "fitted": {"capacitance_uf": 47, "rated_v": 350}}]}`

// noRoom is the same with no room for any part.
var noRoom = strings.Replace(ampJSON, `"rated_v": 350}`, `"rated_v": 350}, "body": {"max_diameter_mm": 2}`, 1)

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestPlanExitCodesAndStreams(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, amp, policy string
		flags             []string
		code              int
		stdout, stderr    string // what each must contain; "" means empty
	}{
		{"made", ampJSON, "", nil, exitMade, "Bench test 5", "loaded the starter catalogue"},
		{"as JSON", ampJSON, "", []string{"--json"}, exitMade, `"status": "made"`, "catalogue: "},
		{"no part fits", noRoom, "", nil, exitIncomplete, "Bench test 5", "catalogue: "},
		{"malformed", "{", "", nil, exitBadInput, "", "line 1"},
		{"faults, all of them", strings.NewReplacer("230", "-1", "HT/A", "HT/Q").Replace(ampJSON), "", nil, exitBadInput, "", "/positions/0/node"},
		{"faults, the first of them", strings.NewReplacer("230", "-1", "HT/A", "HT/Q").Replace(ampJSON), "", nil, exitBadInput, "", "/mains/nominal_v"},
		{"policy", ampJSON, `{"working_share": 2}`, nil, exitBadInput, "", "/working_share"},
		{"faults in both, the policy's", `{"name": 1}`, `{"spare": -1}`, nil, exitBadInput, "", "/spare"},
		{"faults in both, the amplifier's", `{"name": 1}`, `{"spare": -1}`, nil, exitBadInput, "", "/name"},
		{"too large", ampJSON + strings.Repeat(" ", maxFile), "", nil, exitBadInput, "", "1048576"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			db := filepath.Join(t.TempDir(), "shop.db")
			args := append([]string{"plan", write(t, "amp.json", tt.amp), "--db", db}, tt.flags...)
			if tt.policy != "" {
				args = append(args, "--policy", write(t, "policy.json", tt.policy))
			}
			got := run(t, "", args...)
			if got.code != tt.code {
				t.Fatalf("exit code %d, want %d\n%s", got.code, tt.code, got.stderr)
			}
			for _, s := range []struct{ name, text, want string }{{"stdout", got.stdout, tt.stdout}, {"stderr", got.stderr, tt.stderr}} {
				if !strings.Contains(s.text, s.want) || (s.want == "" && s.text != "") {
					t.Errorf("%s is %.400q, want %q in it", s.name, s.text, s.want)
				}
			}
			if _, err := os.Stat(db); (err == nil) != (tt.code <= exitIncomplete) {
				t.Errorf("exit code %d, and the database: %v", tt.code, err)
			}
		})
	}
}

func TestPlanReadsStandardInputAndLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	t.Chdir(dir)
	got := run(t, ampJSON, "plan", "-", "--temporary", "--json")
	if got.code != exitMade {
		t.Fatalf("exit code %d\n%s", got.code, got.stderr)
	}
	var p plan.Plan
	if err := json.Unmarshal([]byte(got.stdout), &p); err != nil {
		t.Fatal(err)
	}
	if p.Amplifier != "Bench test 5" || len(p.Cautions) == 0 || p.ID != "" {
		t.Errorf("plan of %q with %d cautions and the id %q", p.Amplifier, len(p.Cautions), p.ID)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestPlanNamesItsDefaultFileAndFindsItAgain(t *testing.T) {
	t.Chdir(t.TempDir())
	first := run(t, ampJSON, "plan", "-")
	if first.code != exitMade || !strings.Contains(first.stderr, "catalogue: coldrise.db\n") {
		t.Fatalf("exit code %d\n%s", first.code, first.stderr)
	}
	second := run(t, ampJSON, "plan", "-", "--save")
	if second.code != exitMade || strings.Contains(second.stderr, "loaded") || !strings.Contains(second.stderr, "stored: amplifier ") {
		t.Errorf("exit code %d\n%s", second.code, second.stderr)
	}
	if first.stdout != second.stdout {
		t.Errorf("the second run printed another plan: %.200q", second.stdout)
	}
}

func TestUsage(t *testing.T) {
	t.Parallel()
	amp := write(t, "amp.json", ampJSON)
	tests := []struct {
		name   string
		args   []string
		code   int
		stderr string
	}{
		{"nothing", nil, exitBadInput, "coldrise plan FILE.json"},
		{"unknown command", []string{"brew"}, exitBadInput, `no command "brew"`},
		{"help", []string{"help"}, exitMade, ""},
		{"--help", []string{"--help"}, exitMade, ""},
		{"help of a command", []string{"plan", "-h"}, exitMade, ""},
		{"plan without a file", []string{"plan"}, exitBadInput, "a file is missing"},
		{"plan with two files", []string{"plan", amp, amp}, exitBadInput, "one operand too many"},
		{"plan with an unknown flag", []string{"plan", amp, "--colour"}, exitBadInput, "colour"},
		{"plan of no file", []string{"plan", "nothing.json"}, exitBadInput, "there is no file nothing.json"},
		{"plan of a directory", []string{"plan", t.TempDir()}, exitBadInput, "cannot be read"},
		{"temporary and named", []string{"plan", amp, "--temporary", "--db", "x.db"}, exitBadInput, "--temporary"},
		{"temporary and saved", []string{"plan", "--save", "--temporary", amp}, exitBadInput, "--temporary"},
		{"both from standard input", []string{"plan", "-", "--policy", "-"}, exitBadInput, "standard input"},
		{"no policy", []string{"plan", amp, "--policy", "nothing.json"}, exitBadInput, "there is no file nothing.json; and it is no named set of rules (everyday, roadworthy"},
		{"a comparison stored", []string{"plan", amp, "--against", "thrifty", "--save"}, exitBadInput, "--save"},
		{"two policies from standard input", []string{"plan", amp, "--policy", "-", "--against", "-"}, exitBadInput, "standard input"},
		{"circuit without a file", []string{"circuit"}, exitBadInput, "a file is missing"},
		{"circuit that is none", []string{"circuit", amp}, exitBadInput, "/rectifier"},
		{"openapi with a file", []string{"openapi", amp}, exitBadInput, "one operand too many"},
		{"version with a flag", []string{"version", "--x"}, exitBadInput, "x"},
		{"serve to everybody", []string{"serve", "--listen", "0.0.0.0:0"}, exitBadInput, "--behind-authenticating-proxy"},
		{"serve with a bad host", []string{"serve", "--host", "http://x"}, exitBadInput, "a bare name"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := run(t, "", tt.args...)
			if got.code != tt.code || !strings.Contains(got.stderr, tt.stderr) {
				t.Errorf("exit code %d, want %d; stderr %q, want %q in it", got.code, tt.code, got.stderr, tt.stderr)
			}
			if tt.code == exitMade && (got.stdout == "" || got.stderr != "") {
				t.Errorf("help belongs on stdout: %q, %q", got.stdout, got.stderr)
			}
			if tt.code != exitMade && got.stdout != "" {
				t.Errorf("stdout is %q", got.stdout)
			}
		})
	}
}

func TestDatabaseThatIsNone(t *testing.T) {
	t.Parallel()
	text := strings.Repeat("this is no database. ", 500)
	db := write(t, "broken.db", text)
	got := run(t, "", "plan", write(t, "amp.json", ampJSON), "--db", db)
	if got.code != exitBadInput || got.stdout != "" || !strings.Contains(got.stderr, "broken.db") {
		t.Errorf("exit code %d, stdout %q, stderr %q", got.code, got.stdout, got.stderr)
	}
	if now, err := os.ReadFile(db); err != nil || string(now) != text {
		t.Error("the file was touched")
	}
}

// full is a disk with no room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

// What is not the input's fault ends with 3, and the operator reads the cause.
func TestInternalExitCode(t *testing.T) {
	t.Parallel()
	for _, flags := range [][]string{nil, {"--json"}} {
		var diag bytes.Buffer
		a := app{stdin: strings.NewReader(ampJSON), stdout: full{}, stderr: &diag}
		code := a.run(t.Context(), append([]string{"plan", "-", "--db", filepath.Join(t.TempDir(), "x.db")}, flags...))
		if code != exitInternal || !strings.Contains(diag.String(), "no space left") {
			t.Errorf("%v: exit code %d, stderr %q", flags, code, diag.String())
		}
	}
}

func TestCancelledPlanIsNotAnInputFault(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var out, diag bytes.Buffer
	a := app{stdin: strings.NewReader(ampJSON), stdout: &out, stderr: &diag, samples: fewSamples}
	if code := a.run(ctx, []string{"plan", "-", "--db", filepath.Join(t.TempDir(), "x.db")}); code != exitInternal || out.Len() > 0 {
		t.Errorf("exit code %d, stdout %q", code, out.String())
	}
}

func TestOpenAPICommandPrintsTheServedDescription(t *testing.T) {
	t.Parallel()
	want, err := api.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	if got := run(t, "", "openapi"); got.code != exitMade || got.stdout != string(want) {
		t.Errorf("exit code %d, %d bytes, want %d", got.code, len(got.stdout), len(want))
	}
	if got := run(t, "", "version"); !strings.HasPrefix(got.stdout, "coldrise ") {
		t.Errorf("version: %q", got.stdout)
	}
}

// A named set or a file with changes to one, for the plan and for what it is
// compared with.
func TestPlanTakesNamedSetsAndComparesThem(t *testing.T) {
	t.Parallel()
	file := write(t, "amp.json", ampJSON)
	own := write(t, "own.json", `{"from": "thrifty", "name": "Oxbow's own", "life_years": 3}`)
	for _, tt := range []struct {
		name  string
		flags []string
		want  []string
	}{
		{"a set", []string{"--policy", "roadworthy"}, []string{"Policy: roadworthy"}},
		{"a file over a set", []string{"--policy", own}, []string{"Policy: Oxbow's own"}},
		{"compared", []string{"--against", own}, []string{"everyday against Oxbow's own", "use surge", "false against true", "C1 reservoir"}},
		{"compared as JSON", []string{"--policy", "keepsake", "--against", "thrifty", "--json"}, []string{`"changed":`, `"member": "use_surge"`}},
	} {
		got := run(t, "", append([]string{"plan", file, "--temporary"}, tt.flags...)...)
		if got.code > exitIncomplete {
			t.Fatalf("%s: exit code %d, %s", tt.name, got.code, got.stderr)
		}
		for _, w := range tt.want {
			if !strings.Contains(got.stdout, w) {
				t.Errorf("%s: no %q in\n%s", tt.name, w, got.stdout)
			}
		}
	}
}

package pick_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Mid-size instances that both solvers take each time, and with COLDRISE_LONG set.
const (
	solverInstances     = 36
	solverInstancesLong = 300
)

// solver is an integer programming program of Debian's.
type solver struct {
	tool, apt string
	args      func(lp, out string) []string
	read      func(p *program, out string) (map[string]int, error)
}

// Both are told to close the gap to 0. glpsol 5.0 (GLPK) and cbc 2.10 (COIN-OR).
var solvers = []solver{
	{"glpsol", "glpk-utils", func(lp, out string) []string {
		return []string{"--lp", lp, "--mipgap", "0", "--cuts", "--tmlim", "120", "-w", out}
	}, readGLPK},
	{"cbc", "coinor-cbc", func(lp, out string) []string {
		return []string{lp, "-ratioGap", "0", "-allowableGap", "0", "-sec", "120", "solve", "solution", out}
	}, readCBC},
}

// TestOracleSolvers has glpsol and cbc solve mid-size instances, prices their
// rounded answers in whole numbers, and expects the same total to the micro-unit.
func TestOracleSolvers(t *testing.T) {
	t.Parallel()
	count := solverInstances
	if os.Getenv("COLDRISE_LONG") != "" {
		count = solverInstancesLong
	}
	for _, s := range solvers {
		t.Run(s.tool, func(t *testing.T) {
			t.Parallel()
			s.need(t)
			var ours, theirs time.Duration
			short, nodes := 0, 0
			for seed := range uint64(count) {
				in := midInstance(seed)
				start := time.Now()
				got := in.solve(t)
				ours += time.Since(start)
				nodes += got.Nodes
				in.audit(t, got)
				if !got.Proven {
					t.Errorf("seed %d: not proven in %d nodes", seed, got.Nodes)
				}
				start = time.Now()
				p := newProgram(in, len(got.Short))
				want := p.order(s.solve(t, p))
				theirs += time.Since(start)
				in.audit(t, want)
				if got.Total != want.Total {
					t.Errorf("seed %d: total %v, by %s %v", seed, got.Total, s.tool, want.Total)
				}
				if len(got.Short) > 0 {
					short++
					fewest := newProgram(in, -1)
					if least := len(fewest.order(s.solve(t, fewest)).Short); least != len(got.Short) {
						t.Errorf("seed %d: %d unfilled, by %s %d", seed, len(got.Short), s.tool, least)
					}
				}
			}
			t.Logf("%d instances, %d with a need unfilled: %d nodes in %v here, %s %v", count, short, nodes,
				ours.Round(time.Millisecond), s.tool, theirs.Round(time.Millisecond))
		})
	}
}

// midInstance has 8 to 16 needs of 6 to 12 options; in every sixth, stock is
// cut until it tells.
func midInstance(seed uint64) instance {
	in := shopInstance(1000+seed, 8+int(seed%9), 6+int(seed%7))
	if seed%6 == 5 {
		for p := range in.parts {
			for k := range in.parts[p].Offers {
				in.parts[p].Offers[k].Stock = (p + 2*k + int(seed)) % 4 / 2
			}
		}
	}
	return in
}

// need ends the test where the solver is not installed; in CI it must be.
func (s solver) need(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath(s.tool); err == nil {
		return
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed: apt-get install %s", s.tool, s.apt)
	}
	t.Skipf("%s is not installed: apt-get install %s", s.tool, s.apt)
}

// solve gives the rounded value of each column of a program.
func (s solver) solve(t *testing.T, p *program) map[string]int {
	t.Helper()
	dir := t.TempDir()
	lp, out := filepath.Join(dir, "order.lp"), filepath.Join(dir, "order.out")
	if err := os.WriteFile(lp, []byte(p.text()), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
	defer cancel()
	said, err := exec.CommandContext(ctx, s.tool, s.args(lp, out)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", s.tool, err, said)
	}
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatalf("%s wrote no answer: %v\n%s", s.tool, err, said)
	}
	value, err := s.read(p, string(text))
	if err != nil {
		t.Fatalf("%s: %v\n%s\n%s", s.tool, err, said, text)
	}
	return value
}

// readGLPK reads "s mip rows cols o objective" and "j column value".
func readGLPK(p *program, text string) (map[string]int, error) {
	value := map[string]int{}
	optimal := false
	for line := range strings.Lines(text) {
		f := strings.Fields(line)
		switch {
		case len(f) == 6 && f[0] == "s":
			optimal = f[1] == "mip" && f[4] == "o"
			if f[3] != strconv.Itoa(len(p.columns)) {
				return nil, fmt.Errorf("%s columns, want %d", f[3], len(p.columns))
			}
		case len(f) == 3 && f[0] == "j":
			column, err := strconv.Atoi(f[1])
			if err != nil {
				return nil, err
			}
			if value[p.columns[column-1]], err = whole(f[2]); err != nil {
				return nil, err
			}
		}
	}
	if !optimal {
		return nil, fmt.Errorf("no proven optimum")
	}
	return value, nil
}

// readCBC reads "Optimal - objective value v" and "index name value cost".
func readCBC(_ *program, text string) (map[string]int, error) {
	head, rest, _ := strings.Cut(text, "\n")
	if !strings.HasPrefix(head, "Optimal - ") {
		return nil, fmt.Errorf("no proven optimum: %s", head)
	}
	value := map[string]int{}
	for line := range strings.Lines(rest) {
		f := strings.Fields(line)
		if len(f) != 4 {
			return nil, fmt.Errorf("cannot read %q", line)
		}
		var err error
		if value[f[1]], err = whole(f[2]); err != nil {
			return nil, err
		}
	}
	return value, nil
}

// whole rounds a solver's value; both hold integers to 1e-5 or better.
func whole(s string) (int, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.Abs(v-math.Round(v)) > 1e-5 {
		return 0, fmt.Errorf("%q is no whole number", s)
	}
	return int(math.Round(v)), nil
}

package sqlite

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	sqldriver "database/sql/driver"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"testing/fstest"
	"time"

	driver "modernc.org/sqlite"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/migrations"
	"coldrise/repo"
)

// The tests here need processes, for the locks of SQLite belong to processes:
// the test binary starts itself again in one of these roles.
const (
	roleVar = "COLDRISE_TEST_ROLE"
	pathVar = "COLDRISE_TEST_PATH"
	stepVar = "COLDRISE_TEST_STEP"
)

func TestMain(m *testing.M) {
	switch os.Getenv(roleVar) {
	case "":
		os.Exit(m.Run())
	case "load":
		os.Exit(loadOnSignal(os.Getenv(pathVar)))
	case "die":
		os.Exit(dieMigrating(os.Getenv(pathVar), os.Getenv(stepVar)))
	}
	os.Exit(99)
}

// itself is a command that runs this binary in a role.
func itself(t *testing.T, role, path, step string) *exec.Cmd {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), os.Args[0])
	cmd.Env = append(os.Environ(), roleVar+"="+role, pathVar+"="+path, stepVar+"="+step)
	return cmd
}

// loadOnSignal opens the store once its standard input ends, loads a
// catalogue, and says whether it was this process that did.
func loadOnSignal(path string) int {
	fmt.Println("waiting")
	io.Copy(io.Discard, os.Stdin) //nolint:errcheck // Its end is the signal.
	s, err := Open(context.Background(), path)
	if err != nil {
		fmt.Println(err, problem.As(err).Cause)
		return 1
	}
	defer s.Close()
	var ids []string
	var parts []part.Part
	for i := range 50 {
		ids = append(ids, fmt.Sprint("part ", i))
		parts = append(parts, part.Part{Maker: "Sedgemere", PartNumber: fmt.Sprint(i), Series: "HA", Technology: part.Electrolytic, Style: part.Axial,
			CapacitanceUF: 22, RatedV: 450})
	}
	did, err := s.LoadCatalogue(context.Background(), repo.Bench, []part.Series{{Name: "HA"}}, ids, parts, repo.Stamp{At: time.Unix(0, 0)})
	if err != nil {
		fmt.Println(err, problem.As(err).Cause)
		return 1
	}
	fmt.Println("loaded", did)
	return 0
}

func TestProcessesStartingAtOnce(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	const n = 5
	var signals []io.Closer
	var outputs []*bufio.Reader
	var cmds []*exec.Cmd
	for range n {
		cmd := itself(t, "load", path, "")
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		signals, outputs, cmds = append(signals, in), append(outputs, bufio.NewReader(out)), append(cmds, cmd)
	}
	for _, out := range outputs {
		if line, err := out.ReadString('\n'); line != "waiting\n" {
			t.Fatalf("%q, %v", line, err)
		}
	}
	for _, s := range signals {
		s.Close()
	}
	loads := 0
	for i, cmd := range cmds {
		text, _ := io.ReadAll(outputs[i])
		if err := cmd.Wait(); err != nil {
			t.Errorf("process %d: %v: %s", i, err, text)
		}
		if strings.Contains(string(text), "loaded true") {
			loads++
		}
	}
	if loads != 1 {
		t.Errorf("%d processes loaded the catalogue, want one", loads)
	}
	parts, err := opened(t, path).Candidates(context.Background(), repo.Bench, repo.CandidateWindow{})
	if err != nil || len(parts) != 50 {
		t.Errorf("%d parts, %v; want 50", len(parts), err)
	}
}

// dieMigrating opens the store with a migration that kills the process after
// some of its statements: without warning, as the kernel or a power cut would.
func dieMigrating(path, step string) int {
	driver.MustRegisterScalarFunction("die", 0, func(*driver.FunctionContext, []sqldriver.Value) (sqldriver.Value, error) {
		return nil, syscall.Kill(os.Getpid(), syscall.SIGKILL)
	})
	n, err := strconv.Atoi(step)
	if err != nil {
		return 2
	}
	s, err := open(context.Background(), path, fatalAfter(n))
	fmt.Println("survived", s != nil, err, problem.As(err).Cause)
	return 1
}

// statements cuts an SQL file at the ends of its statements.
func statements(text string) []string {
	var all []string
	var one strings.Builder
	for line := range strings.Lines(text) {
		one.WriteString(line)
		if end := strings.TrimSpace(line); strings.HasSuffix(end, ";") && !strings.HasPrefix(end, "--") {
			all = append(all, one.String())
			one.Reset()
		}
	}
	return all
}

// fatalAfter is the released migrations with death behind the n-th statement
// of the last; not in memory, where the schema is only tried.
func fatalAfter(n int) fstest.MapFS {
	files := released(nil)
	steps, _ := migrations.Steps(migrations.Files, migrations.SQLite)
	last := steps[len(steps)-1]
	parts := statements(last.Up)
	parts[n] += "SELECT die() FROM pragma_database_list WHERE name = 'main' AND file <> '';\n"
	name := fmt.Sprintf("sqlite/%04d_%s.up.sql", last.Version, last.Name)
	files[name] = &fstest.MapFile{Data: []byte(strings.Join(parts, ""))}
	return files
}

// released is the released migrations as a file system, with more of them.
func released(more map[string]string) fstest.MapFS {
	files := fstest.MapFS{}
	steps, _ := migrations.Steps(migrations.Files, migrations.SQLite)
	for _, s := range steps {
		files[fmt.Sprintf("sqlite/%04d_%s.up.sql", s.Version, s.Name)] = &fstest.MapFile{Data: []byte(s.Up)}
		files[fmt.Sprintf("sqlite/%04d_%s.down.sql", s.Version, s.Name)] = &fstest.MapFile{Data: []byte(s.Down)}
	}
	for name, text := range more {
		files["sqlite/"+name] = &fstest.MapFile{Data: []byte(text)}
	}
	return files
}

func TestKilledMigrationIsFinishedByTheNextStart(t *testing.T) {
	t.Parallel()
	steps, err := migrations.Steps(migrations.Files, migrations.SQLite)
	if err != nil {
		t.Fatal(err)
	}
	n := len(statements(steps[len(steps)-1].Up))
	if n < 5 {
		t.Fatalf("the last migration was cut into %d statements", n)
	}
	for i := range n {
		path := filepath.Join(t.TempDir(), "bench.db")
		out, err := itself(t, "die", path, strconv.Itoa(i)).CombinedOutput()
		state, ok := err.(*exec.ExitError)
		if !ok || !state.Sys().(syscall.WaitStatus).Signaled() || bytes.Contains(out, []byte("survived")) {
			t.Fatalf("after statement %d the process was to be killed: %v: %s", i, err, out)
		}
		if version, dirty := recorded(t, path); version > uint(len(steps)-1) || dirty {
			t.Errorf("after statement %d: version %d, dirty %t", i, version, dirty)
		}
		s := opened(t, path)
		if err := s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: "p", Document: []byte("{}")}); err != nil {
			t.Errorf("after statement %d: %v", i, err)
		}
	}
}

// recorded reads the version a file says it has.
func recorded(t *testing.T, path string) (uint, bool) {
	t.Helper()
	s, err := look(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	return s.version, s.dirty
}

// tamper runs SQL on a file, as some other tool would.
func tamper(t *testing.T, path, text string) {
	t.Helper()
	db, err := sql.Open(driverName, dsn(path, writerPragmas))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(text); err != nil {
		t.Fatal(err)
	}
}

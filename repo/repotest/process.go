package repotest

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/migrations"
	"coldrise/repo"
)

// The locks of a database belong to processes. So an engine's test binary
// starts itself again, with the role it is to play in the environment.
const roleVar = "COLDRISE_TEST_ROLE"

// Role gives the role this process was started in, and its words; "" in the
// process that go test started.
func Role() (role string, words []string) {
	role, rest, _ := strings.Cut(os.Getenv(roleVar), "\n")
	return role, strings.Split(rest, "\n")
}

// Itself is a command that runs this test binary in a role. It ends with the
// test at the latest.
func Itself(t *testing.T, role string, words ...string) *exec.Cmd {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), os.Args[0])
	cmd.Env = append(os.Environ(), roleVar+"="+role+"\n"+strings.Join(words, "\n"))
	return cmd
}

// loadedParts is how many parts LoadOnSignal loads.
const loadedParts = 50

// LoadOnSignal is a role: it opens a store once its standard input ends, loads
// a catalogue, and says whether it was this process that did. It gives the
// process's exit code.
func LoadOnSignal(open func() (repo.Store, error)) int {
	fmt.Println("waiting")
	io.Copy(io.Discard, os.Stdin) //nolint:errcheck // Its end is the signal.
	s, err := open()
	if err != nil {
		fmt.Println(err, problem.As(err).Cause)
		return 1
	}
	defer s.Close()
	var ids []string
	var parts []part.Part
	for i := range loadedParts {
		ids = append(ids, fmt.Sprint("part ", i))
		parts = append(parts, plainPart("Sedgemere", fmt.Sprint(i), 22, 450))
	}
	did, err := s.LoadCatalogue(context.Background(), shop, []part.Series{{Name: "HA"}}, ids, parts, repo.Stamp{At: time.Unix(0, 0)})
	if err != nil {
		fmt.Println(err, problem.As(err).Cause)
		return 1
	}
	fmt.Println("loaded", did)
	return 0
}

// StartTogether starts n processes in a role that is LoadOnSignal, lets go of
// them at once, and checks that every one opened the store and one of them
// loaded the catalogue.
func StartTogether(t *testing.T, n int, start func() *exec.Cmd, open func() repo.Store) {
	t.Helper()
	var signals []io.Closer
	var outputs []*bufio.Reader
	var cmds []*exec.Cmd
	for range n {
		cmd := start()
		in, err := cmd.StdinPipe()
		must(t, err)
		out, err := cmd.StdoutPipe()
		must(t, err)
		must(t, cmd.Start())
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
	same(t, 1, loads)
	same(t, loadedParts, len(sure(open().Candidates(background(), shop, repo.CandidateWindow{}))(t)))
}

// Released is the migrations of a folder as a file system that a test may
// change, with more of them.
func Released(folder string, more map[string]string) fstest.MapFS {
	files := fstest.MapFS{}
	names, _ := fs.Glob(migrations.Files, folder+"/*.sql")
	for _, name := range names {
		text, _ := fs.ReadFile(migrations.Files, name) // It is embedded.
		files[name] = &fstest.MapFile{Data: text}
	}
	for name, text := range more {
		files[folder+"/"+name] = &fstest.MapFile{Data: []byte(text)}
	}
	return files
}

// Interrupted is the released migrations with a statement put in behind their
// n-th, counted from the first file on, and how many statements they have:
// none where they cannot be read.
func Interrupted(folder string, n int, statement string) (files fstest.MapFS, statements int) {
	files = Released(folder, nil)
	steps, err := migrations.Steps(files, folder)
	if err != nil {
		return files, 0
	}
	for _, s := range steps {
		parts := cut(s.Up)
		if at := n - statements; at >= 0 && at < len(parts) {
			parts[at] += statement + "\n"
			files[fmt.Sprintf("%s/%04d_%s.up.sql", folder, s.Version, s.Name)] = &fstest.MapFile{Data: []byte(strings.Join(parts, ""))}
		}
		statements += len(parts)
	}
	return files, statements
}

// cut cuts an SQL file at the ends of its statements.
func cut(text string) []string {
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

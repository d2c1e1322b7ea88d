// Package domain holds no code: this test proves the arrows between coldrise's
// packages, and that the packages below this one are pure.
package domain

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

const module = "coldrise/"

// listed is one package as go list tells it.
type listed struct {
	ImportPath string
	Dir        string
	Standard   bool
	GoFiles    []string
	Imports    []string
	Deps       []string
}

// level orders the domain: a package may import those of a lower level only.
var level = map[string]int{
	"domain/problem": 0, "domain/document": 1, "domain/quantity": 2,
	"domain/tube": 3, "domain/amp": 3, "domain/part": 3,
	"domain/supply": 4, "domain/derate": 4, "domain/pick": 5, "domain/plan": 6,
}

// beside are the arrows within a level.
var beside = map[string]string{"domain/amp": "domain/tube"}

// outer says what the packages outside the domain may import: prefixes of
// packages of the module, and modules from outside. "" is the package itself.
var outer = map[string]struct{ ours, foreign []string }{
	"api":                    {[]string{"domain/", "catalogue", "catalogue/table", "repo", "api/ordersheet"}, []string{"github.com/danielgtaylor/huma/v2", "github.com/gin-gonic/gin", "github.com/google/uuid"}},
	"api/ordersheet/formula": {nil, nil},
	"api/ordersheet/parts":   {[]string{"domain/problem"}, nil},
	"api/ordersheet":         {[]string{"domain/", "catalogue/table", "api/ordersheet/formula", "api/ordersheet/parts"}, nil},
	"api/jobsheet":           {[]string{"domain/"}, nil},
	"api/cmd/coldrise":       {[]string{"domain/", "catalogue", "catalogue/table", "repo", "repo/sqlite", "repo/postgres", "api", "api/jobsheet"}, nil},
	"catalogue":              {[]string{"domain/", "catalogue/table"}, nil},
	"catalogue/table":        {[]string{"domain/problem"}, []string{"github.com/xuri/excelize/v2", "golang.org/x/text"}},
	"repo":                   {[]string{"domain/"}, nil},
	"repo/repotest":          {[]string{"domain/", "repo", "migrations"}, []string{"github.com/google/go-cmp/", "pgregory.net/rapid", "github.com/google/uuid"}},
	"repo/sqlite": {[]string{"domain/", "repo", "migrations"},
		[]string{"modernc.org/sqlite", "github.com/golang-migrate/migrate/v4", "golang.org/x/sys/"}},
	"repo/postgres": {[]string{"domain/", "repo", "migrations"},
		[]string{"github.com/jackc/pgx/v5", "github.com/golang-migrate/migrate/v4"}},
	"repo/postgres/pgtest": {nil, []string{"github.com/jackc/pgx/v5"}},
	"migrations":           {[]string{"domain/"}, []string{"github.com/golang-migrate/migrate/v4"}},
}

func TestArrows(t *testing.T) {
	t.Parallel()
	all := list(t)
	missing := map[string]bool{}
	for name := range level {
		missing[name] = true
	}
	for name := range outer {
		missing[name] = true
	}
	for _, p := range all {
		name, ours := strings.CutPrefix(p.ImportPath, module)
		if !ours || len(p.GoFiles) == 0 {
			continue
		}
		delete(missing, name)
		for _, path := range p.Imports {
			if fault := arrow(name, path, all); fault != "" {
				t.Error(fault)
			}
		}
	}
	if len(missing) > 0 {
		t.Errorf("these packages are in the tables of this test and not in the module: %v", sorted(missing))
	}
}

// The rules themselves must refuse what they are for.
func TestArrowsThatAreRefused(t *testing.T) {
	t.Parallel()
	all := map[string]listed{}
	for _, path := range []string{"os", "math", "net/http", "math/rand/v2", "log/slog", "context"} {
		all[path] = listed{Standard: true}
	}
	tests := []struct {
		from, to string
		refused  bool
	}{
		{"domain/plan", "coldrise/domain/pick", false}, {"domain/pick", "coldrise/domain/plan", true},
		{"domain/supply", "coldrise/domain/derate", true}, {"domain/amp", "coldrise/domain/tube", false},
		{"domain/tube", "coldrise/domain/amp", true}, {"domain/part", "coldrise/domain/tube", true},
		{"domain/amp", "coldrise/repo", true}, {"domain/amp", "github.com/google/uuid", true},
		{"domain/amp", "math", false}, {"domain/amp", "os", true}, {"domain/amp", "net/http", true},
		{"domain/amp", "math/rand/v2", true}, {"domain/amp", "log/slog", true}, {"domain/amp", "context", false},
		{"api", "coldrise/repo", false}, {"api", "coldrise/repo/sqlite", true}, {"api", "modernc.org/sqlite", true}, {"repo/sqlite", "coldrise/repo/postgres", true}, {"repo/postgres", "coldrise/repo/sqlite", true},
		{"api", "github.com/danielgtaylor/huma/v2/adapters/humagin", false}, {"api", "github.com/gin-gonic/gin-extra", true},
		{"repo", "coldrise/api", true}, {"catalogue", "coldrise/repo", true}, {"repo/sqlite", "coldrise/catalogue", true},
		{"api/cmd/coldrise", "coldrise/repo/sqlite", false}, {"a/new/one", "coldrise/domain/amp", true}, {"repo", "os", false},
	}
	for _, tt := range tests {
		if fault := arrow(tt.from, tt.to, all); (fault != "") != tt.refused {
			t.Errorf("%s → %s: %q, want it refused: %v", tt.from, tt.to, fault, tt.refused)
		}
	}
}

// arrow gives what is wrong with name importing path; "" where nothing is.
func arrow(name, path string, all map[string]listed) string {
	to, ours := strings.CutPrefix(path, module)
	standard := all[path].Standard
	if l, isDomain := level[name]; isDomain {
		switch target, known := level[to]; {
		case standard && impure(path):
			return fmt.Sprintf("%s imports %s: the domain has no I/O, clock, log or chance", name, path)
		case standard:
			return ""
		case !ours:
			return fmt.Sprintf("%s imports %s: the domain uses the standard library alone", name, path)
		case !known || (target >= l && beside[name] != to):
			return fmt.Sprintf("%s imports %s, which is not below it", name, to)
		}
		return ""
	}
	rule, known := outer[name]
	switch {
	case !known:
		return fmt.Sprintf("%s imports %s, and the tables of this test have no rule for it", name, path)
	case standard:
		return ""
	case ours && !allowed(to, rule.ours), !ours && !allowed(path, rule.foreign):
		return fmt.Sprintf("%s imports %s, which its rule does not allow", name, path)
	}
	return ""
}

// allowed says whether path is one of list, below one that ends in a slash, or
// a package of a module in it.
func allowed(path string, rules []string) bool {
	for _, r := range rules {
		foreign := strings.Contains(r, ".")
		if path == r || (strings.HasSuffix(r, "/") && strings.HasPrefix(path, r)) || (foreign && strings.HasPrefix(path, r+"/")) {
			return true
		}
	}
	return false
}

// impure are the standard packages that reach outside the process, or whose
// answers are not the same twice.
func impure(path string) bool {
	for _, p := range []string{"os", "net", "log", "syscall", "database", "plugin", "math/rand", "crypto/rand", "io/ioutil", "runtime", "testing", "expvar"} {
		if path == p || strings.HasPrefix(path, p+"/") {
			return true
		}
	}
	return false
}

// databases are the ways to one.
var databases = []string{"modernc.org/sqlite", "github.com/jackc/pgx/v5", module + "repo/sqlite", module + "repo/postgres"}

// Only the command may reach a database.
func TestOnlyTheCommandReachesADatabase(t *testing.T) {
	t.Parallel()
	reaching := map[string]bool{}
	for _, p := range list(t) {
		name, ours := strings.CutPrefix(p.ImportPath, module)
		for _, dep := range p.Deps {
			if ours && slices.Contains(databases, dep) {
				reaching[name] = true
			}
		}
	}
	want := []string{"api/cmd/coldrise", "repo/postgres", "repo/postgres/pgtest", "repo/sqlite"}
	if diff := cmp.Diff(want, sorted(reaching)); diff != "" {
		t.Errorf("packages that reach a database (-want +got):\n%s", diff)
	}
}

func TestDomainIsPure(t *testing.T) {
	t.Parallel()
	files := 0
	for _, p := range list(t) {
		name, ours := strings.CutPrefix(p.ImportPath, module)
		if _, isDomain := level[name]; !ours || !isDomain {
			continue
		}
		fset := token.NewFileSet()
		var parsed []*ast.File
		for _, f := range p.GoFiles {
			file, err := parser.ParseFile(fset, filepath.Join(p.Dir, f), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			parsed = append(parsed, file)
		}
		files += len(parsed)
		for _, fault := range impurities(fset, parsed) {
			t.Error(fault)
		}
	}
	if files < len(level) {
		t.Errorf("looked at %d files, which is fewer than one per package", files)
	}
}

// The scan itself must find what it is for.
func TestImpuritiesAreFound(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, body string
		want       int
	}{
		{"clean", "func f() int { table := map[int]int{}; table[1] = 2; n := 0; n++; return n }", 0},
		{"clock", "func f() { _ = time.Now() }", 1},
		{"wait", "func f() { time.Sleep(1) }", 1},
		{"goroutine", "func f() { go f() }", 1},
		{"printing", `func f() { fmt.Println("x") }`, 1},
		{"init", "func init() {}", 1},
		{"global set", "func f() { count = 1 }", 1},
		{"global counted", "func f() { count++ }", 1},
		{"global table written", "func f() { seen[1] = true }", 1},
		{"global table emptied", "func f() { delete(seen, 1); clear(seen) }", 2},
		{"global member set", "func f() { state.n = 1 }", 1},
		{"global read", "func f() int { return count + len(seen) }", 0},
		{"global shadowed", "func f() { count := 2; count = 3; _ = count }", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			fset := token.NewFileSet()
			var parsed []*ast.File
			for i, text := range []string{"package p\nvar count int\n", "package p\nvar seen map[int]bool\nvar state struct{ n int }\n" + tt.body} {
				file, err := parser.ParseFile(fset, fmt.Sprint(i), text, 0)
				if err != nil {
					t.Fatal(err)
				}
				parsed = append(parsed, file)
			}
			if got := impurities(fset, parsed); len(got) != tt.want {
				t.Errorf("found %d impurities, want %d: %v", len(got), tt.want, got)
			}
		})
	}
}

// impurities lists goroutines, clocks, printing, init functions, and changes
// to package variables.
func impurities(fset *token.FileSet, files []*ast.File) []string {
	s := scan{fset: fset, globals: globals(files)}
	for _, f := range files {
		ast.Inspect(f, s.node)
	}
	return s.faults
}

type scan struct {
	fset    *token.FileSet
	globals map[string]*ast.ValueSpec
	faults  []string
}

func globals(files []*ast.File) map[string]*ast.ValueSpec {
	all := map[string]*ast.ValueSpec{}
	for _, f := range files {
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.VAR {
				continue
			}
			for _, spec := range g.Specs {
				v := spec.(*ast.ValueSpec)
				for _, name := range v.Names {
					all[name.Name] = v
				}
			}
		}
	}
	return all
}

func (s *scan) fault(n ast.Node, text string) {
	s.faults = append(s.faults, s.fset.Position(n.Pos()).String()+": "+text)
}

func (s *scan) node(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.GoStmt:
		s.fault(n, "starts a goroutine")
	case *ast.FuncDecl:
		if n.Name.Name == "init" && n.Recv == nil {
			s.fault(n, "has an init function")
		}
	case *ast.SelectorExpr:
		if x, ok := n.X.(*ast.Ident); ok && x.Obj == nil && timeOrPrint[x.Name+"."+n.Sel.Name] {
			s.fault(n, "uses "+x.Name+"."+n.Sel.Name)
		}
	case *ast.AssignStmt:
		for _, left := range n.Lhs {
			s.change(left)
		}
	case *ast.IncDecStmt:
		s.change(n.X)
	case *ast.CallExpr:
		if f, ok := n.Fun.(*ast.Ident); ok && f.Obj == nil && (f.Name == "delete" || f.Name == "clear") {
			s.change(n.Args[0])
		}
	}
	return true
}

var timeOrPrint = map[string]bool{
	"time.Now": true, "time.Since": true, "time.Until": true, "time.Sleep": true, "time.After": true, "time.AfterFunc": true,
	"time.Tick": true, "time.NewTimer": true, "time.NewTicker": true,
	"fmt.Print": true, "fmt.Println": true, "fmt.Printf": true,
}

// change reports an assignment whose root is a package variable.
func (s *scan) change(left ast.Expr) {
	for {
		switch x := left.(type) {
		case *ast.IndexExpr:
			left = x.X
		case *ast.SelectorExpr:
			left = x.X
		case *ast.StarExpr:
			left = x.X
		case *ast.ParenExpr:
			left = x.X
		case *ast.Ident:
			spec, ok := s.globals[x.Name]
			// A name the parser resolved within the file is the package's only
			// where it was declared by that very declaration.
			if ok && (x.Obj == nil || x.Obj.Decl == spec) {
				s.fault(x, "changes the package variable "+x.Name)
			}
			return
		default:
			return
		}
	}
}

// list gives every package of the module and all they depend on. It looks at
// every file itself, so that go test knows what its cached result hangs on.
func list(t *testing.T) map[string]listed {
	t.Helper()
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.Name() == ".git":
			return filepath.SkipDir
		case strings.HasSuffix(path, ".go"):
			_, err = os.Stat(path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "go", "list", "-deps", "-json=ImportPath,Dir,Standard,GoFiles,Imports,Deps", "./...")
	cmd.Dir = ".."
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("go list: %v\n%s", err, exit.Stderr)
		}
		t.Fatalf("go list: %v", err)
	}
	all := map[string]listed{}
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all[p.ImportPath] = p
	}
}

func sorted(set map[string]bool) []string {
	var all []string
	for name := range set {
		all = append(all, name)
	}
	sort.Strings(all)
	return all
}

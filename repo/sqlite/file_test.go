package sqlite

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"coldrise/domain/problem"
	"coldrise/migrations"
)

func TestPathsThatAreNoDatabase(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	file := func(name, text string, mode fs.FileMode) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, []byte(text), mode); err != nil {
			t.Fatal(err)
		}
		return path
	}
	damaged := made(t)
	data, err := os.ReadFile(damaged)
	if err != nil {
		t.Fatal(err)
	}
	damage := strings.Repeat("\xff", 4096-100)
	foreignLock := file("beside.db", "", 0o600)
	file("beside.db.lock", strings.Repeat("some other program's lock\n", 50), 0o600)
	for _, tt := range []struct {
		name, path, words string
		skip              bool
	}{
		{"no name", "", "name of a file", false},
		{"a memory database", ":memory:", "name of a file", false},
		{"NUL in the name", "a\x00b", "name of a file", false},
		{"a folder", folder, "is a folder", false},
		{"in a folder that is not there", filepath.Join(folder, "none", "bench.db"), "there is no folder", false},
		{"in a file", filepath.Join(file("plain", "x", 0o600), "bench.db"), "", false},
		{"a device", os.DevNull, "not a regular file", runtime.GOOS == "windows"},
		{"text", file("notes.txt", strings.Repeat("not a database\n", 100), 0o600), "is not an SQLite database", false},
		{"short text", file("short.txt", "x", 0o600), "is not an SQLite database", false},
		{"damaged", file("damaged.db", string(data[:100])+damage+string(data[4096:]), 0o600), "is damaged", false},
		{"a foreign lock file", foreignLock, ".lock is not coldrise's", false},
		{"a folder that takes no files", "/proc/bench.db", "read and write", runtime.GOOS != "linux"},
		{"a file of another user", file("locked.db", string(data), 0), "read and write", os.Geteuid() == 0},
		{"a file that may be read only", file("readonly.db", string(data), 0o400), "read and write", os.Geteuid() == 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if tt.skip {
				t.Skip("needs Linux, or a user who is not root")
			}
			wantRefused(t, tt.path, migrations.Files, problem.Invalid, tt.words)
		})
	}
}

func TestOddNamesOfFiles(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for _, name := range []string{"a b.db", "50%.db", "why?.db", "#1.db", "a&b=c.db", "µΩ.db", "file:x.db", ";.db"} {
		path := filepath.Join(folder, name)
		opened(t, path)
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			t.Errorf("%s was not made: %v", name, err)
		}
	}
}

package sqlite

import (
	"io/fs"
	"os"
	"path/filepath"
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
	}{
		{"no name", "", "name of a file"},
		{"a memory database", ":memory:", "name of a file"},
		{"NUL in the name", "a\x00b", "name of a file"},
		{"a folder", folder, "is a folder"},
		{"in a folder that is not there", filepath.Join(folder, "none", "bench.db"), "there is no folder"},
		{"in a file", filepath.Join(file("plain", "x", 0o600), "bench.db"), ""},
		{"a device", os.DevNull, "not a regular file"},
		{"text", file("notes.txt", strings.Repeat("not a database\n", 100), 0o600), "is not an SQLite database"},
		{"short text", file("short.txt", "x", 0o600), "is not an SQLite database"},
		{"damaged", file("damaged.db", string(data[:100])+damage+string(data[4096:]), 0o600), "is damaged"},
		{"a foreign lock file", foreignLock, ".lock is not coldrise's"},
		{"a folder that takes no files", "/proc/bench.db", "read and write"},
	} {
		t.Run(tt.name, func(t *testing.T) {
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

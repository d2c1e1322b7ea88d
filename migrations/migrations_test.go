package migrations_test

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"coldrise/migrations"
)

// released holds the sums of the files as they were released. A file here is
// never edited: databases made with it are out there. Add a line for a new
// file; what a mistake needs is a further migration.
var released = map[string]string{
	"sqlite/0001_init.up.sql":        "f27a81282d2eaeec418e565719ddff9a9fe96165fcd53567cc27411ebd968f5a",
	"sqlite/0001_init.down.sql":      "b23731c35b3afbfc3cdee01efc90ec544358f58aa004a32261202c49a8ba08ec",
	"sqlite/0002_ratings.up.sql":     "1d62bc6938d382f4f03ca4fc6f352be347e0d17b0e66ca20cb87d43b6dc1b26b",
	"sqlite/0002_ratings.down.sql":   "f408e484ad397e4587dc5b9f07ee1d8812c8db8dc571ae2085332a085bcd1ad6",
	"postgres/0001_init.up.sql":      "b65faf6f22c0deb3d18eade14d230ff4c17312967b5b1110f94fa762410e8527",
	"postgres/0001_init.down.sql":    "47ff51d76aa27bfaecadc9666d1a14190741559c8522adfd3dc8ed707e2335a1",
	"postgres/0002_ratings.up.sql":   "df351a9ca2190c53fcf8590d3e5443ec2bcec2697a8a3035c1c47318c1c93381",
	"postgres/0002_ratings.down.sql": "ade44bade04a6a7d8a1573abac48fb2cf8194fd270ac42fd776e473388b1a172",
	"sqlite/0003_imports.up.sql":     "bb5737d9f765bd44f42068b3ed237522c8e18df379b66eafefcfd87e241fa1c0",
	"sqlite/0003_imports.down.sql":   "1519f0582ff167611750282bb752cf90e5c21e8eed645780863d61e3c9b4e6b7",
	"postgres/0003_imports.up.sql":   "df5444d1af0f3c2cfc182dce69d1068e16106bc477da28f1e0953936bfb9a0e1",
	"postgres/0003_imports.down.sql": "7d3188a2e5c5692d28ac816e7d078641d84d6d094dcd90627e5c623a5e34896a",
}

func TestReleasedFilesAreAsTheyWere(t *testing.T) {
	t.Parallel()
	got := map[string]string{}
	err := fs.WalkDir(migrations.Files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := fs.ReadFile(migrations.Files, path)
		sum := sha256.Sum256(text)
		got[path] = hex.EncodeToString(sum[:])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(released, got); diff != "" {
		t.Error(diff)
	}
}

// Every engine has the same versions by the same names.
func TestEnginesAgreeInNumbersAndNames(t *testing.T) {
	t.Parallel()
	folders, err := fs.ReadDir(migrations.Files, ".")
	if err != nil {
		t.Fatal(err)
	}
	names := func(folder string) []string {
		steps, err := migrations.Steps(migrations.Files, folder)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, s := range steps {
			names = append(names, s.Name)
		}
		return names
	}
	want := names(migrations.SQLite)
	if len(want) == 0 || want[0] != "init" {
		t.Errorf("the first migration is not init: %q", want)
	}
	for _, f := range folders {
		if diff := cmp.Diff(want, names(f.Name())); diff != "" {
			t.Errorf("%s: %s", f.Name(), diff)
		}
	}
}

func TestStepsRefusesAFolderOutOfOrder(t *testing.T) {
	t.Parallel()
	pair := func(names ...string) fstest.MapFS {
		files := fstest.MapFS{}
		for _, n := range names {
			for _, direction := range []string{".up.sql", ".down.sql"} {
				files["e/"+n+direction] = &fstest.MapFile{Data: []byte("SELECT 1;")}
			}
		}
		return files
	}
	with := func(files fstest.MapFS, name, text string) fstest.MapFS {
		files["e/"+name] = &fstest.MapFile{Data: []byte(text)}
		return files
	}
	for name, tt := range map[string]struct {
		files fstest.MapFS
		want  string // in the error; "" is none
	}{
		"in order":              {pair("0001_init", "0002_shelves"), ""},
		"a gap":                 {pair("0001_init", "0003_shelves"), "out of sequence"},
		"from two on":           {pair("0002_init"), "out of sequence"},
		"one number, two names": {pair("0001_init", "0001_start"), "both"},
		"no way back":           {with(pair("0001_init"), "0002_shelves.up.sql", "SELECT 1;"), "lacks a direction"},
		"an empty file":         {with(pair("0001_init"), "0001_init.up.sql", ""), "lacks a direction"},
		"another file":          {with(pair("0001_init"), "README", "x"), "not named"},
		"no name":               {with(pair("0001_init"), "0002_.up.sql", "x"), "not named"},
		"no folder":             {fstest.MapFS{}, "not exist"},
	} {
		_, err := migrations.Steps(tt.files, "e")
		if (err == nil) != (tt.want == "") || (err != nil && !strings.Contains(err.Error(), tt.want)) {
			t.Errorf("%s: %v, want %q", name, err, tt.want)
		}
	}
}

// Package migrations holds the database schemas, one folder per engine, as
// numbered pairs of SQL files: 0001_init.up.sql and 0001_init.down.sql.
//
// The numbers and names are the same for every engine; what the files do may
// differ. A file that has been released is never edited: a test keeps their
// sums. Each file is one transaction, so it must hold no statement that needs
// to stand outside of one, such as VACUUM or, where tables are rebuilt,
// PRAGMA foreign_keys. A binary of the version before must still run on the
// new schema: add first, take away in a later release.
package migrations

import (
	"embed"
	"fmt"
	"io/fs"
	"sort"
	"strconv"
	"strings"
)

// The folders of the engines.
const (
	SQLite   = "sqlite"
	Postgres = "postgres"
)

// Files holds the folders.
//
//go:embed sqlite/*.sql postgres/*.sql
var Files embed.FS

// Step is one schema version.
type Step struct {
	Version uint
	Name    string // "init"
	Up      string // SQL that leads here from the version before
	Down    string // SQL that leads back
}

// Steps reads the schema versions in a folder of files, ascending. They are
// numbered from 1 without a gap, and each has both directions; an error says
// where they are not, or that a file could not be read.
func Steps(files fs.FS, folder string) ([]Step, error) {
	entries, err := fs.ReadDir(files, folder)
	if err != nil {
		return nil, err
	}
	byVersion := map[uint]*Step{}
	for _, e := range entries {
		if err := addFile(byVersion, files, folder, e.Name()); err != nil {
			return nil, err
		}
	}
	steps := make([]Step, 0, len(byVersion))
	for _, s := range byVersion {
		steps = append(steps, *s)
	}
	sort.Slice(steps, func(i, j int) bool { return steps[i].Version < steps[j].Version })
	for i, s := range steps {
		if s.Version != uint(i+1) || s.Up == "" || s.Down == "" {
			return nil, fmt.Errorf("migrations: %s: version %d (%s) is out of sequence or lacks a direction", folder, s.Version, s.Name)
		}
	}
	return steps, nil
}

func addFile(steps map[uint]*Step, files fs.FS, folder, file string) error {
	number, rest, _ := strings.Cut(file, "_")
	version, err := strconv.ParseUint(number, 10, 31)
	name, up := strings.CutSuffix(rest, ".up.sql")
	if !up {
		var down bool
		if name, down = strings.CutSuffix(rest, ".down.sql"); !down {
			err = fs.ErrInvalid
		}
	}
	if err != nil || name == "" {
		return fmt.Errorf("migrations: %s/%s is not named NNNN_name.up.sql or NNNN_name.down.sql", folder, file)
	}
	text, err := fs.ReadFile(files, folder+"/"+file)
	if err != nil {
		return err
	}
	s := steps[uint(version)]
	if s == nil {
		s = &Step{Version: uint(version), Name: name}
		steps[s.Version] = s
	}
	if s.Name != name {
		return fmt.Errorf("migrations: %s: version %d is both %s and %s", folder, version, s.Name, name)
	}
	if up {
		s.Up = string(text)
	} else {
		s.Down = string(text)
	}
	return nil
}

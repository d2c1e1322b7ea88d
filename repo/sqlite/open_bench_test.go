package sqlite

import (
	"context"
	"path/filepath"
	"testing"

	"coldrise/migrations"
)

// The time from nothing to a store on a fresh file, schema and all.
func BenchmarkOpenFresh(b *testing.B) {
	for b.Loop() {
		s, err := Open(context.Background(), filepath.Join(b.TempDir(), "bench.db"))
		if err != nil {
			b.Fatal(err)
		}
		s.Close()
	}
}

// The time from a file that has the schema to a store.
func BenchmarkOpenAgain(b *testing.B) {
	path := filepath.Join(b.TempDir(), "bench.db")
	for b.Loop() {
		s, err := Open(context.Background(), path)
		if err != nil {
			b.Fatal(err)
		}
		s.Close()
	}
}

func BenchmarkFingerprints(b *testing.B) {
	steps, err := migrations.Steps(migrations.Files, migrations.SQLite)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := fingerprints(context.Background(), steps); err != nil {
			b.Fatal(err)
		}
	}
}

package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/migrations"
	"coldrise/repo"
	"coldrise/repo/repotest"
)

// version1 is a can with two sections, two offers and three breaks, as the
// first schema kept it, with a part beside it that has none of these.
const version1 = `
INSERT INTO series VALUES ('bench', 'HA', '{"name":"HA","maker":"Sedgemere","technology":"electrolytic","base_hz":100,"max_c":85,
  "life":{"model":"ten_kelvin","rated_h":8000,"rated_c":85,"core_rise_k":0},"tan_delta":0.1,"min_c":-40}', 1);
INSERT INTO parts VALUES ('bench', 'can', 3, 1, 2, 'Sedgemere', 'HA-1', 'HA', 'electrolytic', 'can', 40, 2, 10, 50.5, 500, NULL, '', NULL, 240, NULL, 0, 35, 51, NULL, NULL, 'n', 7);
INSERT INTO parts VALUES ('bench', 'plain', 1, 1, 1, 'Sedgemere', 'HA-2', 'HA', 'electrolytic', 'axial', 8, 0, 20, 20, 450, NULL, '', 495, NULL, 15, NULL, 12.5, 30, NULL, NULL, '', 0);
INSERT INTO part_sections VALUES ('bench', 'can', 0, 20), ('bench', 'can', 1, 20);
INSERT INTO part_offers VALUES ('bench', 'can', 0, 'Oxbow Spares', 'A', 'GBP', 1, 1, 3, 2, 1), ('bench', 'can', 1, 'Fenwick', 'B', 'EUR', 5, 10, 4, 9, 0);
INSERT INTO offer_breaks VALUES ('bench', 'can', 0, 0, 1, 3200000), ('bench', 'can', 0, 1, 10, 2880000), ('bench', 'can', 1, 0, 10, 1);`

func madeAtVersion1(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bench.db")
	s, err := open(context.Background(), path, upTo(t, 1))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	tamper(t, path, version1)
	return path
}

// upTo is the released migrations up to a version.
func upTo(t *testing.T, version uint) fs.FS {
	t.Helper()
	files := repotest.Released(migrations.SQLite, nil)
	for name := range files {
		var n uint
		if _, err := fmt.Sscanf(path.Base(name), "%d_", &n); err != nil {
			t.Fatal(err)
		}
		if n > version {
			delete(files, name)
		}
	}
	return files
}

// Parts, their children and series of the first schema are there after the
// table of parts was made again.
func TestPartsOfTheFirstSchemaAreKept(t *testing.T) {
	t.Parallel()
	s := opened(t, madeAtVersion1(t))
	can, err := s.Part(context.Background(), repo.Bench, "can")
	if err != nil {
		t.Fatal(err)
	}
	zero, ripple, d, l := 0.0, 240.0, 35.0, 51.0
	want := part.Part{Maker: "Sedgemere", PartNumber: "HA-1", Series: "HA", Technology: part.Electrolytic, Style: part.Can,
		CapacitanceUF: 40, FurtherSectionsUF: []float64{20, 20}, Tolerance: part.Within(10, 50.5), RatedV: 500,
		RippleMA: &ripple, LeakageUA: &zero, DiameterMM: &d, LengthMM: &l, Note: "n",
		Offers: []part.Offer{
			{Supplier: "Oxbow Spares", SKU: "A", Currency: "GBP", Pack: 1, MinQty: 1, Stock: 3, LeadDays: 2, Preferred: true,
				Breaks: []part.Break{{MinQty: 1, UnitPrice: 3_200_000}, {MinQty: 10, UnitPrice: 2_880_000}}},
			{Supplier: "Fenwick", SKU: "B", Currency: "EUR", Pack: 5, MinQty: 10, Stock: 4, LeadDays: 9, Breaks: []part.Break{{MinQty: 10, UnitPrice: 1}}}}}
	if diff := cmp.Diff(want, can.Part); diff != "" || can.Version != 3 {
		t.Errorf("version %d\n%s", can.Version, diff)
	}
	series, err := s.Series(context.Background(), repo.Bench)
	if err != nil || len(series) != 1 {
		t.Fatal(series, err)
	}
	// A rise of 0 in an old document stood for "not given".
	if e := can.Effective(&series[0]); e.MaxC.Value != 85 || e.Life.RatedH != 8000 || !e.Life.RiseAssumed {
		t.Errorf("%+v", e)
	}
	if found, err := s.Candidates(context.Background(), repo.Bench, repo.CandidateWindow{MinUF: 20, MaxUF: 20}); err != nil || len(found) != 1 {
		t.Errorf("by a further section: %d, %v", len(found), err)
	}
}

// Going back, nothing that the first schema has no place for may be dropped silently.
func TestTheStepBackRefusesWhatItCannotKeep(t *testing.T) {
	t.Parallel()
	down, err := migrations.Files.ReadFile("sqlite/0002_ratings.down.sql")
	if err != nil {
		t.Fatal(err)
	}
	for name, tt := range map[string]struct {
		change  string
		refused bool
	}{
		"as it was":          {"", false},
		"no series":          {"UPDATE parts SET series = NULL WHERE id = 'can'", true},
		"no tolerance":       {"UPDATE parts SET tol_plus_pct = NULL WHERE id = 'can'", true},
		"no length":          {"UPDATE parts SET length_mm = NULL WHERE id = 'can'", true},
		"ratings of its own": {"UPDATE parts SET ratings = '{\"max_c\":85}' WHERE id = 'can'", true},
		"leakage's minutes":  {"UPDATE parts SET leakage_min = 5 WHERE id = 'can'", true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			path := madeAtVersion1(t)
			s, err := open(context.Background(), path, upTo(t, 2))
			if err != nil {
				t.Fatal(err)
			}
			s.Close()
			db, err := sql.Open(driverName, writerDSN(path))
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			if _, err := db.Exec(tt.change); err != nil {
				t.Fatal(err)
			}
			tx, err := db.Begin()
			if err != nil {
				t.Fatal(err)
			}
			_, err = tx.Exec(string(down))
			if (err != nil) != tt.refused {
				t.Errorf("refused: %v", err)
			}
			if tt.refused {
				if !strings.Contains(err.Error(), "NOT NULL") {
					t.Error(err)
				}
				tx.Rollback() //nolint:errcheck // Refused already.
				return
			}
			if err := tx.Commit(); err != nil {
				t.Fatal(err)
			}
			var breaks int
			if err := db.QueryRow("SELECT count(*) FROM offer_breaks").Scan(&breaks); err != nil || breaks != 3 {
				t.Errorf("%d breaks, %v", breaks, err)
			}
		})
	}
}

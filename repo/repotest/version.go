package repotest

import (
	"testing"
	"time"

	"coldrise/domain/problem"
	"coldrise/repo"
)

// versionCases: versions count changes, and a change must name the one it saw.
func versionCases() []testCase {
	return []testCase{
		{"a part's version and instants", partVersions},
		{"an amplifier's version and instants", ampVersions},
		{"a refused change keeps the version", keptVersion},
		{"a part may keep its own maker and number", ownNumber},
		{"an old version deletes nothing", oldVersion},
	}
}

func partVersions(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	later := repo.Stamp{At: noon.Add(time.Hour)}
	for version := int64(1); version < 4; version++ {
		p := samplePart("HA-1")
		p.Note = "change " + string(rune('0'+version))
		changed := sure(s.ReplacePart(ctx, shop, "part-1", version, p, later))(t)
		want := repo.Part{Meta: repo.Meta{ID: "part-1", Version: version + 1, Created: noonKept, Changed: noonKept.Add(time.Hour)}, Part: p}
		same(t, want, changed)
		same(t, want, sure(s.Part(ctx, shop, "part-1"))(t))
	}
	same(t, int64(1), sure(s.Part(ctx, shop, "part-2"))(t).Version)
}

func ampVersions(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	later := repo.Stamp{At: noon.Add(time.Hour)}
	for version := int64(1); version < 4; version++ {
		changed := sure(s.ReplaceAmp(ctx, shop, "amp-1", version, sampleAmp("another name"), later))(t)
		want := repo.Amp{Meta: repo.Meta{ID: "amp-1", Version: version + 1, Created: noonKept, Changed: noonKept.Add(time.Hour)}, Amplifier: sampleAmp("another name")}
		same(t, want, changed)
		same(t, want, sure(s.Amp(ctx, shop, "amp-1"))(t))
	}
}

func keptVersion(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	_, err := s.ReplacePart(ctx, shop, "part-1", 1, samplePart("HA-2"), stamp())
	wantCode(t, err, problem.Conflict)
	sure(s.ReplacePart(ctx, shop, "part-1", 1, samplePart("HA-3"), stamp()))(t)
}

func ownNumber(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	same(t, int64(2), sure(s.ReplacePart(background(), shop, "part-1", 1, samplePart("HA-1"), stamp()))(t).Version)
}

func oldVersion(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	sure(s.ReplacePart(ctx, shop, "part-1", 1, samplePart("HA-1"), stamp()))(t)
	wantCode(t, s.DeletePart(ctx, shop, "part-1", 1, stamp()), problem.Stale)
	must(t, s.DeletePart(ctx, shop, "part-1", 2, stamp()))
	_, err := s.Part(ctx, shop, "part-1")
	wantCode(t, err, problem.NotFound)

	sure(s.ReplaceAmp(ctx, shop, "amp-1", 1, sampleAmp("B"), stamp()))(t)
	wantCode(t, s.DeleteAmp(ctx, shop, "amp-1", 1), problem.Stale)
	must(t, s.DeleteAmp(ctx, shop, "amp-1", 2))
	_, err = s.Amp(ctx, shop, "amp-1")
	wantCode(t, err, problem.NotFound)
}

package run

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// What must not be known of a swimmer must change nothing that leaves: two studies that
// differ in it alone release the same bytes. So no row, no missing row, no count, no order
// and no sentence tells it, whatever else whoever has the set may compute.
func TestASetTellsNothingOfWhatIsHeldBack(t *testing.T) {
	k := newKeepingStudy(t)
	k.smallest = 1
	k.write()
	withKey(t, k.folder)
	settings := fmt.Sprintf(keepingSettings, k.zone, k.count, k.highest, k.steady, k.smallest, k.curve) + "privacy: {smallest_group: 2}\n"
	roster := func(change func(i int, cells map[string]string)) {
		columns := []string{"swimmer", "aliases", "squad", "sex", "birth_year", "hr_rest", "mass_kg", "height_cm", "rate_altering_medication", "consent"}
		var b strings.Builder
		b.WriteString(strings.Join(columns, ",") + "\n")
		for i := range k.squad.Swimmers {
			cells := map[string]string{"swimmer": k.squad.Swimmers[i].Handle, "squad": "reed", "sex": "f", "birth_year": "1990", "hr_rest": fmt.Sprint(k.rest[i]),
				"mass_kg": "70", "height_cm": "175", "rate_altering_medication": "no", "consent": "yes"}
			change(i, cells)
			var row []string
			for _, c := range columns {
				row = append(row, cells[c])
			}
			b.WriteString(strings.Join(row, ",") + "\n")
		}
		put(t, k.folder, map[string]string{"roster.csv": b.String(), "study.yaml": settings})
	}
	release := func() map[string]string {
		t.Helper()
		s := k.load()
		if _, err := Study(context.Background(), s, Options{Workers: 2}); err != nil {
			t.Fatal(err)
		}
		folder := filepath.Join(t.TempDir(), "set")
		if _, err := Release(context.Background(), s, folder, ReleaseOptions{Label: "one"}); err != nil {
			t.Fatal(err)
		}
		return hashes(t, folder)
	}
	roster(func(int, map[string]string) {})
	want := release()
	for what, cells := range map[string]map[string]string{
		"medication":       {"rate_altering_medication": "yes"},
		"medication blank": {"rate_altering_medication": ""},
		"birth year":       {"birth_year": "1991"},
		"mass":             {"mass_kg": "81.5"},
		"height":           {"height_cm": "188"},
		"another alias":    {"aliases": "the tall one"},
	} {
		roster(func(i int, have map[string]string) {
			if i == 2 {
				for c, v := range cells {
					have[c] = v
				}
			}
		})
		got := release()
		var differ []string
		for name := range want {
			if got[name] != want[name] {
				differ = append(differ, name)
			}
		}
		slices.Sort(differ)
		if len(differ) > 0 || len(got) != len(want) {
			t.Errorf("%s of one swimmer shows in %v", what, differ)
		}
	}
	// The test can fail: what is told does show.
	roster(func(i int, have map[string]string) { have["sex"] = []string{"f", "m"}[i%2] })
	if got := release(); got["tables/swimmers.parquet"] == want["tables/swimmers.parquet"] {
		t.Error("sex, which is told, shows nowhere")
	}
}

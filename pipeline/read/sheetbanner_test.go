package read

import (
	"strings"
	"testing"
)

// What stands above the header holds for all rows; given twice with different
// values, it is used for none.
func TestSheetBanner(t *testing.T) {
	src := sheetSource(t)
	src.Input.Columns = nil
	const rows = "swimmer;distance_m;stroke;time;strokes\nAna Lima;100;free;76,2;84\n"
	for _, c := range []struct {
		name, banner string
		day          string // "" when the row is not used
		rule         string // of an entry, "" for none in particular
	}{
		{"in one cell", "Date: 2026-03-02;Pool: 25m\n", "2026-03-02", RuleHeadingRow},
		{"in two cells", "Date;2 March 2026\nPool;;25 m\n", "2026-03-02", RuleHeadingRow},
		{"in German", "Datum: 02.03.2026\nBecken: 25m\n", "2026-03-02", ""},
		{"twice alike", "Date: 2026-03-02\nDate: 2026-03-02;Pool: 25m\n", "2026-03-02", ""},
		{"twice, differently", "Date: 2026-03-02\nDate: 2026-03-09;Pool: 25m\n", "", RuleMissingColumn},
		{"no value", "Date:\nPool: 25m\n", "", RuleMissingColumn},
		{"no date", "Date: spring\nPool: 25m\n", "", RuleUnreadable},
		{"words that are no label", "Squad date 2026-03-02\nPool: 25m\n", "", RuleMissingColumn},
	} {
		f, _, err := Sheet([]byte(c.banner+rows), src)
		if err != nil {
			t.Fatal(err)
		}
		sheetBalance(t, f, 1)
		day := ""
		if len(f.Recordings) > 0 {
			day = f.Recordings[0].LocalDate
		}
		found := c.rule == ""
		for _, e := range f.Entries {
			found = found || e.Rule == c.rule
		}
		if day != c.day || !found {
			t.Errorf("%s: day %q, want %q: %+v", c.name, day, c.day, f.Entries)
		}
	}
}

// Two lengths of which the second took twice as long are a length and a stop,
// or running times: nobody can say, and they stay as they are.
func TestSheetTwoLengthsAreNoRunningTimes(t *testing.T) {
	const header = "swimmer,date,rep,length,pool,time,strokes\n"
	pair := "Ana Lima,2026-03-02,1,1,25m,18.2,20\nAna Lima,2026-03-02,1,2,25m,37.4,21\n"
	for rows, want := range map[string]float64{
		pair: 37.4,
		pair + strings.ReplaceAll(pair, "02,1,", "02,2,") + "Ana Lima,2026-03-02,2,3,25m,57.0,21\n": 19.2,
	} {
		f, _, err := Sheet([]byte(header+rows), sheetSource(t))
		if err != nil || f.Recordings[0].Lengths[1].DurationS != want {
			t.Errorf("%q: %v s, want %v (%v)", rows, f.Recordings[0].Lengths[1].DurationS, want, err)
		}
	}
}

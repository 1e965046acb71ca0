package share

import (
	"flag"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"

	"lengthwise/schemas"
)

var update = flag.Bool("update", false, "rewrite testdata")

// Every column that leaves is on a list that somebody has read: a new one must be
// looked at before it does.
func TestColumnsThatLeave(t *testing.T) {
	var b strings.Builder
	for _, d := range schemas.Released() {
		rt := reflect.TypeOf(d.Row)
		for i := range rt.NumField() {
			name, _, _ := strings.Cut(rt.Field(i).Tag.Get("parquet"), ",")
			fmt.Fprintf(&b, "%s.%s\n", d.Name, name)
		}
	}
	const file = "testdata/columns.txt"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != b.String() {
		t.Errorf("columns that leave are not those of %s: look at the new ones (can they tell who somebody is?), then run with -update", file)
	}
	for _, never := range []string{"birth_year", "rate_altering_medication", "local_date", "start_utc", "time_zone", "file_id", "hr_max_bpm", "hr_rest_bpm",
		"mass_kg", "height_cm", "arm_span_cm", "breathing", "detail"} {
		if strings.Contains(b.String(), "."+never+"\n") {
			t.Errorf("%s leaves", never)
		}
	}
}

func testGuard(t *testing.T) *Guard {
	t.Helper()
	g, err := NewGuard("2026-01-10", []string{"Zé Ondarés", "mira"}, []string{"Deep End", "B"}, []string{"s-abc", "f-123"})
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestGuard(t *testing.T) {
	g := testGuard(t)
	for _, c := range []struct{ text, want string }{
		{"", ""},
		{"pool: 25 m 60, 50 m 36", "pool: 25 m 60, 50 m 36"},
		{"before 2026-03-02", "before study day 52"},
		{"from 2026-01-10 to 2026-01-09", "from study day 1 to study day 0"},
		{"miracle", "miracle"},
		{"the number 20260302-1", "the number 20260302-1"},
	} {
		if got, err := g.Text(c.text); err != nil || got != c.want {
			t.Errorf("%q: %q, %v; want %q", c.text, got, err, c.want)
		}
	}
	for _, text := range []string{"MIRA's new kick", "taught by ze ondares", "ZÉ  ONDARÉS", "see s-abc", "f-123: no lengths", "on 2026-13-99"} {
		if got, err := g.Text(text); err == nil || strings.Contains(err.Error(), text) {
			t.Errorf("%q passes as %q (%v)", text, got, err)
		}
	}
}

func TestRows(t *testing.T) {
	d := &Disguise{Swimmers: map[string]string{"s-abc": "r-z", "s-def": "r-a"}, Sessions: map[string]string{"s-abc-1": "r-z-day1-1"}, Smallest: 5, Guard: testGuard(t)}
	note := "from 2026-01-12"
	in := []schemas.Change{
		{Scope: "swimmer", Swimmer: "s-abc", Swimmers: 1, Reason: &note},
		{Scope: "swimmer", Swimmer: "s-def", Swimmers: 1},
		{Scope: "squad", Swimmers: 4},
		{Scope: "squad", Swimmers: 5},
	}
	out, err := Rows(d, "changes", in)
	if err != nil {
		t.Fatal(err)
	}
	if len(out) != 3 || d.LeftOut != 1 || out[0].Swimmers != 5 || out[1].Swimmer != "r-a" || out[2].Swimmer != "r-z" || *out[2].Reason != "from study day 3" {
		t.Errorf("%d left out of %+v", d.LeftOut, out)
	}
	if in[0].Swimmer != "s-abc" || *in[0].Reason != note {
		t.Error("the rows given were changed")
	}
	if _, err := Rows(d, "changes", []schemas.Change{{Swimmer: "s-new", Swimmers: 1}}); err == nil {
		t.Error("a swimmer whom nobody knows passes")
	}
	if _, err := Rows(d, "heart_cost", []schemas.ReleasedHeartCost{{Swimmer: "s-abc", Session: "s-abc-2"}}); err == nil {
		t.Error("a session that nobody knows passes")
	}
	for _, change := range []string{"Mira's", "new coach for deep-end", "rate ladder (b)"} {
		if _, err := Rows(d, "changes", []schemas.Change{{Swimmer: "s-abc", Swimmers: 1, Change: change}}); err == nil || strings.Contains(err.Error(), change) {
			t.Errorf("a change called %q passes, or is repeated: %v", change, err)
		}
	}
	equipment := "buoy B"
	if _, err := Rows(d, "bouts", []schemas.ReleasedBout{{Swimmer: "s-abc", Session: "s-abc-1", Equipment: &equipment}}); err != nil {
		t.Errorf("a word that is also a squad's, and no name of a change: %v", err)
	}
}

// Of who takes medication nothing is named in the table of cheapest rates: with the bouts
// of all at hand, whose rows are missing would tell who that is. It never leaves.
func TestNoTableTellsMedicationByItsRows(t *testing.T) {
	for _, d := range schemas.Released() {
		if d.Name == "economical_rate" {
			t.Error("the table of cheapest rates leaves")
		}
	}
}

func TestFindingsOfTheSquad(t *testing.T) {
	who := "s-abc"
	rows := Findings([]schemas.Finding{{Finding: "one", Swimmer: &who, N: 100}, {Finding: "few", N: 4}, {Finding: "many", N: 5}}, 5)
	if len(rows) != 1 || rows[0].Finding != "many" {
		t.Errorf("%+v", rows)
	}
}

func TestLeftOut(t *testing.T) {
	rows := LeftOut([]schemas.LedgerEntry{{Kind: "length", Rule: "b", Action: "excluded", Records: 2, FileID: "f-1"}, {Kind: "length", Rule: "a", Action: "noted", Records: 1},
		{Kind: "length", Rule: "b", Action: "excluded", Records: 3, FileID: "f-2"}})
	want := []schemas.ReleasedLeftOut{{Kind: "length", Rule: "a", Action: "noted", Records: 1}, {Kind: "length", Rule: "b", Action: "excluded", Records: 5}}
	if !reflect.DeepEqual(rows, want) {
		t.Errorf("%+v", rows)
	}
}

package publish

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// inventedSwimmer is the made-up rows of the swimmer s003 of an invented study.
func inventedSwimmer() SwimmerRows {
	rows := SwimmerRows{Swimmer: "s003", Bouts: findings.BoutCounts{Bouts: 140, Usable: 121,
		Unusable: []findings.ReasonCount{{Reason: "too-short", About: "too short for heart rate to say anything of its cost", Bouts: 19}}}}
	for i, pct := range []float64{80, 90, 110, 120} {
		e := []float64{7.1, 2.4, -0.6, 1.3}[i]
		rows.CostByRate = append(rows.CostByRate, schemas.CostByRate{Scope: "swimmer", Swimmer: "s003", Stroke: "freestyle", Design: findings.Designed,
			RatePctOfUsual: pct, Change: f64(e), ConfLow: f64(e - 1.7), ConfHigh: f64(e + 1.7), ChangePct: f64(e / 1.5), BoutsNear: int32(9 + i)})
	}
	rows.Economical = []schemas.EconomicalRate{{Swimmer: "s003", Stroke: "freestyle", Design: findings.Designed, PaceRole: "reference",
		RatePctOfUsual: f64(106.4), LowSwum: f64(82.2), HighSwum: f64(118.6)}}
	for i, day := range []string{"2026-01-05", "2026-01-12", "2026-01-19", "2026-02-02", "2026-02-09"} {
		changes := ""
		if i > 2 {
			changes = "quieter-kick"
		}
		r := schemas.HeartCost{Swimmer: "s003", Stroke: "freestyle", Session: "s003-" + day, LocalDate: day,
			HeartCost: f64([]float64{2.3, -1.1, 0.4, -2.2, -0.9}[i]), StdError: f64(1.2), Bouts: 9, Changes: changes}
		if i == 1 {
			r.HeartCost, r.StdError, r.Reason = nil, nil, str("fewer than three comparable bouts")
		}
		rows.HeartCost = append(rows.HeartCost, r)
	}
	rows.Reliability = []schemas.Reliability{{Scope: "swimmer", Swimmer: "s003", Stroke: "freestyle", TypicalError: f64(1.84), Detectable: f64(5.1)}}
	rows.Ledger = []schemas.LedgerEntry{
		{FileID: "f-1", Record: 17, Records: 1, Kind: "length", Session: str("s003-2026-01-05"), Rule: "missed-turn", Action: "repaired", Detail: "61 s among lengths of 30 s"},
		{FileID: "f-1", Record: 900, Records: 4, Kind: "heart-rate", Rule: "dropout", Action: "excluded"},
		{FileID: "f-2", Record: 3, Records: 1, Kind: "length", Rule: "drill", Action: "excluded", Detail: "a drill"},
	}
	return rows
}

func renderSwimmer(t testing.TB, in PageInput, rows SwimmerRows) []byte {
	t.Helper()
	page, err := SwimmerPage(in, rows)
	if err != nil {
		t.Fatal(err)
	}
	return page
}

func TestGoldenSwimmerPage(t *testing.T) {
	in := invented(9)
	in.SwimmerPages = true
	got := renderSwimmer(t, in, inventedSwimmer())
	path := filepath.Join("testdata", "swimmer.html")
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("the page differs from testdata/swimmer.html; run with -update and look at it in a browser")
	}
}

// TestSwimmerPageShowsTheRows looks for each number of the rows, and for
// nothing of what a swimmer's page must not hold.
func TestSwimmerPageShowsTheRows(t *testing.T) {
	in, rows := invented(9), inventedSwimmer()
	words, _ := walk(t, renderSwimmer(t, in, rows), func(element) {})
	for _, want := range []string{"+7.1", "+2.4", "\u22120.6", "+1.3", "cheapest 106 %", "82 to 119 %", "\u22122.2", "1.8 bpm to either side",
		"quieter-kick", "fewer than three comparable bouts", "missed-turn", "61 s among lengths of 30 s", "140 bouts, 121 are usable"} {
		if !strings.Contains(words, want) {
			t.Errorf("%q is not on the page", want)
		}
	}
	if strings.Contains(words, "dropout") {
		t.Error("heart-rate samples bury the lengths")
	}
	for _, f := range in.Findings {
		if f.Swimmer != nil && *f.Swimmer == "s003" && f.Question == findings.BySwimmer && !strings.Contains(words, f.Sentence) {
			t.Errorf("the page lacks the finding %q", f.Sentence)
		}
		if f.Swimmer != nil && *f.Swimmer != "s003" && f.Question == findings.BySwimmer && strings.Contains(words, f.Sentence) {
			t.Errorf("the page holds another swimmer's finding %q", f.Sentence)
		}
	}
}

// TestSwimmerPageKeepsMedicineBack holds the page by pseudonym of a swimmer who
// takes medicine against that of one who does not.
func TestSwimmerPageKeepsMedicineBack(t *testing.T) {
	in := invented(9) // s005 takes some
	rows := SwimmerRows{Swimmer: "s005"}
	general := strings.Count(string(renderSwimmer(t, in, SwimmerRows{Swimmer: "s003"})), "medic")
	if got := strings.Count(string(renderSwimmer(t, in, rows)), "medic"); got != general {
		t.Errorf("by pseudonym, medicine is spoken of %d times, and %d times to one who takes none", got, general)
	}
	in.Name = func(p string) string { return "Ada" }
	if !strings.Contains(string(renderSwimmer(t, in, rows)), findings.CautionMedication) {
		t.Error("the squad's own page says nothing of medicine")
	}
}

func TestSwimmerPageOfNothing(t *testing.T) {
	words, _ := walk(t, renderSwimmer(t, invented(3), SwimmerRows{Swimmer: "s999"}), func(element) {})
	if !strings.Contains(words, "No answer yet.") {
		t.Error("a swimmer without rows gets no word of it")
	}
}

func TestLongLedgersAreCut(t *testing.T) {
	rows := inventedSwimmer()
	for i := range mostRecords + 10 {
		rows.Ledger = append(rows.Ledger, schemas.LedgerEntry{FileID: "f-9", Record: int64(i), Kind: "length", Rule: "drill", Action: "excluded", Detail: fmt.Sprint("drill ", i)})
	}
	words, _ := walk(t, renderSwimmer(t, invented(9), rows), func(element) {})
	if !strings.Contains(words, "The first 300 are listed; the table ledger holds 12 more.") {
		t.Error("a cut list does not say so")
	}
}

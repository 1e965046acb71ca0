package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// The sheet that a plan brings to the deck, filled in, is a lane sheet of set rates
// that the study answers from.
func TestDeckSheetIsRead(t *testing.T) {
	folder := t.TempDir()
	var words bytes.Buffer
	o := outside{stdout: &words, stderr: &words, folder: folder, width: 80}
	if code := runCommand(context.Background(), []string{"plan", "--swimmers", "2", "--sessions", "8", "--trials", "0", "--deck", "deck", "--usual", "mira=50, ivo=60"}, o); code != exitDone {
		t.Fatalf("code %d: %s", code, words.String())
	}
	if code := runCommand(context.Background(), []string{"plan", "--swimmers", "2", "--sessions", "8", "--trials", "0", "--deck", "deck"}, o); code != exitFailed {
		t.Errorf("a sheet was written over: code %d", code)
	}
	data, err := os.ReadFile(filepath.Join(folder, "deck", "deck.csv"))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil || len(rows) != 1+2*8*8 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	for i, row := range rows[1:] {
		session, _ := strconv.Atoi(row[at["session"]])
		target, err := strconv.ParseFloat(row[at["rate_target"]], 64)
		if err != nil {
			t.Fatal(err)
		}
		seconds := 160 + float64(i%5)
		row[at["date"]], row[at["start"]] = fmt.Sprintf("2026-03-%02d", session), "18:05"
		row[at["time"]] = strconv.FormatFloat(seconds, 'f', 1, 64)
		row[at["strokes"]] = strconv.Itoa(int(target*seconds/60 + 0.5))
		row[at["hr"]] = strconv.Itoa(int(120 + 0.4*target + float64((i*7)%5)))
		row[at["rest"]] = "30"
	}
	squad := filepath.Join(folder, "squad")
	if err := os.MkdirAll(filepath.Join(squad, "sheets"), 0o755); err != nil {
		t.Fatal(err)
	}
	var sheet bytes.Buffer
	if err := csv.NewWriter(&sheet).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"sheets/deck.csv": sheet.String(), "study.yaml": "inputs: [{path: 'sheets/*.csv', kind: sheet}]\nprivacy: {identify: as-given}\nanalysis: {sensitivity: false}\n"} {
		if err := os.WriteFile(filepath.Join(squad, filepath.FromSlash(name)), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	s, err := study.Load(filepath.Join(squad, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	r, err := run.Assess(context.Background(), s, run.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Bouts) != 128 || r.Counts.Designed != 128 || r.Counts.Usable != 128 || len(r.Swimmers) != 2 {
		t.Errorf("%d bouts, %d designed, %d usable, %d swimmers", len(r.Bouts), r.Counts.Designed, r.Counts.Usable, len(r.Swimmers))
	}
	for _, row := range r.Answers.BySwimmer {
		if row.Verdict != "tracks" {
			t.Errorf("%s: %s; higher rates were made dearer", row.Swimmer, row.Verdict)
		}
	}
}

func TestPlanAnswers(t *testing.T) {
	for _, c := range []struct {
		args  string
		code  int
		words string
	}{
		{"--trials 0 --effect 2", exitDone, "swimmers, 8 sessions each, 8 bouts a session: if 10 % more strokes a minute"},
		{"--trials 4 --effect -3 --swimmers 7", exitDone, "4 such squads simulated through all stages"},
		{"--trials 0 --width 1 --swimmers 1", exitDone, "the swimmer's own number"},
		{"--trials 0 --concordance 0.65", exitDone, "makes 0.65 of the pairs"},
		{"--trials 0 --observed --effect 3", exitDone, "go together with"},
		{"--change 4 --schedule once", exitDataRefused, "26 sessions and more leave enough dates"},
		{"--change 4 --schedule staggered", exitDone, "every swimmer on another date"},
		{"--trials 0 --effect 0.01", exitDataRefused, "no study of up to 400 swimmers"},
		{"--effect 2 --change 3", exitUsage, "one of --effect, --concordance and --change"},
		{"--effect 0", exitUsage, "cannot be found"},
		{"--schedule weekly", exitUsage, "there are once, alternating, staggered"},
		{"--power 1.2", exitUsage, "--power"},
		{"--bouts 1", exitUsage, "--bouts from 2"},
		{"--trials 0 --deck x --observed", exitUsage, "leave --observed out"},
		{"--trials 0 --deck x --usual mira", exitUsage, "write name=strokes a minute"},
		{"--from-study", exitUsage, "study"},
	} {
		var out, words bytes.Buffer
		o := outside{stdout: &out, stderr: &words, folder: t.TempDir(), width: 80}
		code := runCommand(context.Background(), append([]string{"plan"}, strings.Fields(c.args)...), o)
		text := strings.Join(strings.Fields(out.String()+words.String()), " ")
		if c.args == "--from-study" && code == exitFailed { // no study file here
			continue
		}
		if code != c.code || !strings.Contains(text, c.words) {
			t.Errorf("plan %s: code %d, %q", c.args, code, text)
		}
	}
	var out bytes.Buffer
	o := outside{stdout: &out, stderr: &out, folder: t.TempDir(), width: 80}
	if code := runCommand(context.Background(), []string{"plan", "--trials", "3", "--json", "--swimmers", "7", "--effect", "3"}, o); code != exitDone {
		t.Fatal(code, out.String())
	}
	var p planned
	if err := json.Unmarshal(out.Bytes(), &p); err != nil || p.Power.Squad <= 0.5 || p.Simulated == nil || p.Simulated.Trials != 3 || len(p.Curve) < 4 {
		t.Errorf("%+v, %v", p, err)
	}
}

package study

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write the golden files anew")

func mustParse(t *testing.T, text string) *Study {
	t.Helper()
	s, err := Parse([]byte(text), "study.yaml")
	if err != nil {
		t.Fatalf("Parse: %v", err)
	}
	return s
}

const smallest = "inputs: [{path: a/*.csv, kind: sheet}]\n"

func TestOnlyInputsAreRequired(t *testing.T) {
	s := mustParse(t, smallest)
	want := Default()
	want.Inputs = []Input{{Pattern: "a/*.csv", Kind: Sheet, StrokeCount: UnknownBasis}}
	if !reflect.DeepEqual(s, want) {
		t.Errorf("got %+v\nwant %+v", s, want)
	}
	for _, text := range []string{"", "# nothing\n", "{}\n", "study: x\n", "inputs:\n", "inputs: []\n"} {
		if _, err := Parse([]byte(text), "study.yaml"); err == nil || !strings.Contains(err.Error(), "inputs: is missing") {
			t.Errorf("%q: error %v does not say that inputs are missing", text, err)
		}
	}
}

func TestEmptyKeysLeaveTheDefaults(t *testing.T) {
	got := mustParse(t, smallest+"study:\nscreen:\ncost: {}\nanalysis: ~\nroster:\nchanges:\n")
	if want := mustParse(t, smallest); !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v\nwant %+v", got, want)
	}
}

func TestLoadReadsEverySetting(t *testing.T) {
	s, err := Load(filepath.Join("testdata", "full.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if !filepath.IsAbs(s.Folder) || filepath.Base(s.Folder) != "testdata" || s.File != "full.yaml" {
		t.Errorf("Folder %q, File %q", s.Folder, s.File)
	}
	sheet := s.Inputs[1]
	checks := map[string]bool{
		"name":       s.Name == "harbour-squad",
		"seed":       s.Seed == 20261125,
		"zone":       s.TimeZone.String() == "Europe/Lisbon",
		"basis":      s.Inputs[0].StrokeCount == Cycles && sheet.StrokeCount == Arms && s.Inputs[2].StrokeCount == UnknownBasis,
		"input zone": sheet.TimeZone.String() == "Europe/Paris" && s.Inputs[0].TimeZone == nil,
		"pool":       sheet.PoolM == 100.0/3,
		"hr source":  sheet.HRSource == "palpated",
		"counts":     sheet.Strokes == "per-length" && sheet.HRCount == 15*time.Second && sheet.HRDelay == 5*time.Second,
		"dates":      sheet.Dates == DayFirst && s.Inputs[0].Dates == AnyOrder,
		"columns":    reflect.DeepEqual(sheet.Columns, map[string]string{"time": "Split", "strokes": "SC"}),
		"group":      s.Privacy.SmallestGroup == 5 && !s.Privacy.AsGiven,
		"off":        s.Screen.Off["start-value"] && s.Screen.Off["false-turn"] && len(s.Screen.Off) == 2,
		"slowest":    s.Screen.SlowestMPS == 0.25 && s.Screen.FastestMPS == 2.6,
		"cost": s.Cost == Cost{Measure: "hr-reserve", Steady: "window", SteadyAfter: 2 * time.Minute,
			Window: 45 * time.Second, ShortestBout: time.Minute, HRSource: "strap", VO2Rest: 3.8, LactateEquivalent: 2.7},
		"pace":        s.Analysis.ReferencePace == 90.5,
		"strokes":     reflect.DeepEqual(s.Analysis.Strokes, []string{"freestyle", "backstroke"}),
		"all":         s.Changes[0].Swimmers == nil && reflect.DeepEqual(s.Changes[0].On, []string{"2026-03-02"}),
		"some":        reflect.DeepEqual(s.Changes[1].Swimmers, []string{"Ana", "007"}),
		"sensitivity": !s.Analysis.Sensitivity && Default().Analysis.Sensitivity,
		"other files": s.Roster == "roster.csv" && s.Assign == "assign.csv" && s.Notes == "notes.csv",
	}
	for what, ok := range checks {
		if !ok {
			t.Errorf("%s is not as written", what)
		}
	}
}

func TestProblemsHaveLineKeyAndRemedy(t *testing.T) {
	cases := []struct {
		name, text string
		line       int
		want       string // in "key: text"
	}{
		{"unknown key", smallest + "sed: 3\n", 2, `: unknown key "sed"; did you mean seed?`},
		{"unknown inner key", smallest + "analysis:\n  min_session: 3\n", 3, `analysis: unknown key "min_session"; did you mean min_sessions?`},
		{"unknown with nothing near", smallest + "cost: {colour: red}\n", 2, "known: measure, steady, steady_after, window, shortest_bout, hr_source, vo2_rest, lactate_equivalent"},
		{"unknown input key", "inputs:\n  - {path: a.csv, kind: sheet, strokecount: arms}\n", 2, "did you mean stroke_count?"},
		{"twice", "seed: 1\n" + smallest + "seed: 2\n", 3, `key "seed" is already given on line 1`},
		{"merge key", "inputs: [{path: a.csv, kind: sheet}]\n<<: {seed: 2}\n", 2, `unknown key "<<"`},
		{"seed negative", smallest + "seed: -1\n", 2, "seed: \"-1\" is not a whole number from 0 up"},
		{"seed quoted", smallest + "seed: \"1\"\n", 2, "is not a whole number"},
		{"zone", smallest + "timezone: Europe/Lisboa\n", 2, "no time zone of the IANA list"},
		{"zone of the machine", smallest + "timezone: Local\n", 2, "no time zone of the IANA list"},
		{"kind", "inputs: [{path: a, kind: sheets}]\n", 1, `inputs[1].kind: "sheets" is not one of activity, sheet, heart-rate; did you mean sheet?`},
		{"kind missing", "inputs:\n  - {path: a}\n", 2, "inputs[1]: kind is missing"},
		{"path missing", "inputs:\n  - {kind: sheet}\n", 2, "inputs[1]: path is missing"},
		{"path out", "inputs:\n  - kind: sheet\n    path: ../a.csv\n", 3, "inputs[1].path: files outside the study file's folder"},
		{"path absolute", "inputs: [{path: /a.csv, kind: sheet}]\n", 1, "without a leading /"},
		{"path backslash", "inputs: [{path: 'a\\b.csv', kind: sheet}]\n", 1, "write paths with /"},
		{"path deep", "inputs: [{path: 'a/**/b.csv', kind: sheet}]\n", 1, "* stays within one folder"},
		{"two swimmers", "inputs: [{path: '{swimmer}/{swimmer}.csv', kind: sheet}]\n", 1, "may stand once"},
		{"other brace", "inputs: [{path: '{name}/a.csv', kind: sheet}]\n", 1, "only name in braces"},
		{"pool without unit", "inputs: [{path: a, kind: sheet, pool: 25}]\n", 1, "needs its unit"},
		{"columns of a file", "inputs: [{path: a, kind: activity, columns: {time: T}}]\n", 1, "an activity file has no columns"},
		{"unknown column", "inputs: [{path: a, kind: sheet, columns: {tim: T}}]\n", 1, "inputs[1].columns.tim: unknown column; did you mean time?"},
		{"header twice", "inputs: [{path: a, kind: sheet, columns: {time: T, rest: t}}]\n", 1, "already stands for rest"},
		{"count of a log", "inputs: [{path: a, kind: heart-rate, stroke_count: arms}]\n", 1, "counts no strokes"},
		{"dates of an activity", "inputs: [{path: a, kind: activity, dates: day-first}]\n", 1, "inputs[1].dates: is for sheets and logs"},
		{"count over half a minute more", "inputs: [{path: a, kind: sheet, hr_count: 45s}]\n", 1, "is not one of 6s, 10s, 15s, 20s, 30s"},
		{"duration without unit", smallest + "cost: {window: 30}\n", 2, "cost.window: \"30\" is not a time span; write it with its unit"},
		{"duration too long", smallest + "cost: {window: 48h}\n", 2, "is outside 1s to 1h0m0s"},
		{"a resting uptake of nobody", smallest + "cost: {vo2_rest: 40}\n", 2, "vo2_rest"},
		{"reserve without roster", smallest + "cost: {measure: hr-reserve}\n", 2, "needs a roster with hr_rest and hr_max"},
		{"low above high", smallest + "screen: {slowest_mps: 3}\n", 2, "screen.slowest_mps: slowest_mps (3) must be below fastest_mps (2.6)"},
		{"high below low", smallest + "screen: {highest_hr_bpm: 20}\n", 2, "screen.highest_hr_bpm: lowest_hr_bpm (30) must be below highest_hr_bpm (20)"},
		{"off fixed", smallest + "screen: {off: [no-consent]}\n", 2, "no-consent cannot be switched off"},
		{"off no list", smallest + "screen: {off: drill}\n", 2, "must be a list"},
		{"not a number", smallest + "screen: {fastest_mps: .nan}\n", 2, "is not a number"},
		{"pace", smallest + "analysis: {reference_pace: 1:75}\n", 2, "write auto, or the time for 100 m"},
		{"pace too quick", smallest + "analysis: {reference_pace: 20}\n", 2, "outside the speeds that the screen lets pass"},
		{"stroke", smallest + "analysis: {strokes: [freestlye]}\n", 2, "did you mean freestyle?"},
		{"sensitivity", smallest + "analysis: {sensitivity: yes}\n", 2, "is not one of true, false"},
		{"stroke twice", smallest + "analysis: {strokes: [freestyle, freestyle]}\n", 2, "freestyle stands twice"},
		{"strokes empty", smallest + "analysis: {strokes: []}\n", 2, "name at least one stroke"},
		{"fewer bouts than sessions", smallest + "analysis: {min_bouts: 5}\n", 2, "must be at least min_sessions"},
		{"change without date", smallest + "changes:\n  - {name: a}\n", 3, "on is missing"},
		{"change date", smallest + "changes: [{name: a, on: 2.3.2026}]\n", 2, "write it as 2026-03-02"},
		{"change twice", smallest + "changes:\n- {name: a, on: 2026-03-02}\n- {name: a, on: 2026-03-03}\n", 4, "change 1 has this name already"},
		{"change of everybody twice", smallest + "changes:\n- {name: a, on: 2026-03-02, swimmers: [Ana]}\n- {name: a, on: 2026-03-03}\n", 4, "give each entry swimmers of its own"},
		{"change of a swimmer twice", smallest + "changes:\n- {name: a, on: 2026-03-02, swimmers: [Ana Lima]}\n- {name: a, on: 2026-03-03, swimmers: [ana  lima]}\n", 4, "is in change 1 of the same name already"},
		{"change of nobody", smallest + "changes: [{name: a, on: 2026-03-02, swimmers: []}]\n", 2, "names nobody"},
		{"change off first", smallest + "changes: [{name: a, on: 2026-03-02, off: 2026-03-01}]\n", 2, "2026-03-01 does not come after 2026-03-02"},
		{"change on twice", smallest + "changes: [{name: a, on: [2026-03-02, 2026-04-02]}]\n", 2, "on has 2 dates and off has 0"},
		{"change off without on", smallest + "changes: [{name: a, off: 2026-03-02}]\n", 2, "on is missing"},
		{"change off date", smallest + "changes: [{name: a, on: 2026-03-02, off: [soon]}]\n", 2, "changes[1].off[1]: \"soon\" is not a date"},
		{"beforehand twice", smallest + "analysis: {set_beforehand: [kick, Kick]}\n", 2, "is in the list already"},
		{"beforehand anyway", smallest + "analysis: {set_beforehand: [instruction]}\n", 2, "is always set beforehand"},
		{"beforehand breathing", smallest + "analysis: {set_beforehand: [breathing]}\n", 2, "nothing is concluded from breath patterns"},
		{"change swimmers", smallest + "changes: [{name: a, on: 2026-03-02, swimmers: Ana}]\n", 2, "write all, or a list"},
		{"roster pattern", smallest + "roster: '*.csv'\n", 2, "names one file"},
		{"list for text", smallest + "study: [a]\n", 2, "must be a single value"},
		{"text for mapping", smallest + "cost: bpm\n", 2, "must hold settings"},
		{"root is a list", "- a\n", 1, "must hold settings"},
		{"element empty", "inputs: [~]\n", 1, "inputs[1]: is empty"},
		{"two documents", smallest + "---\n" + smallest, 2, "a second document"},
		{"syntax", smallest + "cost: {measure: bpm\n", 0, "not a YAML file"},
		{"tab", "inputs:\n\t- a\n", 2, "not a YAML file"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse([]byte(c.text), "study.yaml")
			var problems *Problems
			if !errors.As(err, &problems) {
				t.Fatalf("error %v is no *Problems", err)
			}
			for _, p := range problems.List {
				if strings.Contains(p.Key+": "+p.Text, c.want) {
					if c.line != 0 && p.Line != c.line {
						t.Errorf("line %d, want %d", p.Line, c.line)
					}
					return
				}
			}
			t.Errorf("got:\n%v\nwant %q", err, c.want)
		})
	}
}

func TestAllProblemsComeAtOnceByLine(t *testing.T) {
	text := "sed: 1\ninputs:\n  - {path: a, kind: shet}\ncost: {window: 3}\noutput: [x]\n"
	_, err := Parse([]byte(text), "study.yaml")
	var problems *Problems
	if !errors.As(err, &problems) {
		t.Fatalf("error %v", err)
	}
	var lines []int
	for _, p := range problems.List {
		lines = append(lines, p.Line)
	}
	if want := []int{1, 3, 4, 5}; !reflect.DeepEqual(lines, want) {
		t.Errorf("lines %v, want %v:\n%v", lines, want, err)
	}
	if first := strings.SplitN(err.Error(), "\n", 2)[0]; !strings.HasPrefix(first, "study.yaml:1: ") {
		t.Errorf("first line %q", first)
	}
}

func TestOutputMayNotSwallowTheStudy(t *testing.T) {
	for _, c := range []struct {
		output string
		ok     bool
	}{
		{"out", true}, {"results/2026", true}, {"../elsewhere", true},
		{".", false}, {"..", false}, {"./", false}, {"private", false}, {"private/pages", false},
		{"a", false}, {"lists", false},
	} {
		folder := t.TempDir()
		path := filepath.Join(folder, "study.yaml")
		text := smallest + "roster: lists/roster.csv\noutput: " + c.output + "\n"
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Load(path)
		if (err == nil) != c.ok {
			t.Errorf("output %q: error %v", c.output, err)
		}
	}
}

func TestLoadOfAMissingFile(t *testing.T) {
	_, err := Load(filepath.Join(t.TempDir(), "study.yaml"))
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("error %v does not wrap os.ErrNotExist", err)
	}
}

func TestCheckOffNamesTheNearestRule(t *testing.T) {
	s := mustParse(t, smallest+"screen:\n  off:\n    - false-turn\n    - dril\n")
	err := s.CheckOff([]string{"drill", "false-turn"})
	var problems *Problems
	if !errors.As(err, &problems) || len(problems.List) != 1 {
		t.Fatalf("error %v", err)
	}
	if p := problems.List[0]; p.Line != 5 || !strings.Contains(p.Text, "did you mean drill?") {
		t.Errorf("problem %+v", p)
	}
	if err := s.CheckOff([]string{"dril", "false-turn"}); err != nil {
		t.Errorf("known rules: %v", err)
	}
}

func TestAnalysisNeverComesFromTheEnvironment(t *testing.T) {
	want := mustParse(t, smallest)
	for _, name := range []string{"SEED", "STUDY", "OUTPUT", "TIMEZONE", "COST", "ANALYSIS_RESAMPLES"} {
		t.Setenv(name, "7")
		t.Setenv("LENGTHWISE_"+name, "7")
	}
	if got := mustParse(t, smallest); !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v\nwant %+v", got, want)
	}
}

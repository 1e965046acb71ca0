package run

import (
	"context"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// attentionStudy is a study of one sheet with the given lists.
func attentionStudy(t *testing.T, files map[string]string) *study.Study {
	t.Helper()
	folder := t.TempDir()
	text := "study: small\ninputs:\n  - {path: \"sheets/*.csv\", kind: sheet}\n"
	for _, list := range []string{"roster", "assign", "notes"} {
		if _, ok := files[list+".csv"]; ok {
			text += list + ": " + list + ".csv\n"
		}
	}
	files["study.yaml"] = text
	put(t, folder, files)
	return withKey(t, folder)
}

const smallSheet = "swimmer,date,rep,distance_m,pool,stroke,time,strokes\n"

func TestAttention(t *testing.T) {
	s := attentionStudy(t, map[string]string{
		"sheets/lane1.csv": smallSheet + "Oto Brack,2026-03-02,1,100,25m,free,80,60\noto  brack,2026-03-02,2,100,25m,free,80,60\nTess Vane,2026-03-02,1,100,25m,free,80,60\n",
		"sheets/lane2.csv": smallSheet + "Tess Vane,2026-03-02,1,100,25,free,80,60\nTess Vane,2026-03-02,2,100,25,free,80,60\nTess Vane,2026-03-02,3,100,25m,free,soon,60\n",
		"roster.csv":       "swimmer,squad,consnet\nOtto Brack,a,yes\nTess Vane,a,yes\n",
		"assign.csv":       "file,swimmer\nsheets/lane1.csv,Tess Vain\nsheets/lane3.csv,Tess Vane\nphoto.jpg,Tess Vane\nsheets/*.csv,Tess Vane\n",
		"notes.csv":        "swimmer,date,rep_from,rep_to,key,value\nUma Fell,2026-03-02,1,2,kick,none\n",
		"photo.jpg":        "x",
	})
	r, err := Assess(context.Background(), s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	a := r.Attention
	files := a.Files
	a.Files = nil
	want := Attention{
		Roster:        "roster.csv",
		RosterColumns: []read.UnknownColumn{{Position: 3, Header: "consnet", Nearest: "consent"}},
		Waiting:       []string{"Otto Brack", "Tess Vane"},
		Unknown: []UnknownName{
			{"sheets/lane1.csv", "Oto Brack", []string{"Otto Brack"}},
			{"assign.csv", "Tess Vain", []string{"Tess Vane"}},
			{"notes.csv", "Uma Fell", []string{}},
		},
		NoFile: []NoFile{{"sheets/lane3.csv", false, []string{"sheets/lane1.csv"}}, {"photo.jpg", true, []string{}}},
	}
	if !reflect.DeepEqual(a, want) {
		t.Errorf("got\n%+v\nwant\n%+v", a, want)
	}
	if len(r.Lengths) != 0 || len(r.NoOwner) != 0 {
		t.Errorf("%d lengths, files without an owner %+v", len(r.Lengths), r.NoOwner)
	}
	for _, l := range files {
		if l.Files[0] != "sheets/lane2.csv" {
			continue
		}
		want := RuleLedger{"unreadable", "excluded", 3, []string{"lines 2-3, column pool: a pool length needs its unit: write 25m or 25y",
			"line 4, column time: the text in it is no time; write seconds or m:ss.s"}, 0}
		if l.Used || len(l.Rules) == 0 || !reflect.DeepEqual(l.Rules[0], want) {
			t.Errorf("%+v, want first %+v", l, want)
		}
		return
	}
	t.Errorf("no ledger of lane2.csv: %+v", files)
}

// Without a column consent a whole roster is out; without a roster everybody
// is in.
func TestAttentionConsent(t *testing.T) {
	sheet := smallSheet + "Otto Brack,2026-03-02,1,100,25m,free,80,60\nTess Vane,2026-03-02,1,100,25m,free,80,60\n"
	for _, c := range []struct {
		roster            string
		lengths           int
		waiting, declined []string
	}{
		{"", 8, nil, nil},
		{"swimmer,squad\nOtto Brack,a\nTess Vane,a\n", 0, []string{"Otto Brack", "Tess Vane"}, nil},
		{"swimmer,squad,agreed\nOtto Brack,a,yes\nTess Vane,a,yes\n", 0, []string{"Otto Brack", "Tess Vane"}, nil},
		{"swimmer,squad,consent\nOtto Brack,a,yes\nTess Vane,a,\n", 4, []string{"Tess Vane"}, nil},
		{"swimmer,squad,consent\nOtto Brack,a,yes\nTess Vane,a,no\n", 4, nil, []string{"Tess Vane"}},
	} {
		files := map[string]string{"sheets/a.csv": sheet}
		if c.roster != "" {
			files["roster.csv"] = c.roster
		}
		r, err := Assess(context.Background(), attentionStudy(t, files), Options{})
		if err != nil {
			t.Fatal(err)
		}
		a := r.Attention
		if len(r.Lengths) != c.lengths || !reflect.DeepEqual(a.Waiting, c.waiting) || !reflect.DeepEqual(a.Declined, c.declined) || (a.Roster == "") != (c.roster == "") {
			t.Errorf("%q: %d lengths, %+v", c.roster, len(r.Lengths), a)
		}
	}
}

func TestListsThatAreNotThere(t *testing.T) {
	for _, list := range []string{"roster", "assign", "notes"} {
		s := attentionStudy(t, map[string]string{"sheets/a.csv": smallSheet,
			"roster.csv": "swimmer,consent\nOtto Brack,yes\n", "assign.csv": "file,swimmer\n", "notes.csv": "swimmer,date,key,value\n"})
		if err := os.Remove(filepath.Join(s.Folder, list+".csv")); err != nil {
			t.Fatal(err)
		}
		_, err := Assess(context.Background(), s, Options{})
		if err == nil || !strings.Contains(err.Error(), "in the study file ("+list+": "+list+".csv)") {
			t.Errorf("%s: %v", list, err)
		}
	}
}

func TestDetails(t *testing.T) {
	entries := func(details ...string) []read.Entry {
		out := make([]read.Entry, len(details))
		for i, d := range details {
			out[i] = read.Entry{Record: int64(i + 1), Records: 2, Rule: "r", Action: read.Excluded, Detail: d}
		}
		return out
	}
	for _, c := range []struct {
		details []string
		want    []string
	}{
		{[]string{"line 2: x"}, []string{"line 2: x"}},
		{[]string{"line 2: x", "line 4: y", "line 3: x", "line 3: x", "line 9: x"}, []string{"lines 2-3, 9: x", "line 4: y"}},
		{[]string{"line 1: x", "line 3: x", "line 5: x", "line 7: x", "line 9: x", "line 10: x"}, []string{"lines 1, 3, 5, 7 and 2 more: x"}},
		{[]string{"whole file", "whole file", "line x", "line"}, []string{"whole file", "line x", "line"}},
		{[]string{"a", "b", "c", "d", "e"}, []string{"a", "b", "c"}},
		{[]string{""}, nil},
	} {
		got := ruleLedgers(entries(c.details...))
		more := 0
		if len(c.details) == 5 && c.details[0] == "a" {
			more = 2
		}
		if len(got) != 1 || !reflect.DeepEqual(got[0].Details, c.want) || got[0].More != more || got[0].Records != int64(2*len(c.details)) {
			t.Errorf("%q: %+v, want %q", c.details, got, c.want)
		}
	}
}

func TestUnknownNames(t *testing.T) {
	registry, err := identity.New(study.Privacy{AsGiven: true}, nil, []identity.Member{{Record: 1, Name: "Otto Brack"}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	got := unknownNames("a.csv", []identity.Seen{{Swimmer: "x", Name: "X"}, {Name: "Oto Brack"}, {Name: " oto brack"}, {Name: " "}}, registry)
	if want := []UnknownName{{"a.csv", "Oto Brack", []string{"Otto Brack"}}}; !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// Files of which the ledger says the same stand together, whatever the number
// of their records; what else they say keeps them apart.
func TestJoinEqual(t *testing.T) {
	one := func(file string, used bool, records int64, details ...string) FileLedger {
		return FileLedger{Files: []string{file}, Used: used, Rules: []RuleLedger{{"r", "excluded", records, details, 0}}}
	}
	got := joinEqual([]FileLedger{one("a", false, 3, "x"), one("b", false, 4, "y"), one("c", false, 5, "x"), one("d", true, 6, "x"), one("e", false, 7, "x")})
	want := []FileLedger{one("a", false, 15, "x"), one("b", false, 4, "y"), one("d", true, 6, "x")}
	want[0].Files = []string{"a", "c", "e"}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// A detail that names another file by its id names its path on the terminal.
func TestDetailsNamePaths(t *testing.T) {
	sheet := smallSheet + "Otto Brack,2026-03-02,1,100,25m,free,80,60\n"
	r, err := Assess(context.Background(), attentionStudy(t, map[string]string{"sheets/a.csv": sheet, "sheets/b.csv": sheet}), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Attention.Files) != 1 || !strings.Contains(r.Attention.Files[0].Rules[0].Details[0], "as in sheets/") {
		t.Errorf("%+v", r.Attention.Files)
	}
	for _, e := range r.Ledger {
		if strings.Contains(e.Detail, "sheets") {
			t.Errorf("the ledger tells a path: %s", e.Detail)
		}
	}
}

func TestLeftOut(t *testing.T) {
	entry := func(record, records int64, kind read.RecordKind, action read.Action) read.Entry {
		return read.Entry{Record: record, Records: records, Kind: kind, Action: action}
	}
	entries := []read.Entry{
		entry(5, 3, read.KindHeartRate, read.Excluded), entry(1, 2, read.KindHeartRate, read.Excluded), entry(6, 4, read.KindHeartRate, read.Excluded),
		entry(6, 1, read.KindHeartRate, read.Excluded), entry(20, 5, read.KindHeartRate, read.Noted), entry(30, 1, read.KindLength, read.Excluded),
	}
	if got := leftOut(entries); got != 7 { // 1, 2 and 5 to 9
		t.Errorf("%d records, want 7", got)
	}
}

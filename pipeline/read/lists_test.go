package read

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

func TestHeartRateLogGolden(t *testing.T) {
	for path, data := range sheetFixtures(t, "pulse") {
		f, seen, err := HeartRateLog(data, sheetSource(t))
		if err != nil {
			t.Fatal(err)
		}
		sheetBalance(t, f, sheetRows(t, data, study.HeartRate, nil))
		sheetNoNames(t, f.Entries)
		sheetGolden(t, strings.TrimSuffix(path, ".csv")+".txt", sheetDump(f, seen))
	}
}

// In the night of 25 October 2026 a Lisbon clock runs from 01:00 to 02:00
// twice: a log that goes on through it keeps going forward.
func TestHeartRateLogThroughTheRepeatedHour(t *testing.T) {
	var log strings.Builder
	log.WriteString("swimmer,timestamp,hr\n")
	zone := sheetSource(t).Zone
	start := time.Date(2026, 10, 25, 0, 10, 0, 0, time.UTC)
	for i := range 12 {
		fmt.Fprintf(&log, "Ana Lima,%s,%d\n", start.Add(time.Duration(i)*10*time.Minute).In(zone).Format("2006-01-02 15:04:05"), 100+i)
	}
	f, _, err := HeartRateLog([]byte(log.String()), sheetSource(t))
	if err != nil || len(f.Recordings) != 1 {
		t.Fatalf("%+v, %v", f, err)
	}
	for i, s := range f.Recordings[0].Samples {
		if s.TimeS != float64(600*i) {
			t.Errorf("sample %d at %v s, want %d", i, s.TimeS, 600*i)
		}
	}
	if len(f.Entries) != 1 || f.Entries[0].Rule != RuleClockChange || f.Entries[0].Records != 11 {
		t.Errorf("entries %+v", f.Entries)
	}
}

func TestHeartRateLogStartsAtTheEarliestSample(t *testing.T) {
	f, _, err := HeartRateLog([]byte("swimmer;timestamp;hr\nAna Lima;1772476210;100,5\nAna Lima;1772476200;101\n"), sheetSource(t))
	if err != nil {
		t.Fatal(err)
	}
	r := f.Recordings[0]
	if r.Start.Unix() != 1772476200 || r.Samples[0].TimeS != 10 || r.Samples[1].TimeS != 0 || r.Samples[0].BPM != 100.5 {
		t.Errorf("%+v", r)
	}
}

func TestHeartRateLogWithoutColumns(t *testing.T) {
	f, _, err := HeartRateLog([]byte("swimmer,timestamp,pulse\nAna Lima,1772476210,100\nAna Lima,1772476211,100\n"), sheetSource(t))
	if err != nil || len(f.Entries) != 1 || f.Entries[0].Rule != RuleMissingColumn || f.Entries[0].Records != 2 {
		t.Fatalf("%+v, %v", f, err)
	}
	sheetBalance(t, f, 2)
	src := sheetSource(t)
	src.FileOwner = identity.Owner{Swimmer: "s-ben"}
	src.Input.Columns = map[string]string{"hr": "pulse"}
	src.Input.HRSource = "strap"
	f, _, err = HeartRateLog([]byte("timestamp,pulse\n1772476210,100\n"), src)
	if err != nil || len(f.Recordings) != 1 || f.Recordings[0].Swimmer != "s-ben" || f.Recordings[0].HRSource != "strap" {
		t.Errorf("%+v, %v", f, err)
	}
	var none *NotTableError
	if _, _, err := HeartRateLog([]byte("a,b\n1,2\n"), src); !errors.As(err, &none) {
		t.Errorf("error %v", err)
	}
}

func TestHeartRateLogMutations(t *testing.T) {
	rng := rand.New(rand.NewPCG(20261125, 3))
	original := sheetFixtures(t, "pulse")["testdata/pulse/log.csv"]
	for range 300 {
		data := csvMutate(rng, original)
		f, _, err := HeartRateLog(data, sheetSource(t))
		if err != nil {
			continue
		}
		sheetBalance(t, f, sheetRows(t, data, study.HeartRate, nil))
		if t.Failed() {
			t.Fatalf("after %q", data)
		}
	}
}

func TestListsGolden(t *testing.T) {
	fixtures := sheetFixtures(t, "lists")
	members, entries, err := Roster(fixtures["testdata/lists/roster.csv"])
	if err != nil {
		t.Fatal(err)
	}
	sheetNoNames(t, entries)
	var out strings.Builder
	for _, m := range members {
		medication := "not stated"
		if m.RateAlteringMedication != nil {
			medication = fmt.Sprint(*m.RateAlteringMedication)
		}
		fmt.Fprintf(&out, "%d %q aliases %q, %s %s, born %d, hr %s to %s in %q, %s kg, %s cm, span %s cm, vo2 %s, devices %q, medication %s, consent %d\n",
			m.Record, m.Name, m.Aliases, m.Squad, m.Sex, m.BirthYear, sheetNumber(m.HRRestBPM), sheetNumber(m.HRMaxBPM), m.HRMaxMeasuredIn,
			sheetNumber(m.MassKG), sheetNumber(m.HeightCM), sheetNumber(m.ArmSpanCM), sheetNumber(m.VO2RestMLPerKGMin), m.Devices, medication, m.Consent)
	}
	sheetGolden(t, "testdata/lists/roster.txt", out.String()+sheetDumpEntries(entries))

	notes, entries, err := Notes(fixtures["testdata/lists/notes.csv"], sheetOwners)
	if err != nil {
		t.Fatal(err)
	}
	sheetNoNames(t, entries)
	out.Reset()
	for _, n := range notes {
		fmt.Fprintf(&out, "%+v\n", n)
	}
	sheetGolden(t, "testdata/lists/notes.txt", out.String()+sheetDumpEntries(entries))

	list, entries, err := Assignments(fixtures["testdata/lists/assign.csv"])
	if err != nil {
		t.Fatal(err)
	}
	out.Reset()
	for _, a := range list {
		fmt.Fprintf(&out, "%+v\n", a)
	}
	sheetGolden(t, "testdata/lists/assign.txt", out.String()+sheetDumpEntries(entries))
}

func TestListsNeedTheirColumns(t *testing.T) {
	_, _, roster := Roster([]byte("name,aliases,squad\nAna,,\n"))
	_, _, notes := Notes([]byte("swimmer,date,value\nAna,2026-03-02,x\n"), sheetOwners)
	_, _, assign := Assignments([]byte("path,swimmer\na,Ana\n"))
	for what, err := range map[string]error{"roster": roster, "notes file": notes, "assign file": assign} {
		var none *NotTableError
		if !errors.As(err, &none) || none.What != what {
			t.Errorf("%s: error %v", what, err)
		}
	}
	members, _, err := Roster([]byte("swimmer,aliases\n"))
	if err != nil || members == nil {
		t.Errorf("a roster of nobody: %v, %v", members, err)
	}
	members, _, err = Roster([]byte("swimmer,squad\nAna,north\n"))
	if err != nil || members[0].Consent != identity.ConsentMissing {
		t.Errorf("no consent column: %+v, %v", members, err)
	}
}

// Consent is a yes under the header consent and nothing else.
func TestRosterConsent(t *testing.T) {
	for _, c := range []struct {
		text    string
		column  bool
		want    identity.Consent
		nearest string // of the one unknown header; "-" when there is none
	}{
		{"swimmer,squad,consent\nAna,,yes\n", true, identity.ConsentYes, "-"},
		{"swimmer,squad,Consent \nAna,,Y\n", true, identity.ConsentYes, "-"},
		{"swimmer,squad,consent\nAna,,no\n", true, identity.ConsentNo, "-"},
		{"swimmer,squad,consent\nAna,,\n", true, identity.ConsentMissing, "-"},
		{"swimmer,squad,consent\nAna,,perhaps\n", true, identity.ConsentMissing, "-"},
		{"swimmer,squad,consnet\nAna,,yes\n", false, identity.ConsentMissing, "consent"},
		{"swimmer,squad,Consent given (guardian)\nAna,,yes\n", false, identity.ConsentMissing, "consent"},
		{"swimmer,squad,Einwilligung\nAna,,yes\n", false, identity.ConsentMissing, ""},
		{"swimmer,squad\nAna,\n", false, identity.ConsentMissing, "-"},
	} {
		members, entries, err := Roster([]byte(c.text))
		if err != nil || len(members) != 1 || members[0].Consent != c.want || members[0].Line != 2 {
			t.Errorf("%q: %+v, %v", c.text, members, err)
		}
		header, err := ReadRosterHeader([]byte(c.text))
		if err != nil || header.Consent != c.column {
			t.Errorf("%q: header %+v, %v", c.text, header, err)
		}
		nearest := "-"
		for _, e := range entries {
			if e.Rule != RuleUnknownColumn {
				continue
			}
			nearest = ""
			if _, after, found := strings.Cut(e.Detail, "nearest is "); found {
				nearest = after
			}
			if e.Action != Noted || len(header.Unknown) != 1 || header.Unknown[0].Nearest != nearest || header.Unknown[0].Position != 3 {
				t.Errorf("%q: %+v, header %+v", c.text, e, header)
			}
			if strings.Contains(e.Detail, "Einwilligung") || strings.Contains(e.Detail, "guardian") {
				t.Errorf("the ledger tells what stands in a header: %s", e.Detail)
			}
		}
		if nearest != c.nearest {
			t.Errorf("%q: nearest %q, want %q", c.text, nearest, c.nearest)
		}
	}
}

func FuzzHeartRateLog(f *testing.F) {
	for _, data := range sheetFixtures(f, "pulse") {
		f.Add(data)
	}
	src := sheetSource(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		file, _, err := HeartRateLog(data, src)
		if err != nil {
			return
		}
		sheetBalance(t, file, sheetRows(t, data, study.HeartRate, src.Input.Columns))
		for _, r := range file.Recordings {
			for _, s := range r.Samples {
				if s.TimeS < 0 {
					t.Fatalf("sample %+v before the start", s)
				}
			}
		}
	})
}

func FuzzRoster(f *testing.F) {
	for _, data := range sheetFixtures(f, "lists") {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		members, entries, err := Roster(data)
		if err != nil {
			return
		}
		table, _ := csvOpen(data, "", "", rosterColumns(), nil)
		listBalance(t, len(table.rows), len(members), entries)
	})
}

func FuzzNotes(f *testing.F) {
	for _, data := range sheetFixtures(f, "lists") {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		notes, entries, err := Notes(data, sheetOwners)
		if err == nil {
			table, _ := csvOpen(data, "", "", []string{"swimmer", "date", "rep_from", "rep_to", "key", "value"}, nil)
			listBalance(t, len(table.rows), len(notes), entries)
		}
		list, entries, err := Assignments(data)
		if err == nil {
			table, _ := csvOpen(data, "", "", []string{"file", "swimmer"}, nil)
			listBalance(t, len(table.rows), len(list), entries)
		}
	})
}

// listBalance asserts that each row is used or excluded.
func listBalance(t *testing.T, rows, used int, entries []Entry) {
	t.Helper()
	for _, e := range entries {
		if e.Action == Excluded {
			used++
		}
	}
	if used != rows {
		t.Errorf("%d rows are accounted for, the file has %d", used, rows)
	}
}

// In a list separated by semicolons, aliases without quotes push every cell
// after them out of place.
func TestListsRefuseRowsOutOfPlace(t *testing.T) {
	members, entries, err := Roster([]byte("swimmer;aliases;squad;consent\nAna;A;B;north;yes\nswimmer;aliases;squad;consent\nBen;\"B;O\";north;yes\n"))
	if err != nil || len(members) != 1 || members[0].Name != "Ben" || len(members[0].Aliases) != 2 {
		t.Fatalf("%+v, %v", members, err)
	}
	if len(entries) != 2 || entries[0].Rule != RuleTooManyCells || entries[1].Rule != RuleHeaderAgain {
		t.Errorf("entries %+v", entries)
	}
}

func TestNotTableErrorSaysWhatWasExpected(t *testing.T) {
	_, _, err := HeartRateLog([]byte("x"), SheetSource{FileID: "f-9"})
	if want := "file f-9: this is no heart-rate log: no header in its first 30 rows; expected columns such as swimmer, timestamp, hr"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

func BenchmarkHeartRateLog(b *testing.B) {
	var log strings.Builder
	log.WriteString("swimmer,timestamp,hr\n")
	start := time.Date(2026, 3, 2, 18, 30, 0, 0, time.UTC)
	for i := range 20_000 {
		fmt.Fprintf(&log, "Ana Lima,%s,%d\n", start.Add(time.Duration(i)*time.Second).Format(time.RFC3339), 120+i%40)
	}
	data, src := []byte(log.String()), sheetSource(b)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, _, err := HeartRateLog(data, src); err != nil {
			b.Fatal(err)
		}
	}
}

// Timestamps as spreadsheets and apps of several countries write them.
func TestHeartRateLogTimestamps(t *testing.T) {
	for _, c := range []struct {
		stamps []string
		dates  study.DateOrder
		want   string // of the last
	}{
		{[]string{"2026-07-02T18:30:15Z"}, "", "2026-07-02T18:30:15Z"},
		{[]string{"2026-07-02 18:30:15"}, "", "2026-07-02T17:30:15Z"},
		{[]string{"02.07.2026 18:30:15"}, "", "2026-07-02T17:30:15Z"},
		{[]string{"2 Jul 2026, 18:30:15"}, "", "2026-07-02T17:30:15Z"},
		{[]string{"7/25/2026 6:30:15 PM", "7/2/2026 6:30:15 PM"}, "", "2026-07-02T17:30:15Z"},
		{[]string{"7/2/2026 6:30:15 PM"}, "", ""},
		{[]string{"2/7/2026 18:30:15"}, study.DayFirst, "2026-07-02T17:30:15Z"},
		{[]string{"46205.770833333"}, "", "2026-07-02T17:30:00Z"},
		{[]string{"46205"}, "", ""},
		{[]string{"02.07.2026"}, "", ""},
		{[]string{"half past six"}, "", ""},
	} {
		src := sheetSource(t)
		src.Input = study.Input{Kind: study.HeartRate, Dates: c.dates}
		f, _, err := HeartRateLog([]byte("swimmer;timestamp;hr\nAna Lima;"+strings.Join(c.stamps, ";100\nAna Lima;")+";100\n"), src)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if n := len(f.Recordings); n > 0 {
			got = f.Recordings[n-1].Start.Format(time.RFC3339)
		}
		if got != c.want {
			t.Errorf("%q: %q, want %q: %+v", c.stamps, got, c.want, f.Entries)
		}
	}
}

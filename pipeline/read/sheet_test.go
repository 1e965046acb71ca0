package read

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

func TestSheetGolden(t *testing.T) {
	for path, data := range sheetFixtures(t, "sheet") {
		src := sheetSource(t)
		if strings.Contains(path, "yards") {
			src.FileOwner = identity.Owner{Swimmer: "s-ana", How: "path"}
		}
		f, seen, err := Sheet(data, src)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		sheetBalance(t, f, sheetRows(t, data, study.Sheet, src.Input.Columns))
		sheetNoNames(t, f.Entries)
		sheetGolden(t, strings.TrimSuffix(path, ".csv")+".txt", sheetDump(f, seen))
	}
}

// One sheet gives the same records in every encoding, with every separator and
// line end, and under other headers.
func TestSheetDialects(t *testing.T) {
	const plain = "swimmer,date,set,rep,length,pool,stroke,time,strokes,rest,equipment\n" +
		"Zo\u00eb,2026-03-02,1,1,1,25m,free,18.25,20,,fins\n" +
		"Zo\u00eb,2026-03-02,1,1,2,25m,free,18.75,21,,fins\n"
	want, _, err := Sheet([]byte(plain), sheetSource(t))
	if err != nil || len(want.Recordings) != 1 || len(want.Recordings[0].Lengths) != 2 || len(want.Entries) != 0 {
		t.Fatalf("%+v, %v", want, err)
	}
	replace := func(pairs ...string) string { return strings.NewReplacer(pairs...).Replace(plain) }
	encode := func(text string, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	cases := map[string]string{
		"BOM":               "\ufeff" + plain,
		"CRLF":              replace("\n", "\r\n"),
		"CR":                replace("\n", "\r"),
		"no last line end":  strings.TrimSuffix(plain, "\n"),
		"CP1252":            encode(charmap.Windows1252.NewEncoder().String(plain)),
		"UTF-16":            encode(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(plain)),
		"semicolon, comma":  replace(",", ";", "18.25", "18,25", "18.75", "18,75"),
		"tab, comma":        replace(",", "\t", "18.25", "18,25", "18.75", "18,75"),
		"quoted commas":     replace("18.25", `"18,25"`, "18.75", `"18,75"`),
		"all quoted":        replace("Zo\u00eb,", `"Zo`+"\u00eb"+`",`, "fins", `"fins"`, "18.25", `"18.25"`),
		"banner":            "Winter block; lane 3, and more\n\n" + plain,
		"case and blanks":   replace("swimmer", " Swimmer ", "date", "DATE", "strokes", "Strokes"),
		"other headers":     replace("time,strokes", "split,SC"),
		"minutes":           replace("18.25", "0:18.25", "18.75", "0:00:18.75"),
		"blank lines":       replace("fins\n", "fins\n\n ,,,,,,,,,,\n"),
		"padded":            replace(",25m,", ", 25m ,", "18.25", " 18.25"),
		"slashed date":      replace("2026-03-02", "2026/03/02"),
		"dotted date":       replace("2026-03-02", "2.3.2026"),
		"trailing cells":    replace(",", ";", "fins", "fins;;"),
		"decomposed accent": replace("\u00eb", "e\u0308"),
	}
	for name, text := range cases {
		t.Run(name, func(t *testing.T) {
			got, _, err := Sheet([]byte(text), sheetSource(t))
			if err != nil {
				t.Fatal(err)
			}
			if a, b := sheetDump(got, nil), sheetDump(want, nil); a != b {
				t.Errorf("got\n%s\nwant\n%s", a, b)
			}
		})
	}
}

func TestSheetCells(t *testing.T) {
	base := map[string]string{"swimmer": "Ana Lima", "date": "2026-03-02", "length": "1", "pool": "25m", "time": "18.5", "strokes": "20"}
	one := func(t *testing.T, changes map[string]string) (File, *Length) {
		t.Helper()
		var names, cells []string
		for _, column := range study.ColumnNames(study.Sheet) {
			cell := base[column]
			if changed, ok := changes[column]; ok {
				cell = changed
			}
			names, cells = append(names, column), append(cells, cell)
		}
		f, _, err := Sheet([]byte(strings.Join(names, ";")+"\n"+strings.Join(cells, ";")+"\n"), sheetSource(t))
		if err != nil {
			t.Fatal(err)
		}
		sheetBalance(t, f, 1)
		if len(f.Recordings) == 0 {
			return f, nil
		}
		return f, &f.Recordings[0].Lengths[0]
	}
	type cells = map[string]string
	values := []struct {
		name    string
		changes cells
		get     func(*Length) any
		want    any
	}{
		{"time in minutes", cells{"time": "1:02.5"}, func(l *Length) any { return l.DurationS }, 62.5},
		{"time in hours", cells{"time": "1:00:01", "length": "", "distance_m": "3000"}, func(l *Length) any { return l.DurationS }, 3601.0},
		{"minutes over 59", cells{"time": "75:10", "length": "", "distance_m": "3000"}, func(l *Length) any { return l.DurationS }, 4510.0},
		{"yards pool", cells{"pool": "25y", "length": "", "distance_m": "365.76", "time": "5:10"}, func(l *Length) any { return l.Covers }, 16},
		{"third of 100 m", cells{"pool": "33.3m", "length": "", "distance_m": "100", "time": "80"}, func(l *Length) any { return l.Covers }, 3},
		{"mean count", cells{"count": "per-length", "length": "", "distance_m": "100", "strokes": "20,5", "time": "80"}, func(l *Length) any { return l.Strokes }, 82.0},
		{"mean count on a length", cells{"count": "per length"}, func(l *Length) any { return l.Strokes }, 20.0},
		{"basis", cells{"count": "Cycles"}, func(l *Length) any { return l.Basis }, study.Cycles},
		{"basis and mean", cells{"count": "cycles, per_length"}, func(l *Length) any { return l.Basis }, study.Cycles},
		{"two bases", cells{"count": "arms/cycles"}, func(l *Length) any { return l.Basis }, study.UnknownBasis},
		{"no basis", cells{}, func(l *Length) any { return l.Basis }, study.CountBasis("")},
		{"not counted", cells{"strokes": "--"}, func(l *Length) any { return math.IsNaN(l.Strokes) }, true},
		{"counted zero", cells{"strokes": "0"}, func(l *Length) any { return l.Strokes }, 0.0},
		{"instruction", cells{"instruction": "Fewest Strokes"}, func(l *Length) any { return l.Tags.Instruction }, "fewest-strokes"},
		{"first rest moves nothing", cells{"rest": "15"}, func(l *Length) any { return l.StartS == 0 && math.IsNaN(l.RestS) }, true},
		{"medley", cells{"stroke": "IM"}, func(l *Length) any { return l.Stroke }, "medley"},
		{"drill", cells{"stroke": "Drill"}, func(l *Length) any { return l.Drill }, true},
		{"no stroke", cells{}, func(l *Length) any { return l.Stroke }, "unknown"},
		{"reading", cells{"hr": "148", "hr_source": "Palpated", "hr_delay": "8"}, func(l *Length) any { return l.End }, Reading{HRBPM: 148, Source: "palpated", DelayS: 8}},
		{"breathing", cells{"breathing": "3"}, func(l *Length) any { return l.Tags.Breathing }, 3.0},
		{"vo2", cells{"vo2": "48,5"}, func(l *Length) any { return l.Tags.VO2 }, 48.5},
		{"wall time", cells{"wall_time": "4.2"}, func(l *Length) any { return l.WallTimeS }, 4.2},
		{"lactate before", cells{"lactate_before": "1.4"}, func(l *Length) any { return l.Tags.LactateBefore }, 1.4},
	}
	for _, c := range values {
		t.Run(c.name, func(t *testing.T) {
			f, l := one(t, c.changes)
			if l == nil {
				t.Fatalf("the row is not used: %+v", f.Entries)
			}
			if got := c.get(l); got != c.want {
				t.Errorf("%v, want %v", got, c.want)
			}
		})
	}
	faults := []struct {
		name    string
		changes cells
		rule    string
		action  Action
		column  string
	}{
		{"no date", cells{"date": ""}, RuleMissingCell, Excluded, "date"},
		{"date of two meanings", cells{"date": "02/03/2026"}, RuleUnreadable, Excluded, "date"},
		{"no such day", cells{"date": "2026-02-30"}, RuleUnreadable, Excluded, "date"},
		{"no time", cells{"time": "n/a"}, RuleMissingCell, Excluded, "time"},
		{"time of zero", cells{"time": "0"}, RuleUnreadable, Excluded, "time"},
		{"time below zero", cells{"time": "-18"}, RuleUnreadable, Excluded, "time"},
		{"share of a day", cells{"time": "0.00021"}, RuleUnreadable, Excluded, "time"},
		{"seconds over 59", cells{"time": "1:75"}, RuleUnreadable, Excluded, "time"},
		{"endless", cells{"time": "9:00:00"}, RuleUnreadable, Excluded, "time"},
		{"not a number", cells{"time": "NaN"}, RuleUnreadable, Excluded, "time"},
		{"pool without unit", cells{"pool": "25"}, RuleUnreadable, Excluded, "pool"},
		{"no pool", cells{"pool": ""}, RuleMissingCell, Excluded, "pool"},
		{"length zero", cells{"length": "0"}, RuleUnreadable, Excluded, "length"},
		{"length in words", cells{"length": "one"}, RuleUnreadable, Excluded, "length"},
		{"neither length nor distance", cells{"length": ""}, RuleMissingCell, Excluded, "distance_m"},
		{"not whole", cells{"length": "", "distance_m": "110"}, RuleNotWhole, Excluded, "distance_m"},
		{"yards as metres", cells{"length": "", "distance_m": "100", "pool": "25y"}, RuleNotWhole, Excluded, "distance_m"},
		{"strokes in words", cells{"strokes": "many"}, RuleUnreadable, Noted, "strokes"},
		{"strokes below zero", cells{"strokes": "-3"}, RuleUnreadable, Noted, "strokes"},
		{"unknown count", cells{"count": "hands"}, RuleUnreadable, Noted, "count"},
		{"unknown kick", cells{"kick": "some"}, RuleUnreadable, Noted, "kick"},
		{"unknown instruction", cells{"instruction": "hard"}, RuleUnreadable, Noted, "instruction"},
		{"wild heart rate", cells{"hr": "1480"}, RuleUnreadable, Noted, "hr"},
		{"unknown source", cells{"hr_source": "watch"}, RuleUnreadable, Noted, "hr_source"},
		{"rpe off the scale", cells{"rpe": "17"}, RuleUnreadable, Noted, "rpe"},
		{"lactate below zero", cells{"lactate": "-1"}, RuleUnreadable, Noted, "lactate"},
		{"unreadable rest", cells{"rest": "short"}, RuleUnreadable, Noted, "rest"},
		{"unreadable start", cells{"start": "half six"}, RuleUnreadable, Noted, "start"},
		{"unknown stroke", cells{"stroke": "dolphin"}, RuleUnreadable, Noted, "stroke"},
		{"other distance", cells{"distance_m": "100"}, RuleDistance, Noted, "distance_m"},
		{"total in the set", cells{"set": "Total"}, RuleTotalsRow, Excluded, ""},
		{"total in place of a name", cells{"swimmer": "Totals", "date": ""}, RuleTotalsRow, Excluded, ""},
	}
	for _, c := range faults {
		t.Run(c.name, func(t *testing.T) {
			f, l := one(t, c.changes)
			if len(f.Entries) != 1 {
				t.Fatalf("entries %+v", f.Entries)
			}
			e := f.Entries[0]
			if e.Rule != c.rule || e.Action != c.action || c.column != "" && !strings.Contains(e.Detail, "line 2, column "+c.column+":") {
				t.Errorf("entry %+v", e)
			}
			if (l == nil) != (c.action == Excluded) {
				t.Errorf("row used: %v", l != nil)
			}
		})
	}
}

func TestSheetNames(t *testing.T) {
	for _, c := range []struct {
		text  string
		names []string
		ok    bool
	}{
		{"swimmer,time,strokes\nAna Lima,x,y\nAna Lima,1,2\nswimmer,time,strokes\n,1,2\nBen,1,2,3\n", []string{"Ana Lima"}, true},
		{"time,strokes\n1,2\n", nil, true},
		{"swimmer,date,key,value\nAna,2026-03-02,kick,none\n", nil, false},
		{"swimmer,timestamp,hr\nAna,1,2\n", nil, false},
		{"nothing", nil, false},
	} {
		if names, ok := SheetNames([]byte(c.text)); ok != c.ok || !reflect.DeepEqual(names, c.names) {
			t.Errorf("%q: %q %v", c.text, names, ok)
		}
	}
}

// A rest is the rest before its row. Before the first row that moves the clock
// there is none, whether that row is used or not.
func TestSheetRests(t *testing.T) {
	const header = "swimmer,date,rep,length,distance_m,pool,time,strokes,rest\n"
	none := math.NaN()
	for _, c := range []struct {
		name, rows string
		starts     []float64
		rests      []float64
		noted      int64 // record of the note, 0 when there is none
	}{
		{"none before the first", "Ana Lima,2026-03-02,1,,100,25m,80,60,\nAna Lima,2026-03-02,2,,100,25m,80,60,1:15\n", []float64{0, 155}, []float64{none, 75}, 0},
		{"nought before the first", "Ana Lima,2026-03-02,1,,100,25m,80,60,0\nAna Lima,2026-03-02,2,,100,25m,80,60,20\n", []float64{0, 100}, []float64{0, 20}, 0},
		{"one before the first", "Ana Lima,2026-03-02,1,,100,25m,80,60,20\nAna Lima,2026-03-02,2,,100,25m,80,60,20\n", []float64{0, 100}, []float64{none, 20}, 1},
		{"first row not used", "Ana Lima,2026-03-02,1,,100,25,80,60,20\nAna Lima,2026-03-02,2,,100,25m,80,60,20\n", []float64{100}, []float64{20}, 0},
		{"first row of unknown time", "Ana Lima,2026-03-02,1,,100,25m,?,60,20\nAna Lima,2026-03-02,2,,100,25m,80,60,20\n", []float64{none}, []float64{20}, 0},
		{"total first", "Ana Lima,2026-03-02,1,,50,25m,40,30,20\nAna Lima,2026-03-02,1,1,,25m,20,15,20\nAna Lima,2026-03-02,1,2,,25m,20,15,\n", []float64{0, 20}, []float64{none, none}, 2},
	} {
		src := sheetSource(t)
		src.Input.Columns = nil
		f, _, err := Sheet([]byte(header+c.rows), src)
		if err != nil || len(f.Recordings) != 1 || len(f.Recordings[0].Lengths) != len(c.starts) {
			t.Errorf("%s: %+v, %v", c.name, f, err)
			continue
		}
		same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
		for i, l := range f.Recordings[0].Lengths {
			if !same(l.StartS, c.starts[i]) || !same(l.RestS, c.rests[i]) {
				t.Errorf("%s: length %d starts at %v after %v, want %v after %v", c.name, i, l.StartS, l.RestS, c.starts[i], c.rests[i])
			}
		}
		noted := int64(0)
		for _, e := range f.Entries {
			if e.Rule == RuleFirstRest {
				noted = e.Record
			}
		}
		if noted != c.noted {
			t.Errorf("%s: the note is at record %d, want %d", c.name, noted, c.noted)
		}
	}
}

// A swimmer called Sum has dates, a total has none.
func TestSheetSwimmerNamedLikeATotal(t *testing.T) {
	f, seen, err := Sheet([]byte("swimmer,date,length,pool,time,strokes\nSum,2026-03-02,1,25m,18,20\n"), sheetSource(t))
	if err != nil || len(f.Recordings) != 1 || len(seen) != 1 {
		t.Errorf("%+v, %v, %v", f, seen, err)
	}
}

// A row that covers a repeat beside rows of its lengths would count the repeat
// twice.
func TestSheetTotalsBesideTheirLengths(t *testing.T) {
	const header = "swimmer,date,rep,length,distance_m,pool,time,strokes,rest\n"
	lengths := "Ana Lima,2026-03-02,,1,,25m,20,20,\nAna Lima,2026-03-02,,2,,25m,21,21,\n"
	for name, text := range map[string]string{
		"before": header + "Ana Lima,2026-03-02,,,50,25m,41,41,\n" + lengths,
		"after":  header + lengths + "Ana Lima,2026-03-02,,,50,25m,41.2,41,\n",
	} {
		f, _, err := Sheet([]byte(text), sheetSource(t))
		if err != nil {
			t.Fatal(err)
		}
		sheetBalance(t, f, 3)
		if len(f.Entries) != 1 || f.Entries[0].Rule != RuleTotalsRow || f.Entries[0].Kind != KindRepeat {
			t.Errorf("%s: %+v", name, f.Entries)
		}
		if l := f.Recordings[0].Lengths; len(l) != 2 || l[0].StartS != 0 || l[1].StartS != 20 || l[0].Swim != l[1].Swim {
			t.Errorf("%s: lengths %+v", name, l)
		}
	}
	// Another time in all: both were swum.
	f, _, err := Sheet([]byte(header+lengths+"Ana Lima,2026-03-02,,,50,25m,44,41,20\n"), sheetSource(t))
	if err != nil || len(f.Entries) != 0 || len(f.Recordings[0].Lengths) != 3 {
		t.Errorf("%+v, %v", f, err)
	}
}

func TestSheetWithoutAHeader(t *testing.T) {
	for _, text := range []string{"", "\n\n", "a,b,c\n1,2,3\n", "\x00\x01\x02", "swimmer\n"} {
		_, _, err := Sheet([]byte(text), sheetSource(t))
		var none *NotTableError
		if !errors.As(err, &none) || none.FileID != "f-1" {
			t.Errorf("%q: error %v", text, err)
		}
	}
}

func TestSheetTakesThePoolAndOwnerFromTheInput(t *testing.T) {
	src := sheetSource(t)
	src.Input.PoolM = 50
	src.FileOwner = identity.Owner{Swimmer: "s-dora", How: "path"}
	f, _, err := Sheet([]byte("date,distance_m,time,strokes\n2026-03-02,100,80,90\n"), src)
	if err != nil || len(f.Recordings) != 1 {
		t.Fatalf("%+v, %v", f, err)
	}
	if r := f.Recordings[0]; r.PoolM != 50 || r.Swimmer != "s-dora" || r.Lengths[0].Covers != 2 {
		t.Errorf("%+v", r)
	}
}

func TestSheetColumnTwice(t *testing.T) {
	f, _, err := Sheet([]byte("swimmer,date,length,pool,time,strokes,Strokes\nAna Lima,2026-03-02,1,25m,18,20,99\n"), sheetSource(t))
	if err != nil || f.Recordings[0].Lengths[0].Strokes != 20 || len(f.Entries) != 1 || f.Entries[0].Rule != RuleTwiceColumn {
		t.Errorf("%+v, %v", f, err)
	}
}

func TestSheetScanner(t *testing.T) {
	cases := []struct {
		text string
		want [][]string
	}{
		{"a,b\nc\n", [][]string{{"a", "b"}, {"c"}}},
		{"a,b,\n", [][]string{{"a", "b", ""}}},
		{`"a,b",c`, [][]string{{"a,b", "c"}}},
		{`"a""b" ,c`, [][]string{{`a"b`, "c"}}},
		{"\"a\nb\",c\nd", [][]string{{"a\nb", "c"}, {"d"}}},
		{`5" fins,b`, [][]string{{`5" fins`, "b"}}},
		{"\"open,b\nc,d\n", [][]string{{`"open`, "b"}, {"c", "d"}}},
		{"\"open,b\nc,\"d\"\n", [][]string{{`"open`, "b"}, {"c", "d"}}},
		{`"a"b,c`, [][]string{{`"a"b`, "c"}}},
		{"\r\na\rb\r\n", [][]string{{""}, {"a"}, {"b"}}},
		{"", nil},
	}
	for _, c := range cases {
		scan := csvScanner{text: c.text, comma: ','}
		var got [][]string
		for {
			row, ok := scan.next()
			if !ok {
				break
			}
			got = append(got, row.cells)
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
	scan := csvScanner{text: "a\n\"b\n\nc\"\nd", comma: ','}
	var lines []int
	for {
		row, ok := scan.next()
		if !ok {
			break
		}
		lines = append(lines, row.line)
	}
	if !reflect.DeepEqual(lines, []int{1, 2, 5}) {
		t.Errorf("lines %v", lines)
	}
}

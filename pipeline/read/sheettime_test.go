package read

import (
	"math"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/study"
)

func TestSwimSeconds(t *testing.T) {
	table := &csvTable{comma: ';'}
	for _, c := range []struct {
		cell   string
		metres float64
		want   float64
		said   string // in what is noted, "" for nothing
	}{
		{"30.5", 50, 30.5, ""},
		{"30,5", 50, 30.5, ""},
		{"30.5 s", 50, 30.5, ""},
		{"30,5 Sek.", 50, 30.5, ""},
		{"1:05.2", 100, 65.2, ""},
		{"1:05,2", 100, 65.2, ""},
		{"01:05.20", 100, 65.2, ""},
		{"0:01:05.2", 100, 65.2, ""},
		{"1:05", 100, 65, ""},
		{"22:05,3", 1500, 1325.3, ""},
		{"1:02:03", 4000, 3723, ""},
		{`30"5`, 50, 30.5, ""},
		{`30"05`, 50, 30.05, ""},
		{`45"`, 50, 45, ""},
		{`1'05"2`, 100, 65.2, ""},
		{`1' 05" 20`, 100, 65.2, ""},
		{`1'05''2`, 100, 65.2, ""},
		{"1\u203205\u20332", 100, 65.2, ""},
		{"1\u201905\u201d2", 100, 65.2, ""},
		{`1'05.2`, 100, 65.2, ""},
		{`1'05`, 100, 65, ""},
		{`2'`, 200, 120, ""},
		{"1 min 05.2 s", 100, 65.2, ""},
		{"1min05,2", 100, 65.2, ""},
		{"1m05s2", 100, 65.2, ""},
		{"1.05,2", 100, 65.2, ""},
		{"1.05.2", 100, 65.2, ""},
		{"12:01:05 AM", 100, 65, ""},
		{"12:00:30.5 AM", 50, 30.5, ""},
		{"1899-12-30 00:01:05", 100, 65, ""},
		{"30.12.1899 00:01:05", 100, 65, ""},
		{"0.000347222", 50, 30, "share of a day"},
		{"0,000347222222222222", 50, 30, "share of a day"},
		{"3.47222E-04", 50, 30, "share of a day"},
		{"0.0153356481481481", 1500, 1325, "share of a day"},
		{"1:05:00", 100, 65, "took for hours"},
		{"1:05:23", 100, 65.23, "hundredths"},
		{"0:22:70", 25, 22.7, "hundredths"},
		{"0.0451388888888889", 100, 65, "took minutes for hours"},
		{"5", 100, 5, ""},       // impossible, and not to be read otherwise: screening judges it
		{"4000", 100, 4000, ""}, // the same
		{"0:20:50", 1500, 1250, ""},
	} {
		got, said, why := table.swimSeconds(c.cell, c.metres)
		if math.Abs(got-c.want) > 1e-9 || why != "" || (said == "") != (c.said == "") || !strings.Contains(said, c.said) {
			t.Errorf("%q over %v m: %v, said %q, why %q; want %v, %q", c.cell, c.metres, got, said, why, c.want, c.said)
		}
	}
	for _, c := range []struct {
		cell   string
		metres float64
		why    string
	}{
		{"0.00035", 50, "too few places: it stands for 29.8 to 30.7 s"},
		{"1.05", 100, "faster than anybody swims; minutes are written 1:05.2"},
		{"DNF", 100, "the text in it is no time"},
		{"1:5:x", 100, "is no time"},
		{"1:75.2", 100, "is no time"},
		{"-30", 50, "is no time"},
		{"0", 50, "is no time"},
		{"1:05 pm", 100, "is no time"},
		{"0:00:00", 100, "is no time"},
		{"86400", 100, "is no time for 100 m"},
		{"1,5,2", 100, "is no time"},
		{"25:00:61", 100, "is no time for"},
		{"", 100, "is no time"},
		{":", 100, "is no time"},
		{"'", 100, "is no time"},
	} {
		if got, said, why := table.swimSeconds(c.cell, c.metres); got != 0 || said != "" || !strings.Contains(why, c.why) {
			t.Errorf("%q over %v m: %v, said %q, why %q; want %q", c.cell, c.metres, got, said, why, c.why)
		}
	}
}

func TestRestSeconds(t *testing.T) {
	table := &csvTable{comma: ';'}
	for _, c := range []struct {
		cell  string
		want  float64
		noted bool
		slips bool
	}{
		{"20", 20, false, false}, {"0", 0, false, false}, {"0:45", 45, false, false}, {`45"`, 45, false, false}, {"1'00", 60, false, false},
		{"0:01:30", 90, false, true}, {"0:20:00", 1200, false, true}, {"0.000231481481481481", 20, true, false}, {"0.02", 0.02, false, false},
		{"0:30:75", 30.75, true, false},
	} {
		got, said, slips, ok := table.restSeconds(c.cell)
		if !ok || math.Abs(got-c.want) > 1e-9 || (said != "") != c.noted || slips != c.slips {
			t.Errorf("%q: %v, %q, %v, %v", c.cell, got, said, slips, ok)
		}
	}
}

func TestDates(t *testing.T) {
	for _, c := range []struct {
		cell  string
		order study.DateOrder
		want  string
	}{
		{"2026-03-02", "", "2026-03-02"}, {"2026/3/2", "", "2026-03-02"}, {"2026.03.02", "", "2026-03-02"}, {"2026. 03. 02.", "", "2026-03-02"},
		{"02.03.2026", "", "2026-03-02"}, {"2.3.26", "", "2026-03-02"}, {"2. 3. 2026", "", "2026-03-02"}, {"20260302", "", "2026-03-02"},
		{"2 Mar 2026", "", "2026-03-02"}, {"2-Mar-26", "", "2026-03-02"}, {"Mar 2, 2026", "", "2026-03-02"}, {"March 2nd, 2026", "", "2026-03-02"},
		{"2. M\u00e4rz 2026", "", "2026-03-02"}, {"2 mars 2026", "", "2026-03-02"}, {"2 f\u00e9vrier 2026", "", "2026-02-02"}, {"1er ao\u00fbt 2026", "", ""},
		{"2 de mar\u00e7o de 2026", "", "2026-03-02"}, {"2 gennaio 2026", "", "2026-01-02"}, {"2 enero 2026", "", "2026-01-02"},
		{"6 mrt 2026", "", "2026-03-06"}, {"2 juin 2026", "", "2026-06-02"}, {"2 juillet 2026", "", "2026-07-02"}, {"2 Okt 2026", "", "2026-10-02"},
		{"2 dezembro 2026", "", "2026-12-02"}, {"2 settembre 2026", "", "2026-09-02"}, {"2 maj 2026", "", "2026-05-02"}, {"2 mei 2026", "", "2026-05-02"},
		{"Monday, 2 March 2026", "", "2026-03-02"}, {"Mo 02.03.2026", "", "2026-03-02"}, {"mardi 3 mars 2026", "", "2026-03-03"},
		{"martes 3 marzo 2026", "", "2026-03-03"}, {"luned\u00ec 2 marzo 2026", "", "2026-03-02"}, {"sexta-feira, 6 de mar\u00e7o de 2026", "", "2026-03-06"},
		{"25/03/2026", "", "2026-03-25"}, {"03/25/2026", "", "2026-03-25"}, {"03/03/2026", "", "2026-03-03"}, {"25-3-2026", "", "2026-03-25"},
		{"03/04/2026", "", ""}, {"03/04/2026", study.DayFirst, "2026-04-03"}, {"03/04/2026", study.MonthFirst, "2026-03-04"},
		{"03/04/26", study.DayFirst, "2026-04-03"}, {"03/04/26", "", ""}, {"26-03-02", study.DayFirst, "2002-03-26"}, {"13/04/26", "", "2026-04-13"}, {"26-03-02", "", ""}, {"25/03/2026", study.MonthFirst, ""},
		{"2026-03-02 00:00:00", "", "2026-03-02"}, {"2026-03-02T18:30:00", "", "2026-03-02"}, {"02.03.2026 18:30", "", "2026-03-02"},
		{"46083", "", "2026-03-02"}, {"46083.770833", "", "2026-03-02"}, {"35000", "", ""}, {"460830", "", ""},
		{"2 Mar", "", ""}, {"Mar 2026", "", ""}, {"31.02.2026", "", ""}, {"2026-13-01", "", ""}, {"Ana 2026-03-02", "", ""}, {"", "", ""}, {"1.2", "", ""},
		{"1969-12-31", "", ""}, {"2.3.2026.4", "", ""}, {"2-3.2026", "", ""}, {"next Monday", "", ""},
	} {
		d := csvDate(c.cell, c.order)
		if d.day != c.want || (d.day == "") != (d.why != "") {
			t.Errorf("%q, %s: %q, want %q (%s)", c.cell, c.order, d.day, c.want, d.why)
		}
	}
	if d := csvDate("46083.770833", ""); d.clock != 18*time.Hour+30*time.Minute || !d.serial {
		t.Errorf("%+v", d)
	}
	for _, c := range []struct {
		cells []string
		want  study.DateOrder
	}{
		{[]string{"03/04/2026", "13/04/2026"}, study.DayFirst}, {[]string{"03/04/2026", "04/13/2026"}, study.MonthFirst},
		{[]string{"13/04/2026", "04/13/2026"}, study.AnyOrder}, {[]string{"03/04/2026", "03/03/2026", "2.4.2026", "x"}, study.AnyOrder},
	} {
		if got := dateOrderOf(c.cells); got != c.want {
			t.Errorf("%q: %q", c.cells, got)
		}
	}
}

func TestTimesOfDay(t *testing.T) {
	for _, c := range []struct {
		cell string
		want string // as 15:04:05 and the zone's offset, "" for none
	}{
		{"18:30", "18:30:00"}, {"18:30:15", "18:30:15"}, {"18.30", "18:30:00"}, {"18h30", "18:30:00"}, {"18h", "18:00:00"}, {"18:30 Uhr", "18:30:00"},
		{"18u30", "18:30:00"}, {"6:30 PM", "18:30:00"}, {"6:30am", "06:30:00"}, {"12:15 AM", "00:15:00"}, {"12:15 pm", "12:15:00"}, {"6 pm", "18:00:00"},
		{"0.770833333", "18:30:00"}, {"0,75", "18:00:00"}, {"0.7708", "18:30:00"}, {"18:30Z", "18:30:00 +0000"}, {"18:30+01:00", "18:30:00 +0100"},
		{"18:30 -0330", "18:30:00 -0330"}, {"2026-03-02T18:30:00+02:00", "18:30:00 +0200"}, {"18:30:00.000", "18:30:00"},
		{"25:00", ""}, {"18:60", ""}, {"18", ""}, {"0.30", ""}, {"0.771", ""}, {"half six", ""}, {"13:00 PM", ""}, {"", ""}, {"1:2:3:4", ""}, {"18:3", ""},
		{"2026-13-02T18:30:00", ""}, {"h", ""}, {"u", ""}, {"am", ""}, {"0 am", ""},
	} {
		r, ok := clockTime(c.cell)
		got := ""
		if ok {
			got = time.Time{}.Add(r.clock).Format("15:04:05")
			if r.zone != nil {
				got += time.Date(2026, 1, 1, 0, 0, 0, 0, r.zone).Format(" -0700")
			}
		}
		if got != c.want {
			t.Errorf("%q: %q, want %q", c.cell, got, c.want)
		}
	}
}

// Cells of any bytes: no panic, and what is read lies where it can.
func FuzzSheetCells(f *testing.F) {
	for _, cell := range []string{"30.5", `1'05"2`, "1.05,2", "0:22:70", "3.47E-04", "46083.77", "2. M\u00e4rz 2026", "18h30", "6:30 PM", "18/19/20", "rep1_hr 10 s"} {
		f.Add(cell)
	}
	heads := newHeadings(map[string]string{"time": "Split", "hr": "P 10 s"})
	f.Fuzz(func(t *testing.T, cell string) {
		table := &csvTable{comma: ';'}
		for _, metres := range []float64{25, 1500, math.NaN()} {
			if s, _, why := table.swimSeconds(cell, metres); why == "" && !(s > 0 && s <= longestSeconds) {
				t.Errorf("time %v", s)
			}
		}
		if s, _, _, ok := table.restSeconds(cell); ok && !(s >= 0 && s <= longestSeconds) {
			t.Errorf("rest %v", s)
		}
		for _, order := range []study.DateOrder{study.AnyOrder, study.DayFirst, study.MonthFirst} {
			if d := csvDate(cell, order); d.day != "" {
				if day, err := time.Parse(time.DateOnly, d.day); err != nil || day.Year() < 1970 || day.Year() >= 2200 || d.clock < 0 || d.clock > 24*time.Hour {
					t.Errorf("date %+v", d)
				}
			}
		}
		if r, ok := clockTime(cell); ok && (r.clock < 0 || r.clock >= 24*time.Hour) {
			t.Errorf("time of day %v", r.clock)
		}
		heads.of(cell)
		heads.grouped(cell)
		groupNumber(cell)
		sheetPool(cell, "m")
	})
}

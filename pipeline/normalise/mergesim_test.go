package normalise

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// A day of a swimmer, recorded by a watch and written down by a coach, with the
// truth of which row is which swim. Files are made, read and merged as a user's
// are.

// simRep is one repeat as swum.
type simRep struct {
	set, rep int
	stroke   string
	restS    float64   // before it
	startS   float64   // since the session's start
	seconds  []float64 // of each length
	arms     []int
}

func (r *simRep) total() (s float64) {
	for _, x := range r.seconds {
		s += x
	}
	return s
}

type simSession struct {
	start time.Time
	pool  float64
	reps  []simRep
}

// simWriting is how a coach writes sessions down.
type simWriting struct {
	noStart    bool
	startOffS  float64 // of the written start, beside the minute it is rounded to
	noRest     bool
	perLength  bool
	wholeS     bool // times to whole seconds, else tenths
	slowHandS  float64
	skip       int // repeats left out of each session
	firstOnly  int // only so many repeats, from the second set on; 0: all
	extra      int // repeats written down that the watch did not record
	countsOff  bool
	pool       string // another pool than the true one
	oneSheet   bool   // all sessions of the day in one sheet, told apart by the session column
	noSession  bool   // ... which is empty
	renumber   bool   // repeats left out are not seen in the numbers
	noNumbers  bool   // no sets and repeats
	only       int    // only this session of the day, from 1; 0: all
	wrongDay   int
	wrongOrder bool // two rows swapped
}

// simDay is what is planned.
type simDay struct {
	name     string
	sessions int
	alike    bool // all sessions of the day have the same sets at the same pace
	mixed    bool // strokes in turn
	hour     int  // of the first session, local time; 0: 6
	date     time.Time
	missed   bool // the watch misses a turn now and then
	wallS    float64
	watched  int // only the first sessions of the day are recorded by the watch; 0: all
	write    simWriting
	// What is asked: the least share of rows that are merged, and of days on
	// which the sheet may stay a session of its own. No row may be merged wrongly.
	matched, apart float64
	alone          bool // the watch knows nothing of what is written down
}

type simRandom struct{ *rand.Rand }

func (r simRandom) between(a, b float64) float64 { return a + (b-a)*r.Float64() }
func (r simRandom) normal(m, sd float64) float64 { return m + sd*r.NormFloat64() }
func (r simRandom) oneOf(xs ...float64) float64  { return xs[r.IntN(len(xs))] }

type simSet struct {
	distance, pace, rest float64
	n                    int
}

func (r simRandom) sets() (sets []simSet) {
	base := r.between(70, 110)
	for range 2 + r.IntN(3) {
		s := simSet{distance: r.oneOf(50, 100, 100, 200, 400), pace: base * r.between(0.94, 1.12), rest: r.oneOf(10, 15, 20, 30, 45)}
		s.n = max(1, int(math.Round(r.between(300, 900)/s.distance)))
		sets = append(sets, s)
	}
	return sets
}

func (r simRandom) session(start time.Time, pool float64, sets []simSet, mixed bool) simSession {
	s := simSession{start: start, pool: pool}
	clock := 0.0
	strokes := []string{"freestyle", "backstroke", "breaststroke"}
	for k, set := range sets {
		for i := range set.n {
			rep := simRep{set: k + 1, rep: i + 1, stroke: "freestyle"}
			if mixed {
				rep.stroke = strokes[(k+i)%3]
			}
			if clock > 0 {
				rep.restS = math.Max(8, set.rest+r.normal(0, 1.5))
				if i == 0 {
					rep.restS += r.between(20, 120)
				}
			}
			clock += rep.restS
			rep.startS = clock
			n := int(math.Round(set.distance / pool))
			pace := set.pace * math.Exp(r.normal(0, 0.012))
			for range max(1, n) {
				rep.seconds = append(rep.seconds, pace*pool/100*math.Exp(r.normal(0, 0.01)))
				rep.arms = append(rep.arms, 14+r.IntN(5))
			}
			clock += rep.total()
			s.reps = append(s.reps, rep)
		}
	}
	return s
}

// watch records a session.
func (r simRandom) watch(s *simSession, missed bool) activityfile.Activity {
	a := activityfile.Activity{StartUTC: s.start, Serial: 99, PoolMetres: s.pool}
	codes := map[string]activityfile.Stroke{"freestyle": activityfile.Freestyle, "backstroke": activityfile.Backstroke, "breaststroke": activityfile.Breaststroke}
	for i := range s.reps {
		rep := &s.reps[i]
		lap := activityfile.Lap{StartSeconds: rep.startS, DurationSeconds: rep.total(), FirstLength: len(a.Lengths), DistanceMetres: s.pool * float64(len(rep.seconds))}
		at := rep.startS
		late, early := r.normal(0, 0.3), r.normal(0, 0.4) // of push-off and touch, as the watch sees them
		for k, x := range rep.seconds {
			if k == 0 {
				at, x = at+late, x-late
			}
			if k == len(rep.seconds)-1 {
				x -= early
			}
			a.Lengths = append(a.Lengths, activityfile.Length{StartSeconds: at, DurationSeconds: x, Strokes: rep.arms[k] / 2, Stroke: codes[rep.stroke]})
			at += x
		}
		lap.Lengths = len(a.Lengths) - lap.FirstLength
		a.Laps = append(a.Laps, lap)
		if missed && len(rep.seconds) > 2 && r.IntN(4) == 0 {
			activityfile.MissedTurn(&a, lap.FirstLength+r.IntN(len(rep.seconds)-1))
		}
	}
	return a
}

// simRow is a row's truth: the session and repeat it describes, -1 for none.
type simRow struct{ session, rep int }

// sheets writes the sessions down; rows are by record of the sheet.
func (r simRandom) sheets(d *simDay, zone *time.Location, all []simSession) (sheets []string, truth [][]simRow) {
	header := "swimmer,date,start,session,set,rep,length,distance_m,pool,stroke,time,strokes,count,rest\n"
	w := &d.write
	var text strings.Builder
	var rows []simRow
	end := func() {
		if text.Len() > 0 {
			sheets, truth = append(sheets, header+text.String()), append(truth, rows)
		}
		text.Reset()
		rows = nil
	}
	for k := range all {
		if w.only > 0 && k != w.only-1 {
			continue
		}
		s := &all[k]
		local := s.start.In(zone)
		begun := local.Add(time.Duration(w.startOffS+r.normal(0, 25)) * time.Second).Round(time.Minute).Format("15:04")
		if w.noStart {
			begun = ""
		}
		day := local.AddDate(0, 0, w.wrongDay).Format("2006-01-02")
		skip := map[int]bool{}
		for len(skip) < w.skip {
			skip[r.IntN(len(s.reps))] = true
		}
		extraAt := map[int]bool{}
		for len(extraAt) < w.extra {
			extraAt[1+r.IntN(len(s.reps)-1)] = true
		}
		session, lastSet, lastRep := "", 0, 0
		if w.oneSheet && !w.noSession {
			session = fmt.Sprint(k + 1)
		}
		write := func(rep *simRep, row simRow, seconds []float64, rest float64) {
			pool := fmt.Sprintf("%gm", s.pool)
			if w.pool != "" {
				pool = w.pool
			}
			restCell := fmt.Sprintf("%.0f", rest)
			if w.noRest || rest == 0 {
				restCell = ""
			}
			before := 0.0 // error of the reading at the wall before
			timed := func(x float64) string {
				error := r.normal(w.slowHandS, 0.25)
				x += error - before
				if w.perLength {
					before = error
				}
				if w.wholeS {
					return fmt.Sprintf("%.0f", x)
				}
				return fmt.Sprintf("%.1f", x)
			}
			line := func(length string, metres, x float64, strokes int, rest string) {
				if w.countsOff {
					strokes = int(math.Round(float64(strokes) * r.between(0.6, 1.5)))
				}
				set, number := fmt.Sprint(rep.set), fmt.Sprint(rep.rep)
				switch {
				case w.noNumbers:
					set, number = "", ""
				case w.renumber:
					if rep.set != lastSet {
						lastSet, lastRep = rep.set, 0
					}
					if metres < s.pool*1.5 && length != "" && length != "1" {
						lastRep--
					}
					lastRep++
					number = fmt.Sprint(lastRep)
				}
				fmt.Fprintf(&text, "ada,%s,%s,%s,%s,%s,%s,%g,%s,%s,%s,%d,arms,%s\n", day, begun, session, set, number, length, metres, pool, rep.stroke, timed(x), strokes, rest)
				rows = append(rows, row)
			}
			if w.perLength {
				for i, x := range seconds {
					if i > 0 {
						restCell = ""
					}
					line(fmt.Sprint(i+1), s.pool, x, rep.arms[i], restCell)
				}
				return
			}
			sum, strokes := 0.0, 0
			for i, x := range seconds {
				sum, strokes = sum+x, strokes+rep.arms[i]
			}
			line("", s.pool*float64(len(seconds)), sum, strokes, restCell)
		}
		var order []int
		for i := range s.reps {
			if !skip[i] && (w.firstOnly == 0 || s.reps[i].set >= 2 && len(order) < w.firstOnly) {
				order = append(order, i)
			}
		}
		if w.wrongOrder && len(order) > 3 {
			order[1], order[2] = order[2], order[1]
		}
		for _, i := range order {
			rep := &s.reps[i]
			if extraAt[i] {
				other := *rep
				other.rep += 40
				seconds := make([]float64, len(rep.seconds))
				for j := range seconds {
					seconds[j] = rep.seconds[j] * 1.25
				}
				write(&other, simRow{-1, -1}, seconds, rep.restS)
			}
			write(rep, simRow{k, i}, rep.seconds, math.Max(0, math.Round(rep.restS+r.normal(0, 1))))
		}
		if !w.oneSheet {
			end()
		}
	}
	end()
	return sheets, truth
}

// simTally is what became of rows.
type simTally struct {
	days, rows, right, wrong, ambiguous, unlike, pools, apart, unread int
	daysWrong, daysApart                                              int
	example                                                           string
}

func (t *simTally) add(o simTally) {
	t.days, t.rows, t.right, t.wrong, t.ambiguous = t.days+o.days, t.rows+o.rows, t.right+o.right, t.wrong+o.wrong, t.ambiguous+o.ambiguous
	t.unlike, t.pools, t.apart, t.unread = t.unlike+o.unlike, t.pools+o.pools, t.apart+o.apart, t.unread+o.unread
	t.daysWrong, t.daysApart = t.daysWrong+o.daysWrong, t.daysApart+o.daysApart
	if o.example != "" {
		t.example = o.example
	}
}

func (d *simDay) run(t *testing.T, seed uint64) (tally simTally) {
	t.Helper()
	r := simRandom{rand.New(rand.NewPCG(seed, 7))}
	zone, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	day, hour := d.date, d.hour
	if day.IsZero() {
		day = time.Date(2026, 5, 4+r.IntN(20), 0, 0, 0, 0, zone)
	}
	if hour == 0 {
		hour = 6
	}
	pool := r.oneOf(25, 25, 50)
	sets := r.sets()
	var all []simSession
	var recordings []read.Recording
	for k := range d.sessions {
		if k > 0 && !d.alike {
			sets = r.sets()
		}
		start := time.Date(day.Year(), day.Month(), day.Day(), hour+5*k, r.IntN(50), r.IntN(60), 0, zone).UTC()
		s := r.session(start, pool, sets, d.mixed)
		all = append(all, s)
		if d.watched > 0 && k >= d.watched {
			continue
		}
		recordings = append(recordings, recorded(t, fmt.Sprintf("w%d", k), r.watch(&s, d.missed), activityfile.Quirks{WallSecondsOut: d.wallS}))
	}
	sheets, truth := r.sheets(d, zone, all)
	var unread []read.Entry
	for i, text := range sheets {
		id := fmt.Sprintf("s%d", i)
		f, _, err := read.Sheet([]byte(text), read.SheetSource{FileID: id, Content: id, Zone: zone, Input: study.Input{Kind: study.Sheet, StrokeCount: study.Arms},
			Owner: func(string) identity.Owner { return identity.Owner{Swimmer: "ada"} }})
		if err != nil {
			t.Fatal(err)
		}
		recordings = append(recordings, f.Recordings...)
		unread = append(unread, f.Entries...)
	}
	for i := range recordings {
		recordings[i].Zone = zone
		if recordings[i].Kind == read.FromActivity {
			recordings[i].LocalDate = recordings[i].Start.In(zone).Format(time.DateOnly)
		}
	}
	s := study.Default()
	s.TimeZone = zone
	got, entries, err := Sessions(recordings, nil, s)
	if err != nil {
		t.Fatal(err)
	}
	tally.days = 1
	fate := map[string]string{}
	for _, session := range got {
		for _, l := range session.Lengths {
			if l.FileID[0] == 's' {
				fate[fmt.Sprint(l.FileID, l.Record)] = "apart"
			}
		}
		for _, m := range session.Merged {
			fate[fmt.Sprint(m.FileID, m.Record)] = fmt.Sprintf("%s at %.0f", session.FileID, session.Lengths[m.Length].StartS)
		}
	}
	for _, e := range append(entries, unread...) {
		if e.FileID[0] == 's' && e.Action == read.Excluded {
			for i := range e.Records {
				fate[fmt.Sprint(e.FileID, e.Record+i)] = e.Rule
			}
		}
	}
	for i, rows := range truth {
		for k, row := range rows {
			tally.rows++
			switch became := fate[fmt.Sprint(fmt.Sprintf("s%d", i), k+1)]; became {
			case RuleMatchAmbiguous:
				tally.ambiguous++
			case RuleSecondRecording:
				tally.unlike++
			case RulePoolsDisagree:
				tally.pools++
			case read.RuleNotWhole:
				tally.unread++
			case "apart":
				tally.apart++
				tally.daysApart = 1
			default:
				if became == "" {
					t.Fatalf("%s, seed %d: sheet %d, row %d is nowhere", d.name, seed, i, k+1)
				}
				if right(all, row, became) {
					tally.right++
					continue
				}
				tally.wrong++
				tally.daysWrong = 1
				tally.example = fmt.Sprintf("seed %d, sheet %d, row %d (%+v) became %s", seed, i, k+1, row, became)
			}
		}
	}
	return tally
}

// right tells whether a row became what it describes.
func right(all []simSession, row simRow, became string) bool {
	var file string
	var at float64
	if n, err := fmt.Sscanf(became, "%s at %f", &file, &at); n != 2 || err != nil || row.session < 0 {
		return false
	}
	rep := &all[row.session].reps[row.rep]
	return file == fmt.Sprintf("w%d", row.session) && at > rep.startS-6 && at < rep.startS+rep.total()
}

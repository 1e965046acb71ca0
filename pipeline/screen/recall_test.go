package screen

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"lengthwise/datasets/faults"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

var (
	update = flag.Bool("update", false, "write testdata/recall.md anew")
	tune   = flag.Bool("tune", false, "print recall and precision on the seeds that thresholds are chosen on")
)

// Seeds from heldOut on were not looked at while rules and thresholds were
// made; those from tuning on were.
const (
	tuning  = 1_000
	heldOut = 50_000_000
)

// answers lists the rules that rightly meet each kind of fault, its own rule
// first.
var answers = map[faults.Kind][]string{
	faults.MissedTurn:     {RuleMissedTurn},
	faults.FalseTurn:      {RuleFalseTurn, RuleCountImplausible, RuleImpossibleSpeed},
	faults.EarlyTurn:      {RuleEarlyTurn},
	faults.StopInside:     {RuleStopInside, RuleImpossibleSpeed},
	faults.WrongCount:     {RuleCountImplausible, RuleImpossibleRate},
	faults.LostCount:      {RuleStrokesMissing},
	faults.WrongPool:      {RulePoolContradicts},
	faults.Drill:          {RuleDrill},
	faults.Kick:           {RuleKick, RuleImpossibleRate, RuleCountImplausible, RuleStrokesMissing},
	faults.TooFast:        {RuleImpossibleSpeed},
	faults.TooManyStrokes: {RuleImpossibleRate, RuleCountImplausible},
	faults.Dropout:        {RuleDropout},
	faults.StartValue:     {RuleStartValue},
	faults.Lock:           {RuleLocked, RuleDropout},
	faults.Step:           {RuleStep, RuleDropout},
	faults.ClockBack:      {RuleClockBack, normalise.RuleOutsideSession},
}

// recording is a simulated session as a reader would hand it on.
func recording(s *faults.Session) read.Recording {
	r := read.Recording{FileID: "f", Part: 1, Kind: read.FromActivity, Swimmer: "ada", PoolM: s.PoolM, HRSource: "optical",
		Basis: study.Cycles, Zone: time.UTC, Start: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)}
	if s.CountsArms {
		r.Basis = study.Arms
	}
	lap := -1
	for i, l := range s.Lengths {
		if i == 0 || l.Lap != s.Lengths[i-1].Lap {
			lap++
			r.Laps = append(r.Laps, read.Lap{StartS: l.StartS})
		} else if l.RestBeforeS > 0 {
			r.Laps[lap].DurationS += l.RestBeforeS
		}
		if l.RestBeforeS > 0 && i > 0 && s.Seed%2 == 0 { // half of the recorders write their rests
			r.Rests = append(r.Rests, read.Rest{Record: int64(len(r.Rests) + 1), StartS: l.StartS - l.RestBeforeS, DurationS: l.RestBeforeS})
		}
		r.Laps[lap].DurationS += l.Truth.DurationS
		r.Laps[lap].PoolLengths++
		stroke := l.Stroke
		if l.Drill {
			stroke = "unknown"
		}
		r.Lengths = append(r.Lengths, read.Length{Record: int64(i + 1), Kind: read.KindLength, Lap: lap, Covers: 1,
			StartS: l.StartS, DurationS: l.DurationS, PoolM: nan, Stroke: stroke, Drill: l.Drill, Strokes: l.Strokes,
			RestS: nan, WallTimeS: nan, End: noReading(), Tags: noTags()})
	}
	for i, x := range s.Samples {
		r.Samples = append(r.Samples, read.Sample{Record: int64(i + 1), TimeS: x.TimeS, BPM: x.BPM, First: x.First})
	}
	return r
}

// tally is what one kind and size of fault came to.
type tally struct {
	planted, own, any int // faults; found by the kind's own rule, by any that answers it
	hits, right       int // records that the answering rules touch; those that hold the fault
	lengths           int
	touched           map[string]int // by rule, records without a fault
	untouched         int            // records without a fault, of all kinds
}

// judge screens simulated sessions and compares with their truth.
func judge(t *testing.T, k faults.Kind, size float64, first uint64, sessions int, settings study.Screen) tally {
	return judgeAs(t, k, k, size, first, sessions, settings)
}

func judgeAs(t *testing.T, k, like faults.Kind, size float64, first uint64, sessions int, settings study.Screen) tally {
	return judgeSessions(t, func(seed uint64) faults.Session { return faults.Simulate(seed, k, size, 3) }, k, like, first, sessions, settings)
}

// judgeSessions screens the sessions that simulate gives for seeds from first
// on.
func judgeSessions(t *testing.T, simulate func(seed uint64) faults.Session, k, like faults.Kind, first uint64, sessions int, settings study.Screen) tally {
	out := tally{touched: map[string]int{}}
	for n := range uint64(sessions) {
		s := simulate(first + n)
		screened, entries := screenedAlone(t, &s, settings)
		out.add(&s, k, like.OnSamples(), &screened, entries)
	}
	return out
}

// screenedAlone takes a simulated session through normalise and screen, with the
// entries of both, and checks its account.
func screenedAlone(t *testing.T, s *faults.Session, settings study.Screen) (Session, []read.Entry) {
	r := recording(s)
	normal, before, err := normalise.Sessions([]read.Recording{r}, nil, study.Default())
	if err != nil || len(normal) != 1 {
		t.Fatalf("seed %d: %d sessions, %v", s.Seed, len(normal), err)
	}
	screened, entries := Apply(normal[0], settings)
	entries = append(entries, before...)
	if err := Reconcile(map[string]read.Counts{"f": {Lengths: int64(len(r.Lengths)), Rests: int64(len(r.Rests)), HeartRate: int64(len(r.Samples))}},
		[]Session{screened}, entries); err != nil {
		t.Errorf("seed %d: %v", s.Seed, err)
	}
	return screened, entries
}

// judgeClean screens sessions without faults and counts the records touched that
// a kind of fault would fall on.
func judgeClean(t *testing.T, like faults.Kind, first uint64, sessions int, settings study.Screen) tally {
	return judgeAs(t, faults.Clean, like, 0, first, sessions, settings)
}

func (t *tally) add(s *faults.Session, k faults.Kind, onSamples bool, screened *Session, entries []read.Entry) {
	kind := read.KindLength
	truth := make([]faults.Kind, len(s.Lengths))
	fault := make([]int, len(s.Lengths))
	for i, l := range s.Lengths {
		truth[i], fault[i] = l.Truth.Kind, l.Truth.Fault
	}
	if onSamples {
		kind, truth, fault = read.KindHeartRate, make([]faults.Kind, len(s.Samples)), make([]int, len(s.Samples))
		for i, x := range s.Samples {
			truth[i], fault[i] = x.Truth.Kind, x.Truth.Fault
		}
	}
	rules := make([][]string, len(truth)) // of each record
	for _, e := range entries {
		if e.Kind != kind || e.Action == read.Noted && !slices.Contains(answers[k], e.Rule) {
			continue
		}
		for r := e.Record; r < e.Record+e.Records; r++ {
			rules[r-1] = append(rules[r-1], e.Rule)
		}
	}
	uses := make([]int, len(s.Lengths))
	ordinals := make([]int, len(s.Lengths))
	for _, l := range screened.Lineage {
		if l.Kind == read.KindLength {
			uses[l.Record-1]++
			ordinals[l.Record-1] = l.Ordinal
		}
	}
	// A fault is found when its rule meets all of its lengths and, where it
	// repairs, leaves as many lengths as were swum; or 80 % of its samples.
	type sum struct{ records, own, any int }
	found := map[int]*sum{}
	t.lengths += len(s.Lengths)
	for i := range truth {
		mine := func(rule string) bool { return slices.Contains(rules[i], rule) }
		if truth[i] != k || k == faults.Clean {
			if truth[i] == faults.Clean {
				t.untouched++
			}
			for _, rule := range rules[i] {
				if truth[i] == faults.Clean {
					t.touched[rule]++
				}
				if slices.Contains(answers[k], rule) {
					t.hits++
				}
			}
			continue
		}
		id := fault[i]
		if k == faults.Drill || k == faults.WrongPool {
			id = 0
		}
		f := found[id]
		if f == nil {
			f = &sum{}
			found[id] = f
		}
		f.records++
		if len(rules[i]) > 0 && slices.ContainsFunc(answers[k], mine) {
			t.hits++
			t.right++
		}
		switch {
		case k == faults.MissedTurn && uses[i] != int(math.Round(s.Lengths[i].Truth.Lengths)):
			continue
		case k == faults.FalseTurn && i+1 < len(truth) && fault[i+1] == fault[i] && ordinals[i] != ordinals[i+1]:
			continue
		}
		if slices.ContainsFunc(answers[k], mine) {
			f.any++
		}
		if len(answers[k]) > 0 && mine(answers[k][0]) {
			f.own++
		}
	}
	enough := 1.0
	if k.OnSamples() {
		enough = 0.8
	}
	for _, f := range found {
		t.planted++
		if k == faults.WrongPool && f.any > 0 { // noted once or excluded whole: the session is found
			t.own, t.any = t.own+1, t.any+1
			continue
		}
		if float64(f.own) >= enough*float64(f.records) {
			t.own++
		}
		if float64(f.any) >= enough*float64(f.records) {
			t.any++
		}
	}
}

func share(a, b int) string {
	if b == 0 {
		return "-"
	}
	return fmt.Sprintf("%.3f", float64(a)/float64(b))
}

// cleanSessions is how many sessions without faults are simulated.
const cleanSessions = 1000

// sessionsOf is how many sessions are simulated for a grade.
func sessionsOf(k faults.Kind) int {
	switch {
	case k.OnSamples():
		return 50
	case k == faults.WrongPool:
		return 300
	default:
		return 120
	}
}

// row is one kind and grade with what was found.
type row struct {
	k     faults.KindGrades
	g     faults.Grade
	tally tally
}

func (r *row) name() string { return string(r.k.Kind) + ": " + r.g.Words }

// measure simulates and screens every kind and grade from a seed on.
func measure(t *testing.T, first uint64, settings study.Screen) (rows []*row, clean tally) {
	var jobs []func()
	for _, k := range faults.Kinds() {
		for _, g := range k.Grades {
			r := &row{k: k, g: g}
			rows = append(rows, r)
			jobs = append(jobs, func() { r.tally = judge(t, k.Kind, g.Size, first, sessionsOf(k.Kind), settings) })
		}
	}
	jobs = append(jobs, func() { clean = judge(t, faults.Clean, 0, first+500_000, cleanSessions, settings) })
	inParallel(jobs)
	return rows, clean
}

// inParallel runs jobs, each of which writes what is its own alone.
func inParallel(jobs []func()) {
	var wait sync.WaitGroup
	next := make(chan func())
	for range 2 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for job := range next {
				job()
			}
		}()
	}
	for _, job := range jobs {
		next <- job
	}
	close(next)
	wait.Wait()
}

func (r *row) recall() float64    { return float64(r.tally.any) / float64(r.tally.planted) }
func (r *row) precision() float64 { return float64(r.tally.right) / float64(r.tally.hits) }

// write puts the figures down as a table.
func write(rows []*row, clean tally) string {
	var b strings.Builder
	b.WriteString("| fault | size | a coach would notice | planted | recall, own rule | recall, any answering rule | precision |\n|---|---|---|---|---|---|---|\n")
	for _, r := range rows {
		notice := ""
		if r.g.Notice {
			notice = "yes"
		}
		x := r.tally
		fmt.Fprintf(&b, "| %s | %s | %s | %d | %s | %s | %s |\n", r.k.Kind, r.g.Words, notice, x.planted,
			share(x.own, x.planted), share(x.any, x.planted), share(x.right, x.hits))
	}
	fmt.Fprintf(&b, "\nClean lengths: %d, touched %d (%.3f %%): %s.\n", clean.untouched, clean.touches(),
		100*float64(clean.touches())/float64(clean.untouched), byRule(clean.touched))
	return b.String()
}

func (t *tally) touches() (n int) {
	for _, k := range t.touched {
		n += k
	}
	return n
}

func TestTune(t *testing.T) {
	if !*tune {
		t.Skip("only with -tune")
	}
	rows, clean := measure(t, tuning, settings())
	fmt.Println(write(rows, clean))
	fmt.Println(trainingTable(measureTrainings(t, tuning, settings())))
	fmt.Println(seriesTable(measureSeries(t, tuning)))
}

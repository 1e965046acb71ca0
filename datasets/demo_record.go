package datasets

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	af "lengthwise/datasets/activityfile"
	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
)

// absence is the share of sessions that a swimmer does not come to.
const absence = 0.06

// leaving is what one swimmer leaves behind.
type leaving struct {
	swimmer  squad.Swimmer
	part     part
	aliases  []string
	sheets   []sheetRows
	pulses   []deckfile.Pulse
	notes    []deckfile.Note
	assigned []deckfile.Assignment
	sessions []sessionTruth
	others   []otherFile
}

// sheetRows are rows for one sheet file.
type sheetRows struct {
	file  string
	style *sheetStyle
	wide  bool
	rows  []deckfile.Row
}

// record simulates swimmer i and writes the watch files; the rest is collected.
func record(dir string, sc squad.Scenario, i int, p part) (leaving, error) {
	l := leaving{swimmer: squad.SimulateSwimmer(sc, i), part: p}
	sw := &l.swimmer
	l.aliases = []string{
		sw.Given + " " + sw.Family,
		sw.Family + ", " + sw.Given,
		string([]rune(sw.Given)[:1]) + ". " + sw.Family,
	}
	random := rand.New(rand.NewPCG(sc.Seed, uint64(1000+i)))
	came := 0
	for k := range sw.Sessions {
		s := &sw.Sessions[k]
		away := random.Float64() < absence
		if p.sessions == 0 && away || p.sessions > 0 && came == p.sessions {
			continue
		}
		if err := l.recordSession(dir, s, came, random); err != nil {
			return l, fmt.Errorf("datasets: demo swimmer %s, session %d: %w", sw.Handle, k+1, err)
		}
		came++
	}
	return l, nil
}

// recordSession leaves one session's evidence.
func (l *leaving) recordSession(dir string, s *squad.Session, came int, random *rand.Rand) error {
	p, sw := l.part, &l.swimmer
	truth := sessionTruth{Date: s.Local.Format("2006-01-02"), Designed: s.Designed, FatigueBPM: round2(s.FatigueBPM)}
	onSheet := p.sheet != nil && (!p.designed || s.Designed)
	if onSheet {
		rows := l.sheetOf(s)
		l.sheets = append(l.sheets, rows)
		truth.Files = append(truth.Files, rows.file)
	}
	if p.pulse > 0 {
		l.pulses = append(l.pulses, deckfile.Pulse{Name: l.aliases[0], Session: s, EverySeconds: p.pulse})
		truth.Files = append(truth.Files, l.pulseFile())
	}
	if p.watch != nil {
		file, faults, err := l.watchFile(dir, s, came, random)
		if err != nil {
			return err
		}
		truth.Files, truth.Faults = append(truth.Files, file), faults
		if p.owned == byAssign {
			l.assigned = append(l.assigned, deckfile.Assignment{File: file, Swimmer: sw.Handle})
		}
		if !onSheet && p.owned != byNobody {
			l.notes = append(l.notes, deckfile.NotesFromSession(s, sw.Handle)...)
		}
	}
	l.sessions = append(l.sessions, truth)
	return nil
}

func (l *leaving) pulseFile() string { return "pulse/" + l.swimmer.Handle + ".csv" }

// sheetOf writes a session down on the sheet of its lane and week.
func (l *leaving) sheetOf(s *squad.Session) sheetRows {
	style := l.part.sheet
	o := style.options
	o.Name = l.aliases[style.alias]
	year, week := s.Local.ISOWeek()
	name := fmt.Sprintf("%s/%d-w%02d-%s", style.folder, year, week, style.lane)
	wide := style.wide && !s.Designed
	if wide {
		name += "-wide"
		o.NoTags, o.FromRep = true, len(s.Bouts)-countMain(s)
	}
	return sheetRows{file: name + ".csv", style: style, wide: wide, rows: deckfile.RowsFromSession(s, &l.swimmer, o)}
}

// countMain counts the bouts after warm-up and drill.
func countMain(s *squad.Session) int {
	n := 0
	for _, b := range s.Bouts {
		if !b.WarmUp && b.Stroke != squad.Drill {
			n++
		}
	}
	return n
}

// watchFile writes a session as an activity file, with the recorder's quirks and
// a sensible share of faults, and any extra file that belongs to the swimmer.
func (l *leaving) watchFile(dir string, s *squad.Session, came int, random *rand.Rand) (string, []fault, error) {
	p, sw := l.part, &l.swimmer
	a := af.FromSession(s, sw, p.watch.options)
	faults := spoil(&a, s, random)
	q := p.watch.quirks
	name := "inbox/" + sw.Handle + "/" + s.Local.Format("2006-01-02-1504") + ".fit"
	switch p.owned {
	case byAssign:
		name = fmt.Sprintf("inbox/watch-%02d-%03d.fit", sw.Index, came+1)
	case byDevice:
		name = fmt.Sprintf("inbox/%s-%02d.fit", s.Local.Format("20060102-150405"), sw.Index)
	case byNobody:
		name = fmt.Sprintf("inbox/found-at-the-pool-%d.fit", sw.Index)
	}
	write := func(name string, a af.Activity, q af.Quirks) error {
		b, err := af.Encode(a, q)
		if err != nil {
			return err
		}
		return writeFile(dir, name, b)
	}
	if came != 3 || p.extra == noExtra {
		return name, faults, write(name, a, q)
	}
	beside := func(file string) string { return "inbox/" + sw.Handle + "/" + file }
	other := func(file, why string) string {
		l.others = append(l.others, otherFile{file, why})
		return file
	}
	switch p.extra {
	case copied:
		return name, faults, errors.Join(write(name, a, q), write(other(beside("copy-of-a-session.fit"), "byte-identical copy of "+name), a, q))
	case reExported:
		again := q
		again.OtherSoftware, again.BigEndian = true, true
		return name, faults, errors.Join(write(name, a, q), write(other(beside("exported-again.fit"), "re-export of "+name), a, again))
	case truncated:
		var whole bytes.Buffer
		if err := af.Write(&whole, a, q); err != nil {
			return name, faults, err
		}
		q.TruncateAt = whole.Len() * 3 / 5
		return other(name, "cut short"), faults, write(name, a, q)
	case openWater:
		sea := seaSwim(s.StartUTC.Add(36*time.Hour), sw)
		return name, faults, errors.Join(write(name, a, q), write(other(beside("estuary.fit"), "open-water swim without lengths"), sea, q))
	case ride:
		return name, faults, errors.Join(write(name, a, q), write(other(beside("to-work.fit"), "another sport"), bikeRide(s.StartUTC.Add(-11*time.Hour), sw), q))
	case notActivity:
		text := []byte("Lane keys are with the lifeguard. This is not an activity file.\n")
		return name, faults, errors.Join(write(name, a, q), writeFile(dir, other(beside("read-me-first.fit"), "not an activity file"), text))
	case wrongClock:
		a.LocalOffset = -528 * time.Hour
		return other(name, "local clock 528 hours behind"), faults, write(name, a, q)
	}
	return name, faults, fmt.Errorf("no such extra: %d", p.extra)
}

// seaSwim is an open-water recording: no pool, no lengths. It is set in mid-ocean.
func seaSwim(start time.Time, sw *squad.Swimmer) af.Activity {
	a := af.Activity{StartUTC: start, NotPoolSwimming: true, Sport: af.SportSwimming, SubSport: af.SubSportOpenWater,
		Serial: sw.Device, ProductName: "poolside recorder"}
	for t := 0; t <= 1500; t += 5 {
		a.Records = append(a.Records, af.Record{Seconds: float64(t), BPM: 120 + min(t/10, 25), DistanceMetres: 1.1 * float64(t),
			Position: true, Lat: 45 + 1e-5*float64(t), Lon: -30})
	}
	return a
}

func bikeRide(start time.Time, sw *squad.Swimmer) af.Activity {
	a := af.Activity{StartUTC: start, NotPoolSwimming: true, Sport: af.SportCycling, Serial: sw.Device, ProductName: "poolside recorder"}
	for t := 0; t <= 1200; t += 10 {
		a.Records = append(a.Records, af.Record{Seconds: float64(t), BPM: 105, DistanceMetres: 6 * float64(t)})
	}
	return a
}

// fault is something that went wrong in a recording, for truth.json.
type fault struct {
	Kind      string  `json:"kind"`
	AtSeconds float64 `json:"at_s"`
}

// spoil adds the faults of a common pool evening: lengths that lie and heart rate
// that drops out. It goes from the last lap to the first, so that indices hold.
func spoil(a *af.Activity, s *squad.Session, random *rand.Rand) []fault {
	var faults []fault
	add := func(ok bool, kind string, at float64) {
		if ok {
			faults = append(faults, fault{kind, round2(at)})
		}
	}
	for k := len(a.Laps) - 1; k >= 0; k-- {
		lap := a.Laps[k]
		u, share := random.Float64(), 0.25+0.5*random.Float64()
		i := lap.FirstLength + random.IntN(max(1, lap.Lengths-1))
		if lap.Lengths < 4 {
			continue
		}
		at := a.Lengths[i].StartSeconds
		switch {
		case u < 0.03:
			add(af.MissedTurn(a, i), "missed turn", at)
		case u < 0.05:
			add(af.FalseTurn(a, i, share), "false turn", at)
		case u < 0.065:
			add(af.EarlyTurn(a, i, 0.3+share/2), "early turn", at)
		case u < 0.08:
			add(af.StopInside(a, i, 18), "stop inside a length", at)
		case u < 0.09:
			add(af.ImpossibleStrokes(a, i, 2+57*random.IntN(2)), "impossible count", at)
		}
	}
	if len(a.Records) > 0 && a.Records[0].BPM > 0 {
		if random.Float64() < 0.15 {
			af.SetHeartRate(a, 0, 30, 71)
			add(true, "start value", 0)
		}
		if random.Float64() < 0.25 {
			from := random.Float64() * s.DurationSeconds()
			af.SetHeartRate(a, from, from+15+45*random.Float64(), 255*random.IntN(2))
			add(true, "heart-rate dropout", from)
		}
		if random.Float64() < 0.08 {
			b := s.Bouts[random.IntN(len(s.Bouts))]
			af.SetHeartRate(a, b.StartSeconds+20, b.StartSeconds+b.DurationSeconds, int(b.RateSPM+0.5))
			add(true, "locked on the stroke rate", b.StartSeconds+20)
		}
	}
	slices.SortStableFunc(faults, func(x, y fault) int { return cmp.Compare(x.AtSeconds, y.AtSeconds) })
	return faults
}

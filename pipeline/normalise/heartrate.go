package normalise

import (
	"cmp"
	"fmt"
	"slices"

	"lengthwise/pipeline/read"
)

const (
	// afterS is how long after a session heart rate still belongs to it: a
	// reading of recovery.
	afterS = 60.0
	// ownShare is the share of a log's samples that a session's own must
	// reach to be used instead of the log.
	ownShare = 0.1
)

// isBeat tells whether a recorded value is a heart rate at all: 0 and 255 are
// how recorders write "missing".
func isBeat(bpm float64) bool { return bpm > 0 && bpm < 255 }

// source is one recording's samples on the clock of one session.
type source struct {
	recording *read.Recording
	samples   []Sample
	beats     int
}

func (s *source) add(in *read.Sample, at float64) {
	s.samples = append(s.samples, Sample{FileID: s.recording.FileID, Record: in.Record,
		TimeS: at, BPM: in.BPM, First: in.First})
	if isBeat(in.BPM) {
		s.beats++
	}
}

// addHeartRate gives each session the samples of one source: its own, or those
// of the log with the most beats while it swam, when its own are fewer than a
// tenth of them. drafts are in order of start. Samples of a source that is not
// used, and those before or after every session, are excluded.
func addHeartRate(drafts []*draft, logs []*read.Recording) []read.Entry {
	var entries []read.Entry
	exclude := func(r *read.Recording, session, rule, detail string, records []int64) {
		entries = append(entries, Runs(read.Entry{FileID: r.FileID, Kind: read.KindHeartRate, Swimmer: r.Swimmer,
			Session: session, Rule: rule, Action: read.Excluded, Detail: detail}, records)...)
	}
	fromLogs := make([][]*source, len(drafts))
	for _, log := range logs {
		log, note := onChangedClock(log, drafts)
		entries = append(entries, note...)
		outside := placeLog(log, drafts, fromLogs)
		detail := "no session of the swimmer runs at that time"
		if log.Start.IsZero() {
			detail = "the log states no clock time"
		}
		exclude(log, "", RuleOutsideSession, detail, outside)
	}
	for i, d := range drafts {
		own := &source{recording: d.recording, samples: make([]Sample, 0, len(d.recording.Samples))}
		from, to := d.span()
		var outside []int64
		for k := range d.recording.Samples {
			if in := &d.recording.Samples[k]; in.TimeS >= from && in.TimeS <= to {
				own.add(in, in.TimeS)
			} else {
				outside = append(outside, in.Record)
			}
		}
		exclude(d.recording, d.ID, RuleOutsideSession, "before the session or more than a minute after it", outside)
		used := choose(own, fromLogs[i])
		for _, s := range append(fromLogs[i], own) {
			if s == used {
				continue
			}
			records := make([]int64, len(s.samples))
			for k := range s.samples {
				records[k] = s.samples[k].Record
			}
			exclude(s.recording, d.ID, RuleSecondSource, "file "+used.recording.FileID+" gives the session's heart rate", records)
		}
		d.Samples = used.samples
		if used != own {
			d.HRSource = orUnknown(used.recording.HRSource)
		}
		byTime := func(a, b Sample) int {
			return cmp.Or(cmp.Compare(a.TimeS, b.TimeS), cmp.Compare(a.Record, b.Record))
		}
		if !slices.IsSortedFunc(d.Samples, byTime) {
			slices.SortFunc(d.Samples, byTime)
		}
	}
	return entries
}

// onChangedClock moves a log that lies in no session by what its zone's clocks
// changed within a day of it, where it then lies in one: its local times were
// there twice, or its clock was not changed.
func onChangedClock(log *read.Recording, drafts []*draft) (*read.Recording, []read.Entry) {
	if log.Start.IsZero() || len(log.Samples) == 0 || inSession(log, drafts) {
		return log, nil
	}
	for _, by := range clockChanges(log.Start, log.Zone) {
		moved := *log
		moved.Start = log.Start.Add(by)
		if inSession(&moved, drafts) {
			return &moved, []read.Entry{{FileID: log.FileID, Record: log.Samples[0].Record, Records: 1, Kind: read.KindHeartRate, Swimmer: log.Swimmer,
				Rule: read.RuleClockChange, Action: read.Noted,
				Detail: fmt.Sprintf("the clocks changed that day: the log lies in a session once it is moved by %+.1f h", by.Hours())}}
		}
	}
	return log, nil
}

// inSession tells whether a log has samples in a session.
func inSession(log *read.Recording, drafts []*draft) bool {
	for _, d := range drafts {
		if !d.takesLogs() {
			continue
		}
		shift := log.Start.Sub(d.Start).Seconds()
		from, to := d.span()
		for i := range log.Samples {
			if at := log.Samples[i].TimeS + shift; at >= from && at <= to {
				return true
			}
		}
	}
	return false
}

// choose picks the source of a session's heart rate.
func choose(own *source, logs []*source) *source {
	best := own
	for _, log := range logs {
		if best == own || log.beats > best.beats {
			best = log
		}
	}
	if best == own || float64(own.beats) >= ownShare*float64(best.beats) && (own.beats > 0 || len(own.samples) > 0) {
		return own
	}
	return best
}

// span is the time within which samples belong to the session, on its clock.
func (d *draft) span() (from, to float64) {
	first, _ := swimming(d)
	return min(0, first), d.endS + afterS
}

// takesLogs tells whether the session's clock is good enough to lay a
// heart-rate log on it.
func (d *draft) takesLogs() bool { return !d.Start.IsZero() && d.ClockSure }

// placeLog deals a log's samples out to the sessions that ran at their time,
// the later one where two ran, and returns the records of the others.
func placeLog(log *read.Recording, drafts []*draft, fromLogs [][]*source) (outside []int64) {
	type window struct {
		draft    int
		from, to float64 // on the log's clock
		shift    float64 // session's clock minus log's
	}
	var windows []window
	if !log.Start.IsZero() {
		for i, d := range drafts {
			if d.takesLogs() {
				shift := log.Start.Sub(d.Start).Seconds()
				from, to := d.span()
				windows = append(windows, window{i, from - shift, to - shift, shift})
			}
		}
	}
	slices.SortStableFunc(windows, func(a, b window) int { return cmp.Compare(a.from, b.from) })
	placed := make(map[int]*source)
	for k := range log.Samples {
		in := &log.Samples[k]
		after, _ := slices.BinarySearchFunc(windows, in.TimeS, func(w window, t float64) int {
			if w.from <= t {
				return -1
			}
			return 1
		})
		w := after - 1
		for w >= 0 && !(in.TimeS <= windows[w].to) {
			w--
		}
		if w < 0 {
			outside = append(outside, in.Record)
			continue
		}
		s := placed[windows[w].draft]
		if s == nil {
			s = &source{recording: log}
			placed[windows[w].draft] = s
			fromLogs[windows[w].draft] = append(fromLogs[windows[w].draft], s)
		}
		s.add(in, in.TimeS+windows[w].shift)
	}
	return outside
}

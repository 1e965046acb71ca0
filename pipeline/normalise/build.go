package normalise

import (
	"math"
	"time"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// draft is a session on its way: not yet numbered, without heart rate.
type draft struct {
	Session
	recording *read.Recording
	entries   []read.Entry // still without the session's id
	endS      float64      // end of the last length or rest
}

// build puts one recording's rows on common footing.
func build(r *read.Recording, zone *time.Location, w wall) *draft {
	t := newTimeline(r, w.out())
	swims, flipped := findSwims(r, t)
	if r.Zone != nil {
		zone = r.Zone
	}
	d := &draft{recording: r, Session: Session{
		Swimmer: r.Swimmer, FileID: r.FileID, Kind: r.Kind, Start: r.Start, Zone: zone,
		LocalDate: localDate(r, zone), PoolM: sessionPool(r), HRSource: orUnknown(r.HRSource),
		ClockSure: true, WallTimeS: w.shown(),
	}}
	tags, strokes := swimTags(r, swims), swimStrokes(r, swims)
	firstLength := make([]int, len(r.Lengths)+1) // of each row, among the session's lengths
	rest := math.NaN()
	for i := range r.Lengths {
		if i > 0 && swims[i] != swims[i-1] {
			rest = t.rest[i]
		}
		if !t.stated[i] && i > 0 && swims[i] != swims[i-1] {
			d.ClockSure = false
		}
		firstLength[i] = len(d.Lengths)
		d.addRow(&r.Lengths[i], r, t.starts[i], swims[i], rest, tags[i], strokes[i])
		d.endS = math.Max(d.endS, t.starts[i]+rowDuration(&r.Lengths[i]))
	}
	firstLength[len(r.Lengths)] = len(d.Lengths)
	for k := range r.Rests {
		rest := &r.Rests[k]
		d.Rests = append(d.Rests, Rest{FileID: r.FileID, Record: rest.Record,
			StartS: rest.StartS, DurationS: rest.DurationS, Before: firstLength[t.before[k]]})
		d.endS = math.Max(d.endS, orZero(rest.StartS)+math.Max(0, orZero(rest.DurationS)))
	}
	d.noteFlips(flipped)
	switch {
	case w.found:
		d.entries = append(d.entries, d.entry(&r.Lengths[0], RuleWallTime, read.Noted, w.words()))
	case w.drift:
		d.entries = append(d.entries, d.entry(&r.Lengths[0], RuleStartsDrift, read.Noted, w.driftWords()))
	}
	return d
}

// addRow adds a row's lengths: one, or as many equal shares as it covers. A
// reading taken after the row belongs to the last.
func (d *draft) addRow(l *read.Length, r *read.Recording, start float64, swim int, rest float64, tags read.Tags, stroke string) {
	covers := 1
	if l.Kind == read.KindRepeat {
		covers = max(1, l.Covers)
	}
	basis := basisOf(l.Basis, r.Basis)
	lap := l.Lap
	if lapOf(r, l) == nil {
		lap = -1
	}
	seconds, strokes := l.DurationS/float64(covers), l.Strokes/float64(covers)
	length := Length{
		FileID: r.FileID, Record: l.Record, Kind: l.Kind, Covers: covers,
		Lap: lap, Swim: swim,
		DurationS: seconds, DurationRecordedS: seconds,
		PoolM: poolOf(l.PoolM, r.PoolM), Stroke: l.Stroke, SwimStroke: stroke, Drill: l.Drill,
		Strokes: ArmStrokes(strokes, stroke, basis), StrokesRecorded: strokes, Basis: basis, RecorderBasis: basis,
		RestBeforeS: rest, WallTimeS: l.WallTimeS, Tags: tags,
	}
	for share := 1; share <= covers; share++ {
		length.Share = share
		length.StartS = start + float64(share-1)*rowDuration(l)/float64(covers)
		length.End = read.Reading{HRBPM: math.NaN(), DelayS: math.NaN()}
		if share == covers {
			length.End = l.End
		}
		d.Lengths = append(d.Lengths, length)
	}
}

// noteFlips notes the rows whose stroke flipped, with the stroke of the swim.
func (d *draft) noteFlips(rows []int) {
	for _, i := range rows {
		l := &d.recording.Lengths[i]
		d.entries = append(d.entries, d.entry(l, RuleStrokeFlip, read.Noted,
			"recorded as "+l.Stroke+" within an unbroken swim of another stroke; it stays in that swim"))
	}
}

// entry is a ledger entry for a row of the draft.
func (d *draft) entry(l *read.Length, rule string, action read.Action, detail string) read.Entry {
	return read.Entry{FileID: d.FileID, Record: l.Record, Records: 1, Kind: l.Kind,
		Swimmer: d.Swimmer, Rule: rule, Action: action, Detail: detail}
}

// swimTags gives each row the tags of its swim: what one row of a swim states
// holds for rows that leave it blank. Settings come from the first row that
// states them, and so do measurements: a sheet writes exertion or lactate of a
// swim once, in whichever row.
func swimTags(r *read.Recording, swims []int) []read.Tags {
	tags := make([]read.Tags, len(swims))
	for from := 0; from < len(swims); {
		to := from
		all := blankTags()
		for to < len(swims) && swims[to] == swims[from] {
			all = filled(all, r.Lengths[to].Tags)
			to++
		}
		for i := from; i < to; i++ {
			tags[i] = filled(r.Lengths[i].Tags, all)
		}
		from = to
	}
	return tags
}

// swimStrokes gives each row the stroke of its swim: that of most lengths,
// drills aside, the earlier on a tie. A length whose stroke flipped is counted
// like its swim: a freestyle length taken for breaststroke still has two arm
// entries a cycle.
func swimStrokes(r *read.Recording, swims []int) []string {
	strokes := make([]string, len(swims))
	for from := 0; from < len(swims); {
		to := from
		counts := make(map[string]int)
		for to < len(swims) && swims[to] == swims[from] {
			if l := &r.Lengths[to]; !l.Drill {
				counts[l.Stroke] += max(1, l.Covers)
			}
			to++
		}
		best := r.Lengths[from].Stroke
		for i := from; i < to; i++ { // in order, so that ties do not hang on the map
			if counts[r.Lengths[i].Stroke] > counts[best] {
				best = r.Lengths[i].Stroke
			}
		}
		for i := from; i < to; i++ {
			strokes[i] = best
		}
		from = to
	}
	return strokes
}

// blankTags states nothing.
func blankTags() read.Tags {
	nan := math.NaN()
	return read.Tags{RateTargetSPM: nan, Breathing: nan, RPE: nan, LactateMMOL: nan, LactateBefore: nan, VO2: nan}
}

// localDate is the day of a recording where it was swum; "" when not known.
func localDate(r *read.Recording, zone *time.Location) string {
	if r.Start.IsZero() || zone == nil {
		return r.LocalDate
	}
	return r.Start.In(zone).Format(time.DateOnly)
}

// sessionPool is the pool of a session: the recording's, else that of its
// first length that has one.
func sessionPool(r *read.Recording) float64 {
	pool := poolOf(r.PoolM, math.NaN())
	for i := 0; i < len(r.Lengths) && math.IsNaN(pool); i++ {
		pool = poolOf(r.Lengths[i].PoolM, math.NaN())
	}
	return pool
}

func orUnknown(source string) string {
	if source == "" {
		return "unknown"
	}
	return source
}

// studyZone is where the squad swims.
func studyZone(s *study.Study) *time.Location {
	if s != nil && s.TimeZone != nil {
		return s.TimeZone
	}
	return time.UTC
}

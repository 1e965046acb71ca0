package read

import (
	"math"
	"strings"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// logGap is the silence, in either direction, after which a heart-rate log
// goes on with another recording.
const logGap = time.Hour

// HeartRateLog reads a heart-rate log with the columns swimmer, timestamp and
// hr. Timestamps are RFC 3339, 2026-03-02 18:30:15 on the clock of the input's
// zone, another date that has one meaning with a time of day behind it, a
// spreadsheet's day number with its fraction, or seconds since 1970. Samples keep their order; each swimmer's become
// recordings, a new one after an hour of silence, whose Start is the earliest
// sample. Every row that is not blank counts as a record, as in Sheet.
//
// Local times in the hour that the clocks repeat are taken as the first one
// unless that would go back in time. The error is a *NotTableError.
func HeartRateLog(data []byte, src SheetSource) (File, []identity.Seen, error) {
	table, err := csvOpen(data, "heart-rate log", src.FileID, study.ColumnNames(study.HeartRate), src.Input.Columns)
	if err != nil {
		return File{}, nil, err
	}
	r := logReader{src: src, table: table, zone: src.zone(), names: newSheetNames(src),
		file: File{ID: src.FileID, Counts: Counts{HeartRate: int64(len(table.rows))}}, open: map[string]*logPart{}}
	missing := ""
	for _, column := range []string{"timestamp", "hr"} {
		if !table.has(column) {
			missing = column
		}
	}
	if !table.has("swimmer") && !src.ownsRows() {
		missing = "swimmer"
	}
	for i, row := range table.rows {
		r.read(int64(i)+1, row, missing)
	}
	for _, p := range r.parts {
		rec := p.recording()
		rec.Part = len(r.file.Recordings) + 1
		r.file.Recordings = append(r.file.Recordings, rec)
	}
	return r.file, r.names.seen, nil
}

type logReader struct {
	src   SheetSource
	table *csvTable
	zone  *time.Location
	names *sheetNames
	file  File
	parts []*logPart
	open  map[string]*logPart // each swimmer's newest
	dates *study.DateOrder    // of the column, nil until it is asked for
}

// logPart is a recording in the making.
type logPart struct {
	rec   Recording
	times []time.Time
}

func (r *logReader) read(record int64, row csvRow, missing string) {
	name := r.table.cell(row, "swimmer")
	owner := r.names.owner(name)
	enter := func(rule string, action Action, detail string) { r.enter(record, owner.Swimmer, rule, action, detail) }
	switch {
	case missing != "":
		enter(RuleMissingColumn, Excluded, csvDetail(row, missing, "the log has no such column; if it goes by another name, say so under columns of the input"))
		return
	case r.table.repeatsHeader(row):
		enter(RuleHeaderAgain, Excluded, csvDetail(row, "", "the header stands here again"))
		return
	case r.table.overflows(row):
		enter(RuleTooManyCells, Excluded, csvDetail(row, "", "%d cells under %d headers", len(row.cells), len(r.table.header)))
		return
	}
	hr, stamp := r.table.cell(row, "hr"), r.table.cell(row, "timestamp")
	if hr == "" || stamp == "" {
		enter(RuleMissingCell, Excluded, csvDetail(row, "", "timestamp or hr is empty"))
		return
	}
	bpm, ok := r.table.csvNumber(hr)
	if !ok || bpm < 0 || bpm > 1000 {
		enter(RuleUnreadable, Excluded, csvDetail(row, "hr", "%s is no heart rate", csvShown(hr)))
		return
	}
	key := sheetOwnerKey(owner, name)
	part := r.open[key]
	var before time.Time
	if part != nil {
		before = part.times[len(part.times)-1]
	}
	at, fit, ok := r.instant(stamp, before)
	if !ok {
		enter(RuleUnreadable, Excluded, csvDetail(row, "timestamp", "%s is no timestamp; write it as 2026-03-02T18:30:15Z", csvShown(stamp)))
		return
	}
	switch fit {
	case clockGap:
		enter(RuleClockChange, Noted, csvDetail(row, "timestamp", "the clocks went forward over this time; it is counted on from before"))
	case clockRepeat:
		enter(RuleClockChange, Noted, csvDetail(row, "timestamp", "the clocks went back over this time; the first of the two is taken unless that goes back in time"))
	}
	if part == nil || at.Sub(before).Abs() > logGap {
		part = &logPart{rec: Recording{
			FileID: r.src.FileID, Kind: FromHeartRateLog, Swimmer: owner.Swimmer, Refused: owner.Refused, Zone: r.zone,
			PoolM: math.NaN(), Basis: study.UnknownBasis, HRSource: "unknown", Content: r.src.Content,
		}}
		if r.src.Input.HRSource != "" {
			part.rec.HRSource = r.src.Input.HRSource
		}
		r.open[key] = part
		r.parts = append(r.parts, part)
	}
	part.times = append(part.times, at)
	part.rec.Samples = append(part.rec.Samples, Sample{Record: record, BPM: bpm})
}

// enter writes an entry, or lengthens the last one when it says the same of
// the record before.
func (r *logReader) enter(record int64, swimmer, rule string, action Action, detail string) {
	if n := len(r.file.Entries); n > 0 {
		last := &r.file.Entries[n-1]
		if last.Rule == rule && last.Action == action && last.Swimmer == swimmer && last.Record+last.Records == record {
			last.Records++
			return
		}
	}
	r.file.Entries = append(r.file.Entries, Entry{FileID: r.src.FileID, Record: record, Records: 1, Kind: KindHeartRate,
		Swimmer: swimmer, Rule: rule, Action: action, Detail: detail})
}

// instant reads a timestamp; before is the swimmer's last one, zero when none.
func (r *logReader) instant(stamp string, before time.Time) (time.Time, clockFit, bool) {
	if strings.Trim(stamp, "0123456789.,") == "" {
		if at, ok := r.unix(stamp); ok {
			return at, clockPlain, true
		}
		d, ok := serialDay(stamp) // a spreadsheet's, on the zone's clock
		if !ok || !d.timed {
			return time.Time{}, clockPlain, false
		}
		stamp = d.day + "T" + time.Time{}.Add(d.clock).Format(time.TimeOnly)
	}
	if len(stamp) > 10 && stamp[10] == ' ' {
		stamp = stamp[:10] + "T" + stamp[11:]
	}
	if at, err := time.Parse(time.RFC3339, stamp); err == nil {
		return at, clockPlain, logYear(at)
	}
	local, err := time.Parse("2006-01-02T15:04:05", stamp)
	if err != nil {
		d := csvDate(strings.Replace(stamp, "T", " ", 1), r.order())
		if d.day == "" || !d.timed {
			return time.Time{}, clockPlain, false
		}
		day, _ := time.Parse(time.DateOnly, d.day)
		local = day.Add(d.clock)
	}
	if !logYear(local) {
		return time.Time{}, clockPlain, false
	}
	at, again, fit := sheetInstant(local, r.zone)
	if at.Before(before) && !again.Before(before) {
		at = again
	}
	return at, fit, true
}

// order is the order of the log's dates, as the input or the column says.
func (r *logReader) order() study.DateOrder {
	if r.dates == nil {
		order := r.src.Input.Dates
		if order == study.AnyOrder {
			var cells []string
			for _, row := range r.table.rows {
				cells = append(cells, r.table.cell(row, "timestamp"))
			}
			order = dateOrderOf(cells)
		}
		r.dates = &order
	}
	return *r.dates
}

// unix reads seconds since 1970, or thousandths where only these fit.
func (r *logReader) unix(stamp string) (time.Time, bool) {
	seconds, ok := r.table.csvNumber(stamp)
	if !ok {
		return time.Time{}, false
	}
	const firstThousandths = 1e11 // as seconds: the year 5138
	if seconds >= firstThousandths {
		seconds /= 1000
	}
	if seconds > 1e11 {
		return time.Time{}, false
	}
	whole, part := math.Modf(seconds)
	at := time.Unix(int64(whole), int64(math.Round(part*1e3))*int64(time.Millisecond)).UTC()
	return at, logYear(at)
}

// logYear tells a real timestamp from a number that happens to read as one.
func logYear(t time.Time) bool { return t.Year() >= 1975 && t.Year() < 2200 }

// recording puts a part's samples on the clock of its earliest one.
func (p *logPart) recording() Recording {
	start := p.times[0]
	for _, t := range p.times {
		if t.Before(start) {
			start = t
		}
	}
	for i, t := range p.times {
		p.rec.Samples[i].TimeS = t.Sub(start).Seconds()
	}
	p.rec.Start = start.UTC()
	p.rec.LocalDate = start.In(p.rec.Zone).Format(time.DateOnly)
	return p.rec
}

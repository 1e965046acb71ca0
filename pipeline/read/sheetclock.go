package read

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// clockFit says how a local time sits in its zone.
type clockFit int

const (
	clockPlain  clockFit = iota
	clockGap             // the clocks went forward over it: it never was
	clockRepeat          // the clocks went back over it: it was twice
)

// sheetInstant gives the instant of a local time, written as if it were UTC.
// Of a time that was twice, at is the first and again the second; otherwise
// they are equal. A time that never was is counted on with the clock before the
// change, as a watch that nobody set would.
func sheetInstant(local time.Time, zone *time.Location) (at, again time.Time, fit clockFit) {
	offset := func(t time.Time) time.Duration { return offsetOf(zone, t) }
	// No zone changes its clock twice within two days in the years that
	// recorders know (from memory).
	early, late := offset(local.Add(-24*time.Hour)), offset(local.Add(24*time.Hour))
	before, after := local.Add(-early), local.Add(-late)
	beforeFits, afterFits := offset(before) == early, offset(after) == late
	switch {
	case early == late:
		return before, before, clockPlain
	case beforeFits && afterFits:
		return before, after, clockRepeat
	case beforeFits:
		return before, before, clockPlain
	case afterFits:
		return after, after, clockPlain
	}
	return before, before, clockGap
}

// offsetOf is how far a zone's clock is ahead of UTC at an instant.
func offsetOf(zone *time.Location, at time.Time) time.Duration {
	_, seconds := at.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}

// clockReading is a time of day as a cell states it.
type clockReading struct {
	clock   time.Duration  // since midnight
	seconds bool           // stated to the second
	zone    *time.Location // where the cell says so, else nil
	day     string         // where the cell states a date too
}

// clockTime reads a time of day: 18:30, 18:30:15, 18.30, 18h30, 6:30 PM, with
// Z or +01:00 behind it, 2026-03-02T18:30:00+01:00, or a spreadsheet's share of
// a day.
func clockTime(cell string) (clockReading, bool) {
	text := strings.ToLower(strings.TrimSpace(cell))
	var r clockReading
	if len(text) > 11 && (text[10] == 't' || text[10] == ' ') && text[4] == '-' {
		day, err := time.Parse(time.DateOnly, text[:10])
		if err != nil {
			return r, false
		}
		r.day, text = day.Format(time.DateOnly), text[11:]
	}
	if share, ok := shareOfDay(text); ok && r.day == "" {
		return clockReading{clock: share, seconds: share%time.Minute != 0}, true
	}
	if strings.HasPrefix(text, "0.") || strings.HasPrefix(text, "0,") {
		return r, false // 0.30: half past midnight, or the share of a day that is 07:12
	}
	text, r.zone = cutZone(text)
	half := time.Duration(-1)
	for _, end := range []struct {
		word string
		add  time.Duration
	}{{"am", 0}, {"a.m.", 0}, {"pm", 12 * time.Hour}, {"p.m.", 12 * time.Hour}} {
		if before, found := strings.CutSuffix(text, end.word); found {
			text, half = strings.TrimSpace(before), end.add
			break
		}
	}
	for _, word := range []string{"uhr", "heures", "hrs", "h", "u"} { // 18:30 Uhr, 18h
		if before, found := strings.CutSuffix(text, word); found && half < 0 {
			text = strings.TrimSpace(before)
			break
		}
	}
	if whole, part, found := strings.Cut(text, "."); found && strings.Count(whole, ":") == 2 && isDigits(part) { // 18:30:15.000
		text = whole
	}
	parts := strings.FieldsFunc(text, func(c rune) bool { return c == ':' || c == '.' || c == 'h' || c == 'u' })
	if strings.Trim(text, "0123456789:.hu") != "" || len(parts) < 1 || len(parts) > 3 || len(parts) == 1 && text == strings.TrimSpace(cell) {
		return r, false
	}
	limits := []int{24, 60, 60}
	total := 0
	for i := range 3 {
		n := 0
		if i < len(parts) {
			if len(parts[i]) > 2 || i > 0 && len(parts[i]) != 2 {
				return r, false
			}
			n, _ = strconv.Atoi(parts[i])
		}
		if n >= limits[i] {
			return r, false
		}
		total = 60*total + n
	}
	r.clock, r.seconds = time.Duration(total)*time.Second, len(parts) == 3 && total%60 != 0
	if half >= 0 {
		hours := total / 3600
		if hours < 1 || hours > 12 {
			return r, false
		}
		r.clock += half
		if hours == 12 {
			r.clock -= 12 * time.Hour
		}
	}
	return r, true
}

// cutZone takes Z, UTC or an offset such as +01:00 off the end of a time.
func cutZone(text string) (string, *time.Location) {
	for _, word := range []string{"z", "utc", "gmt"} {
		if before, found := strings.CutSuffix(text, word); found {
			return strings.TrimSpace(before), time.UTC
		}
	}
	cut := strings.LastIndexAny(text, "+-\u2212")
	if cut < 4 {
		return text, nil
	}
	sign, digits := 1, strings.ReplaceAll(strings.TrimLeft(text[cut:], "+-\u2212"), ":", "")
	if text[cut] != '+' {
		sign = -1
	}
	if len(digits) != 4 && len(digits) != 2 || !isDigits(digits) {
		return text, nil
	}
	hours, _ := strconv.Atoi(digits[:2])
	minutes := 0
	if len(digits) == 4 {
		minutes, _ = strconv.Atoi(digits[2:])
	}
	if hours > 14 || minutes > 59 {
		return text, nil
	}
	return strings.TrimSpace(text[:cut]), time.FixedZone("", sign*(3600*hours+60*minutes))
}

// shareOfDay reads 0.770833 as 18:30. Two places and fewer may be a time
// written with a point and are taken only where they cannot be one; the rest
// must come to a whole second.
func shareOfDay(text string) (time.Duration, bool) {
	whole, part, found := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	if !found || whole != "0" || part == "" || strings.Trim(part, "0123456789") != "" {
		return 0, false
	}
	share, err := strconv.ParseFloat("0."+part, 64)
	if err != nil || len(part) <= 2 && share < 0.6 {
		return 0, false
	}
	seconds := share * 86400
	if step := 86400 * math.Pow(10, -float64(len(part))); step > 1 {
		minutes := seconds / 60 // few places: a whole minute, or it is no time
		if math.Abs(minutes-math.Round(minutes))*60 > step/2+1e-6 || step > 60 && math.Abs(minutes-math.Round(minutes)) > 1e-6 {
			return 0, false
		}
		seconds = 60 * math.Round(minutes)
	}
	return time.Duration(math.Round(seconds)) * time.Second, seconds < 86400
}

package read

import (
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
	offset := func(t time.Time) time.Duration {
		_, seconds := t.In(zone).Zone()
		return time.Duration(seconds) * time.Second
	}
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

// sheetTimeOfDay reads 18:30 or 18:30:15 as the time since midnight.
func sheetTimeOfDay(cell string) (time.Duration, bool) {
	layout := "15:04"
	if strings.Count(cell, ":") == 2 {
		layout = "15:04:05"
	}
	t, err := time.Parse(layout, cell)
	if err != nil {
		return 0, false
	}
	midnight := time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
	return t.Sub(midnight), true
}

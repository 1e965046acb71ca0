package deckfile

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// TimeForm is how a sheet writes times and rests.
type TimeForm int

// The forms of times.
const (
	AsGiven   TimeForm = iota // seconds, or m:ss.s where SheetOptions.Clock asks for it
	Colons                    // 1:05.2
	Stopwatch                 // 1'05"2, 30"5
	DayShare                  // 0.000754629629629630, as a spreadsheet keeps a time
	HourSlip                  // 1:05:00 for 1:05, as a spreadsheet takes what is typed for hours; whole seconds only
)

// write writes seconds, given to the tenth, in a form.
func (f TimeForm) write(cell string) string {
	seconds, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return cell
	}
	tenths := int(math.Round(10 * seconds))
	minutes, rest, tenth := tenths/600, tenths/10%60, tenths%10
	switch f {
	case Colons:
		return fmt.Sprintf("%d:%02d.%d", minutes, rest, tenth)
	case Stopwatch:
		if minutes == 0 {
			return fmt.Sprintf(`%d"%d`, rest, tenth)
		}
		return fmt.Sprintf(`%d'%02d"%d`, minutes, rest, tenth)
	case DayShare:
		return strconv.FormatFloat(seconds/86400, 'f', 18, 64)
	case HourSlip:
		if tenth == 0 && seconds > 0 {
			return fmt.Sprintf("%d:%02d:00", minutes, rest)
		}
		return fmt.Sprintf("%d:%02d:%02d", minutes, rest, 10*tenth)
	}
	return cell
}

// WideHeaders is how a wide sheet numbers its repeats.
type WideHeaders int

// The headers of wide sheets.
const (
	Underscores WideHeaders = iota // rep1_time
	Words                          // Rep 1 time
	NumberFirst                    // 1_time
	NumberLast                     // time_1
	LineAbove                      // Rep 1 in a line of its own above, time below
)

// header writes the header of a repeat's column; with LineAbove that is the
// column's name, and label what stands above the repeat's first.
func (h WideHeaders) header(rep int, column string) string {
	switch h {
	case Words:
		return fmt.Sprintf("Rep %d %s", rep, column)
	case NumberFirst:
		return fmt.Sprintf("%d_%s", rep, column)
	case NumberLast:
		return fmt.Sprintf("%s_%d", column, rep)
	case LineAbove:
		return column
	}
	return fmt.Sprintf("rep%d_%s", rep, column)
}

// dress writes a row's cells in the format's forms.
func (f Format) dress(r Row) Row {
	if f.Date != "" {
		if day, err := time.Parse(time.DateOnly, r[Date]); err == nil {
			r[Date] = day.Format(f.Date)
		}
	}
	r[Time], r[Rest] = f.Times.write(r[Time]), f.Times.write(r[Rest])
	return r
}

// comma gives a number the format's decimal sign.
func (f Format) comma(c Column, cell string) string {
	if f.DecimalComma && c.numeric() {
		return strings.Replace(cell, ".", ",", 1)
	}
	return cell
}

// mergeable are the columns whose cells coaches merge over a swimmer's rows.
var mergeable = []Column{Swimmer, Date, Start, Session, Pool, Stroke, Count}

// merged blanks what a row shares with the one above it, so long as both are of
// one swimmer and day.
func merged(r, above Row) Row {
	if r[Swimmer] != above[Swimmer] || r[Date] != above[Date] || r[Session] != above[Session] {
		return r
	}
	for _, c := range mergeable {
		if r[c] == above[c] {
			r[c] = ""
		}
	}
	return r
}

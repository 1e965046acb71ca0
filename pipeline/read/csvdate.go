package read

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// csvDay is a date as a cell states it.
type csvDay struct {
	day    string        // 2026-03-02, "" when the cell is no date
	clock  time.Duration // time of day where the cell states one
	timed  bool
	serial bool   // a spreadsheet's day number
	why    string // why day is "", or what was decided
	order  study.DateOrder
}

// csvDate reads a date that has one meaning: 2026-03-02, 2026/3/2, 2.3.2026 and
// 2.3.26 (points are used where the day comes first), 2 Mar 2026, Mar 2, 2026,
// 20260302, and a spreadsheet's day number. 02/03/2026 has two: order says
// which, or the numbers themselves. A time after the date is kept.
func csvDate(cell string, order study.DateOrder) csvDay {
	const advice = "write it as 2026-03-02"
	text := strings.TrimSpace(cell)
	if day, ok := serialDay(text); ok {
		return day
	}
	d := csvDay{}
	text, d.clock, d.timed = cutClock(text)
	numbers, signs, month, ok := dateParts(text)
	if !ok {
		d.why = fmt.Sprintf("%s is no date; %s", csvShown(cell), advice)
		return d
	}
	options := dateOptions(numbers, signs, month, order)
	found := map[string]study.DateOrder{}
	for _, o := range options {
		if order != study.AnyOrder && o.order != study.AnyOrder && o.order != order {
			continue
		}
		if day := time.Date(o.year, time.Month(o.month), o.day, 0, 0, 0, 0, time.UTC); o.month >= 1 && o.month <= 12 &&
			day.Day() == o.day && day.Year() >= 1970 && day.Year() < 2200 {
			found[day.Format(time.DateOnly)] = o.order
		}
	}
	switch {
	case len(found) == 1:
		for day, by := range found {
			d.day, d.order = day, by
		}
	case len(found) > 1:
		d.why = fmt.Sprintf("%s means different days to different readers; %s%s", csvShown(cell), advice, orderAdvice)
	case len(numbers) == 2 && month > 0 || len(numbers) == 2 && len(options) == 0:
		d.why = fmt.Sprintf("%s is a date without its year; %s", csvShown(cell), advice)
	default:
		d.why = fmt.Sprintf("%s is no date; %s", csvShown(cell), advice)
	}
	return d
}

// orderAdvice is what else helps a sheet.
const orderAdvice = ", or write dates: day-first or dates: month-first in the study file's input"

// dateOrderOf tells in which order a column's dates are written, from those
// that can be read in one order only. Where some are day first and some month
// first, as after a spreadsheet has taken a part of them for dates, nothing is
// known.
func dateOrderOf(cells []string) study.DateOrder {
	order := study.AnyOrder
	for _, cell := range cells {
		d := csvDate(cell, study.AnyOrder)
		if d.day == "" || d.order == study.AnyOrder {
			continue
		}
		if order != study.AnyOrder && order != d.order {
			return study.AnyOrder
		}
		order = d.order
	}
	return order
}

// dateOption is one way to read a date.
type dateOption struct {
	year, month, day int
	order            study.DateOrder // AnyOrder: the form itself says so
}

// dateOptions lists the ways to read the numbers of a date.
func dateOptions(numbers []string, signs string, month int, order study.DateOrder) []dateOption {
	n := make([]int, len(numbers))
	for i, text := range numbers {
		n[i], _ = strconv.Atoi(text)
	}
	year := func(i int) (int, bool) {
		switch len(numbers[i]) {
		case 4:
			return n[i], true
		case 2:
			return 2000 + n[i], true
		}
		return 0, false
	}
	full := func(i int) bool { return len(numbers[i]) == 4 }
	short := func(i int) bool { return len(numbers[i]) <= 2 }
	switch {
	case len(n) == 1 && len(numbers[0]) == 8 && month == 0: // 20260302
		return []dateOption{{n[0] / 10000, n[0] / 100 % 100, n[0] % 100, study.AnyOrder}}
	case len(n) == 2 && month > 0:
		if y, ok := year(1); ok && !full(0) {
			return []dateOption{{y, month, n[0], study.AnyOrder}}
		}
		if full(0) && short(1) {
			return []dateOption{{n[0], month, n[1], study.AnyOrder}}
		}
	case len(n) == 3 && month == 0 && len(signs) == 2 && signs[0] == signs[1]:
		if full(0) && short(1) && short(2) {
			return []dateOption{{n[0], n[1], n[2], study.AnyOrder}}
		}
		y, ok := year(2)
		if !ok || !short(0) || !short(1) {
			return nil
		}
		if signs[0] == '.' {
			return []dateOption{{y, n[1], n[0], study.AnyOrder}}
		}
		options := []dateOption{{y, n[1], n[0], study.DayFirst}, {y, n[0], n[1], study.MonthFirst}}
		if n[0] == n[1] {
			options = []dateOption{{y, n[1], n[0], study.AnyOrder}}
		}
		if first, ok := year(0); ok && !full(2) && signs[0] == '-' && order == study.AnyOrder { // 26-03-02
			options = append(options, dateOption{first, n[1], n[2], study.AnyOrder})
		}
		return options
	}
	return nil
}

// dateParts cuts a date into its numbers, the signs between them and its month
// where that is a word. Days of the week and small words are passed over; any
// other word is no part of a date.
func dateParts(text string) (numbers []string, signs string, month int, ok bool) {
	between := ""
	for len(text) > 0 {
		r := rune(text[0])
		if r >= '0' && r <= '9' {
			n := 0
			for n < len(text) && text[n] >= '0' && text[n] <= '9' {
				n++
			}
			if n > 8 {
				return nil, "", 0, false
			}
			if len(numbers) > 0 {
				sign := strings.TrimSpace(between)
				switch {
				case len(sign) == 1 && strings.Contains("./-", sign):
					signs += sign
				case sign == "" || strings.Trim(sign, ".,-/ ") == "":
					signs += " "
				default:
					return nil, "", 0, false
				}
			}
			numbers, text, between = append(numbers, text[:n]), text[n:], ""
			continue
		}
		word := text
		if cut := strings.IndexFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.Is(unicode.Mn, r) }); cut == 0 {
			_, size := utf8.DecodeRuneInString(text)
			between += text[:size]
			text = text[size:]
			continue
		} else if cut > 0 {
			word = text[:cut]
		}
		text = text[len(word):]
		key := plainWord(word)
		if m := monthOf(key); m > 0 && month == 0 && !dayWords[key] {
			month = m
		} else if !dayWords[key] {
			return nil, "", 0, false
		}
	}
	tail := strings.TrimSpace(between)
	return numbers, signs, month, len(numbers) > 0 && len(numbers) <= 3 && (tail == "" || tail == "." || tail == ",")
}

// monthOf tells a month by its name or a usual short form of it.
func monthOf(word string) int {
	for n := min(5, len(word)); n >= 3; n-- {
		if m := monthWords[word[:n]]; m > 0 {
			return m
		}
	}
	return 0
}

// plainWord is a word without case and accents.
func plainWord(word string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(identity.Fold(word)))
}

// cutClock takes a time of day off the end of a date: 2026-03-02T18:30:00,
// 2.3.2026 18:30.
func cutClock(text string) (date string, clock time.Duration, timed bool) {
	colon := strings.IndexByte(text, ':')
	if colon < 0 {
		return text, 0, false
	}
	cut := strings.LastIndexAny(text[:colon], "T ")
	if cut <= 0 {
		return text, 0, false
	}
	t, ok := clockTime(text[cut+1:])
	if !ok {
		return text, 0, false
	}
	return strings.Trim(text[:cut], " ,"), t.clock, true
}

// serialDay reads a spreadsheet's day number, counted from 30 December 1899,
// for the years 2000 to 2099, with the time of day as its fraction.
func serialDay(text string) (csvDay, bool) {
	whole, part, _ := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	if len(whole) != 5 || strings.Trim(whole+part, "0123456789") != "" {
		return csvDay{}, false
	}
	n, _ := strconv.Atoi(whole)
	if n < 36526 || n > 73050 {
		return csvDay{}, false
	}
	day := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, n)
	d := csvDay{day: day.Format(time.DateOnly), serial: true}
	if fraction, err := strconv.ParseFloat("0."+part, 64); err == nil && fraction > 0 {
		d.clock, d.timed = time.Duration(math.Round(fraction*86400))*time.Second, true
	}
	return d, true
}

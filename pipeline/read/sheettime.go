package read

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// longestSeconds bounds a time or a rest: six hours.
const longestSeconds = 6 * 3600

// A speed outside these limits shows that a time was written in another unit
// than it seems. They are far wider than what screening allows: the fastest
// swimmers of the world reach 2.4 m/s over 50 m (20.9 s with a dive, from
// memory), and who moves by 0.1 m/s does not swim.
const (
	impossiblyFastMPS = 3.5
	impossiblySlowMPS = 0.1
	// A reading in another unit is believed within these.
	believableFastMPS = 2.6
	believableSlowMPS = 0.2
)

// seconds is a time as a cell states it.
type seconds struct {
	s     float64
	parts int     // 1: a plain number, 2: m:ss, 3: h:mm:ss or m:ss:hh
	last  float64 // the last of three parts
	step  float64 // what a unit of the last written place stands for, s
	pairs bool    // three parts of which the last two have two digits each and nothing behind
}

// parseSeconds reads a time or a rest: seconds (30.5, 30,5 s), m:ss.s, h:mm:ss,
// 1'05"2, 30"5, 1 min 05.2 s, 1.05,2 and 1.05.2 (points as a stopwatch shows
// them), and what spreadsheets make of times: 12:01:05 AM, 1899-12-30 00:01:05.
func (t *csvTable) parseSeconds(cell string) (seconds, bool) {
	text := strings.ToLower(strings.TrimSpace(cell))
	text = stopwatchSigns(dateOfNought(text))
	text, ok := withoutHalfDay(text)
	if !ok {
		return seconds{}, false
	}
	for _, unit := range []string{"seconds", "secs", "sec.", "sec", "sek.", "sek", "seg", "s"} {
		if before, found := strings.CutSuffix(text, unit); found {
			text = strings.TrimSpace(before)
			break
		}
	}
	if whole, part, found := strings.Cut(text, "."); found && !strings.Contains(text, ":") &&
		isDigits(whole) && len(part) > 3 && (part[2] == '.' || part[2] == ',') && isDigits(part[:2]) && isDigits(part[3:]) {
		text = whole + ":" + part // 1.05,2: the first point stands for the colon
	}
	parts := strings.Split(text, ":")
	if len(parts) > 3 {
		return seconds{}, false
	}
	d := seconds{parts: len(parts), step: 1, pairs: len(parts) == 3}
	for i, part := range parts {
		part = strings.TrimSpace(part)
		if i < len(parts)-1 && !isDigits(part) {
			return seconds{}, false
		}
		x, places, ok := t.decimal(part)
		if !ok || x < 0 || math.Signbit(x) || strings.ContainsAny(part[:1], "+-\u2212") || i > 0 && x >= 60 {
			return seconds{}, false
		}
		d.s, d.last, d.step = 60*d.s+x, x, math.Pow(10, -float64(places))
		d.pairs = d.pairs && (i == 0 || len(part) == 2 && isDigits(part))
	}
	return d, true
}

// decimal reads a plain number, or one in powers of ten as spreadsheets write
// small ones, with the places behind its point.
func (t *csvTable) decimal(text string) (x float64, places int, ok bool) {
	mantissa, exponent, powers := text, 0, false
	if cut := strings.IndexByte(strings.ToLower(text), 'e'); cut > 0 {
		n, err := strconv.Atoi(text[cut+1:])
		if err != nil || n < -12 || n > 6 {
			return 0, 0, false
		}
		mantissa, exponent, powers = text[:cut], n, true
	}
	if text == "" {
		return 0, 0, false
	}
	x, ok = t.csvNumber(mantissa)
	if cut := strings.IndexAny(mantissa, ".,"); cut >= 0 {
		places = len(mantissa) - cut - 1
	}
	if powers {
		places -= exponent
		x, _ = strconv.ParseFloat(fmt.Sprintf("%se%d", strings.Replace(mantissa, ",", ".", 1), exponent), 64)
	}
	return x, places, ok
}

// stopwatchSigns turns 1'05"2, 30"5, 1 min 05.2 and 1m05s2 into m:ss.s.
func stopwatchSigns(text string) string {
	text = strings.NewReplacer("\u2032", "'", "\u2019", "'", "\u2018", "'", "\u00b4", "'", "`", "'", "\u2033", `"`, "\u201d", `"`, "\u201c", `"`, "\u201e", `"`,
		"''", `"`, "minutes", "'", "mins", "'", "min.", "'", "min", "'", "mn", "'").Replace(text)
	if cut := strings.IndexByte(text, 'm'); cut > 0 && cut+1 < len(text) && isDigits(text[:cut]) {
		text = text[:cut] + "'" + text[cut+1:]
	}
	minutes, rest, hasMinutes := strings.Cut(text, "'")
	if !hasMinutes {
		rest = text
	}
	rest = strings.TrimSpace(rest)
	whole, part, hasSeconds := strings.Cut(rest, `"`)
	if !hasSeconds && hasMinutes {
		if before, after, found := strings.Cut(rest, "s"); found && isDigits(strings.TrimSpace(after)) { // 1m05s2
			whole, part, hasSeconds = before, strings.TrimSpace(after), true
		}
	}
	if hasSeconds {
		whole, part = strings.TrimSpace(whole), strings.TrimSpace(part)
		part = strings.TrimLeft(part, ".,")
		if part != "" && (!isDigits(part) || !isDigits(whole)) {
			return text
		}
		if rest = whole; part != "" {
			rest += "." + part
		}
	}
	if !hasMinutes {
		return rest
	}
	minutes = strings.TrimSpace(minutes)
	if rest == "" {
		rest = "00"
	}
	return minutes + ":" + rest
}

// dateOfNought takes off the date that spreadsheets put before a time of
// their own: 30 or 31 December 1899, or day nought of 1900.
func dateOfNought(text string) string {
	for _, day := range []string{"1899-12-30", "1899-12-31", "1900-01-00", "1900-01-01", "30.12.1899", "31.12.1899", "00.01.1900",
		"30/12/1899", "31/12/1899", "12/30/1899", "12/31/1899", "1/0/1900", "00/01/1900", "0/1/1900"} {
		if after, found := strings.CutPrefix(text, day); found && len(after) > 1 && (after[0] == ' ' || after[0] == 't') {
			return strings.TrimSpace(after[1:])
		}
	}
	return text
}

// withoutHalfDay takes AM off a time that a spreadsheet shows as one of the
// day; its hour 12 is nought. After noon nothing can be a swim's time.
func withoutHalfDay(text string) (string, bool) {
	for _, end := range []string{"am", "a.m.", "vorm."} {
		before, found := strings.CutSuffix(text, end)
		if !found {
			continue
		}
		before = strings.TrimSpace(before)
		if hours, after, timed := strings.Cut(before, ":"); timed && hours == "12" {
			return "0:" + after, true
		}
		return before, strings.Contains(before, ":")
	}
	return text, !strings.HasSuffix(text, "pm")
}

// swimSeconds reads the time of a swim of so many metres. What the cell states
// is taken unless nobody could swim so; then a reading in another unit is taken
// if just one is believable, and said says so. why says why there is none.
//
// The units that spreadsheets make: shares of a day (0.000347222 for 30 s), the
// minutes of a time taken for hours (1:05:00 for 1:05, as a share of a day
// 0.0451389 too), and m:ss:hh.
func (t *csvTable) swimSeconds(cell string, metres float64) (s float64, said, why string) {
	d, ok := t.parseSeconds(cell)
	if !ok || d.s == 0 {
		return 0, "", fmt.Sprintf("%s is no time; write seconds or m:ss.s", csvShown(cell))
	}
	if !(metres > 0) {
		if d.s > longestSeconds || d.s < shortestTimeS {
			return 0, "", fmt.Sprintf("%s is no time; write seconds or m:ss.s", csvShown(cell))
		}
		return d.s, "", ""
	}
	speed := func(seconds float64) float64 { return metres / seconds }
	if v := speed(d.s); v <= impossiblyFastMPS && v >= impossiblySlowMPS && d.s <= longestSeconds {
		return d.s, "", ""
	}
	type other struct {
		s, step float64
		words   string
	}
	var others []other
	if d.parts == 1 && d.s < 0.5 {
		others = append(others, other{d.s * 86400, d.step * 86400, "a share of a day, as spreadsheets keep times"},
			other{d.s * 1440, d.step * 1440, "a share of a day in which a spreadsheet took minutes for hours"})
	}
	if d.pairs {
		if d.last == 0 {
			others = append(others, other{d.s / 60, 1, "minutes and seconds that a spreadsheet took for hours and minutes"})
		} else {
			minutes := math.Floor(d.s / 3600)
			rest := math.Floor((d.s - 3600*minutes) / 60)
			others = append(others, other{60*minutes + rest + d.last/100, 0.01, "minutes, seconds and hundredths"})
		}
	}
	for _, o := range others {
		if v := speed(o.s); v > believableFastMPS || v < believableSlowMPS {
			continue
		}
		if half := o.step / 2; d.parts == 1 && half > mostRounding*o.s {
			return 0, "", fmt.Sprintf("%s is %s, written with too few places: it stands for %.1f to %.1f s; let the spreadsheet show m:ss.0, or more places",
				csvShown(cell), o.words, o.s-half, o.s+half)
		}
		// Nobody stops to more than the hundredth; the rest is the share's own rounding.
		return math.Round(o.s*100) / 100, fmt.Sprintf("%s is read as %s: %s", csvShown(cell), o.words, secondsInWords(o.s)), ""
	}
	if d.s < shortestTimeS || d.s > longestSeconds {
		return 0, "", fmt.Sprintf("%s is no time for %.4g m; write seconds or m:ss.s", csvShown(cell), metres)
	}
	if d.parts == 1 && strings.ContainsAny(cell, ".,") && speed(d.s) > impossiblyFastMPS &&
		speed(d.s*60) < believableFastMPS && speed(d.s*60) > believableSlowMPS {
		return 0, "", fmt.Sprintf("%s s for %.4g m is faster than anybody swims; minutes are written 1:05.2", csvShown(cell), metres)
	}
	return d.s, "", "" // recorded so; screening judges it
}

// mostRounding is how much of a time its writing may have rounded away.
const mostRounding = 0.005

// shortestTimeS is below any time that a person swims: what is shorter was
// written in another unit.
const shortestTimeS = 0.1

// restSeconds reads a rest. slipped says that the row's time was read as
// minutes that a spreadsheet took for hours.
func (t *csvTable) restSeconds(cell string, slipped bool) (s float64, said string, ok bool) {
	d, ok := t.parseSeconds(cell)
	switch {
	case !ok:
		return 0, "", false
	case d.parts == 1 && d.s > 0 && d.s < 0.05 && d.step <= 1.1e-5:
		s = math.Round(d.s*86400*10) / 10
		said = fmt.Sprintf("%s is read as a share of a day, as spreadsheets keep times: %s", csvShown(cell), secondsInWords(s))
	case slipped && d.pairs && d.last == 0:
		s = d.s / 60
		said = fmt.Sprintf("%s is read as minutes and seconds that a spreadsheet took for hours and minutes: %s", csvShown(cell), secondsInWords(s))
	default:
		s = d.s
	}
	return s, said, s <= longestSeconds
}

// canSlip reports whether a cell may hold minutes and seconds that a
// spreadsheet took for hours and minutes.
func (t *csvTable) canSlip(cell string) bool {
	d, ok := t.parseSeconds(cell)
	return ok && d.pairs && d.last == 0 && d.s > 0
}

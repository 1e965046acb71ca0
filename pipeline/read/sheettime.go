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
	plain bool    // a number without colons
	step  float64 // what a unit of its last written place stands for, s
	other float64 // three pairs of digits as minutes, seconds and hundredths; NaN for anything else
	whole bool    // the hundredths are nought, as where a spreadsheet took m:ss for hours and minutes
}

// parseSeconds reads a time or a rest: seconds (30.5, 30,5 s), m:ss.s, h:mm:ss,
// 1'05"2, 30"5, 1 min 05.2 s, 1.05,2 and 1.05.2 (points as a stopwatch shows
// them), and what spreadsheets make of times: 12:01:05 AM, 1899-12-30 00:01:05.
func (t *csvTable) parseSeconds(cell string) (seconds, bool) {
	text := strings.TrimSpace(cell)
	if plainDecimal(text) {
		x, ok := t.csvNumber(text)
		if !ok {
			return seconds{}, false
		}
		return seconds{s: x, plain: true, step: math.Pow(10, -float64(placesOf(text))), other: math.NaN()}, true
	}
	if strings.Trim(text, "0123456789.,:") != "" {
		ok := false
		if text, ok = plainSeconds(strings.ToLower(text)); !ok {
			return seconds{}, false
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
	d := seconds{plain: len(parts) == 1, step: 1, other: math.NaN()}
	pairs := len(parts) == 3
	for i, part := range parts {
		part = strings.TrimSpace(part)
		if i < len(parts)-1 && !isDigits(part) {
			return seconds{}, false
		}
		pair := i == 0 || len(part) == 2 && isDigits(part)
		x, places, ok := t.decimal(part)
		if !ok || x < 0 || math.Signbit(x) || strings.ContainsAny(part[:1], "+-\u2212") || i > 0 && x >= 60 && !(pairs && i == 2 && pair) {
			return seconds{}, false
		}
		if pairs = pairs && pair; pairs && i == 2 {
			d.other, d.whole = d.s+x/100, x == 0
		}
		if d.s, d.step = 60*d.s+x, math.Pow(10, -float64(places)); i == 2 && x >= 60 {
			d.s = math.NaN() // 0:22:70 can only be 22.70 s
		}
	}
	return d, true
}

// plainSeconds takes words and signs off a time: what is left are digits,
// points and colons, or it is no time.
func plainSeconds(text string) (string, bool) {
	text, ok := withoutHalfDay(stopwatchSigns(dateOfNought(text)))
	for _, unit := range []string{"seconds", "secs", "sec.", "sec", "sek.", "sek", "seg", "s"} {
		if before, found := strings.CutSuffix(text, unit); found {
			text = strings.TrimSpace(before)
			break
		}
	}
	return text, ok
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
	if !ok || d.s == 0 || math.IsNaN(d.s) && !(metres > 0) {
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
	believable := func(seconds float64) bool {
		v := speed(seconds)
		return v <= believableFastMPS && v >= believableSlowMPS
	}
	switch day := 86400.0; {
	case believable(d.other):
		return hundredths(d.other), fmt.Sprintf("%s is read as %s: %s", csvShown(cell), d.pairsInWords(), secondsInWords(d.other)), ""
	case d.plain && d.s < 0.5 && (believable(d.s*day) || believable(d.s*day/60)):
		words := "a share of a day, as spreadsheets keep times"
		if !believable(d.s * day) {
			day, words = day/60, "a share of a day in which a spreadsheet took minutes for hours"
		}
		s = d.s * day
		if half := d.step * day / 2; half > mostRounding*s {
			return 0, "", fmt.Sprintf("%s is %s, written with too few places: it stands for %.1f to %.1f s; let the spreadsheet show m:ss.0, or more places",
				csvShown(cell), words, s-half, s+half)
		}
		return hundredths(s), fmt.Sprintf("%s is read as %s: %s", csvShown(cell), words, secondsInWords(s)), ""
	case math.IsNaN(d.s) || d.s < shortestTimeS || d.s > longestSeconds:
		return 0, "", fmt.Sprintf("%s is no time for %.4g m; write seconds or m:ss.s", csvShown(cell), metres)
	case d.plain && strings.ContainsAny(cell, ".,") && speed(d.s) > impossiblyFastMPS && believable(d.s*60):
		return 0, "", fmt.Sprintf("%s s for %.4g m is faster than anybody swims; minutes are written 1:05.2", csvShown(cell), metres)
	}
	return d.s, "", "" // recorded so; screening judges it
}

// hundredths rounds seconds to what a hand can stop; what is behind is the
// noise of a share of a day.
func hundredths(s float64) float64 { return math.Round(s*100) / 100 }

// pairsInWords says what three pairs of digits are when they are no hours.
func (d seconds) pairsInWords() string {
	if d.whole {
		return "minutes and seconds that a spreadsheet took for hours and minutes"
	}
	return "minutes, seconds and hundredths"
}

// mostRounding is how much of a time its writing may have rounded away.
const mostRounding = 0.005

// shortestTimeS is below any time that a person swims: what is shorter was
// written in another unit.
const shortestTimeS = 0.1

// restSeconds reads a rest. A share of a day cannot be mistaken: nobody writes
// down ten-thousandths of a second. Three pairs of digits that can only be
// minutes, seconds and hundredths are read so; slips says that they may be.
func (t *csvTable) restSeconds(cell string) (s float64, said string, slips, ok bool) {
	d, ok := t.parseSeconds(cell)
	switch {
	case !ok:
		return 0, "", false, false
	case d.plain && d.s > 0 && d.s < 0.05 && d.step <= 1.1e-5:
		s = math.Round(d.s*86400*10) / 10
		return s, fmt.Sprintf("%s is read as a share of a day, as spreadsheets keep times: %s", csvShown(cell), secondsInWords(s)), false, true
	case math.IsNaN(d.s):
		return d.other, fmt.Sprintf("%s is read as %s: %s", csvShown(cell), d.pairsInWords(), secondsInWords(d.other)), false, d.other <= longestSeconds
	}
	return d.s, "", !math.IsNaN(d.other) && d.other > 0, d.s <= longestSeconds
}

package read

import (
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// heading is what a header says of the cells below it.
type heading struct {
	column string           // ours
	rank   headingRank      // how it is known
	pool   string           // unit of pool cells that state none: m or y
	yards  bool             // distances are in yards
	metres bool             // distances are in metres, by the header's own word
	inPool bool             // distances are in the pool's unit
	after  bool             // rests come after the row's swim
	mean   bool             // strokes are the mean of a length
	basis  study.CountBasis // what a stroke is, "" when the header does not say
	countS float64          // of countColumn: over so many seconds

	group  groupKind // what the number counts, "" when there is none
	number int       // of the repeat or length whose cells these are
}

// countColumn is what is under a header that says over which time beats were
// counted. It is no name that a user writes.
const countColumn = "hr count"

// firstNames and lastNames are columns of parts of a name, which stand beside
// swimmer or instead of it. They are no names that a user writes.
const (
	firstNames = "first name"
	lastNames  = "last name"
)

// headingRank is how a header is known; the lower outranks the higher.
type headingRank int

const (
	byStudyFile headingRank = iota // columns of the input say so
	byName                         // it is our name
	byMeaning                      // it means the same in the trade's language
)

// groupKind is what the numbers in the headers of a wide sheet count.
type groupKind string

const (
	byRep     groupKind = "rep"
	bySet     groupKind = "set"
	byLength  groupKind = "length"
	bySwimmer groupKind = "swimmer" // the line above names them
)

// headings knows the headers of one input.
type headings struct {
	renamed map[string]string // the study file's header, as csvHeader gives it -> our column
	keys    map[string]string // the same by headerKey
	names   map[string]string // our names by headerKey
	tempo   bool              // tempo means time, as it does in Italian and Portuguese; in German and English it is a pace
}

// newHeadings takes the columns of an input: our name -> the sheet's header.
func newHeadings(columns map[string]string) *headings {
	h := &headings{renamed: map[string]string{}, keys: map[string]string{}, names: map[string]string{}}
	for _, name := range study.ColumnNames(study.Sheet) {
		h.names[headerKey(name)] = name
	}
	for _, name := range study.ColumnNames(study.Sheet) { // in order, for a header given twice
		header, given := columns[name]
		if !given {
			continue
		}
		if key := csvHeader(header); key != "" && h.renamed[key] == "" {
			h.renamed[key] = name
		}
		if key := headerKey(header); key != "" && h.keys[key] == "" {
			h.keys[key] = name
		}
	}
	return h
}

// of tells what a header says, false when nothing is known of it. A number in
// it that may count repeats is told by grouped.
func (h *headings) of(header string) (heading, bool) {
	tokens := headerTokens(header)
	if column := h.renamed[csvHeader(header)]; column != "" {
		return renamedHeading(column, tokens), true
	}
	return h.byWords(tokens)
}

// byWords looks header words up.
func (h *headings) byWords(tokens []string) (heading, bool) {
	key := strings.Join(tokens, "")
	if key == "" {
		return heading{}, false
	}
	if column := h.keys[key]; column != "" {
		return renamedHeading(column, tokens), true
	}
	if seconds, rest := countSeconds(tokens); seconds > 0 {
		base := strings.Join(rest, "")
		if h.keys[base] == "hr" || h.names[base] == "hr" || headerWords[base].column == "hr" || beatWords[base] {
			return heading{column: countColumn, rank: byMeaning, countS: seconds}, true
		}
	}
	if name := h.names[key]; name != "" {
		return heading{column: name, rank: byName, metres: name == "distance_m"}, true
	}
	if found, ok := headerWords[key]; ok && (key != "tempo" || h.tempo) {
		found.rank = byMeaning
		return found, true
	}
	for last := len(tokens) - 1; last > 0; last-- { // the unit, in one word or several
		word := strings.Join(tokens[:last], "")
		base, ok := headerWords[word]
		if name := h.names[word]; name != "" {
			base, ok = heading{column: name}, true
		}
		if !ok || word == "tempo" && !h.tempo {
			continue
		}
		base.rank = byMeaning
		if base.takesUnit(strings.Join(tokens[last:], "")) {
			return base, true
		}
	}
	return heading{}, false
}

// renamedHeading is a header that the study file names, with the unit that it
// may carry all the same.
func renamedHeading(column string, tokens []string) heading {
	d := heading{column: column, rank: byStudyFile}
	if seconds, _ := countSeconds(tokens); column == "hr" && seconds > 0 {
		d.column, d.countS = countColumn, seconds
	}
	for last := len(tokens) - 1; last > 0; last-- {
		if d.takesUnit(strings.Join(tokens[last:], "")) {
			break
		}
	}
	return d
}

// takesUnit reports whether a column's header may carry a unit, and keeps what
// it says.
func (d *heading) takesUnit(unit string) bool {
	switch d.column {
	case "time", "rest", "hr_delay", "wall_time":
		switch unit {
		case "s", "sec", "secs", "second", "seconds", "sek", "sekunden", "seg", "segundos", "secondes", "secondi":
			return true
		case "mmss", "mss", "mmsss", "hhmmss", "hmmss", "minsec", "mins":
			return d.column != "hr_delay" && d.column != "wall_time"
		}
	case "distance_m":
		switch unit {
		case "m", "metre", "metres", "meter", "meters", "metros", "metri":
			d.metres = true
			return true
		case "y", "yd", "yds", "yard", "yards":
			d.yards = true
			return true
		}
	case "pool":
		switch unit {
		case "m", "metre", "metres", "meter", "meters", "metros", "metri":
			d.pool = "m"
			return true
		case "y", "yd", "yds", "yard", "yards":
			d.pool = "y"
			return true
		}
	case "strokes":
		switch unit {
		case "perlength", "length", "pl", "mean", "avg", "average":
			d.mean = true
			return true
		case "total", "sum", "count", "n", "no":
			return true
		}
	case "hr":
		return unit == "bpm" || unit == "permin" || unit == "min" || unit == "bmin" || unit == "slagmin" || unit == "perminute"
	case "lactate", "lactate_before":
		return unit == "mmol" || unit == "mmoll" || unit == "mm" || unit == "mmolperl"
	case "rpe":
		return unit == "cr10" || unit == "10" || unit == "010" || unit == "110" || unit == "borgcr10"
	case "vo2":
		return unit == "mlkgmin" || unit == "mlminkg" || unit == "mlperkgpermin"
	case "rate_target":
		return unit == "spm" || unit == "permin" || unit == "strokesmin" || unit == "min"
	}
	return false
}

// countSeconds finds the seconds of a pulse count at the end of header words:
// hr 10, hr 10 s, pulse in 15 sec. Only the times over which pulse is counted
// are taken (common practice, no source).
func countSeconds(tokens []string) (seconds float64, rest []string) {
	n := len(tokens)
	if n > 0 {
		switch tokens[n-1] {
		case "s", "sec", "secs", "seconds", "sek", "sekunden", "seg", "segundos", "secondes", "secondi":
			n--
		}
	}
	if n < 2 {
		return 0, nil
	}
	switch tokens[n-1] {
	case "6", "10", "15", "20", "30":
	default:
		return 0, nil
	}
	seconds, _ = strconv.ParseFloat(tokens[n-1], 64)
	rest = tokens[:n-1]
	for len(rest) > 1 {
		switch rest[len(rest)-1] {
		case "in", "over", "per", "pro", "en", "x", "em", "op", "count":
			rest = rest[:len(rest)-1]
			continue
		}
		break
	}
	return seconds, rest
}

// grouped tells what a header of a wide sheet says: rep1_time, Rep 1 time,
// 1_time, time_1, time (rep 1). A number without a word for it is a repeat's.
func (h *headings) grouped(header string) (heading, bool) {
	tokens := headerTokens(header)
	without := func(from, to int) []string { return append(append([]string{}, tokens[:from]...), tokens[to:]...) }
	try := func(kind groupKind, digits string, rest []string) (heading, bool) {
		n, err := strconv.Atoi(digits)
		if err != nil || n < 1 || n > mostGroups {
			return heading{}, false
		}
		found, ok := h.byWords(rest)
		found.group, found.number = kind, n
		return found, ok && found.column != string(kind)
	}
	for i := 0; i+1 < len(tokens); i++ {
		if kind := groupWords[tokens[i]]; kind != "" && isDigits(tokens[i+1]) {
			if found, ok := try(kind, tokens[i+1], without(i, i+2)); ok {
				return found, true
			}
		}
	}
	last := len(tokens) - 1
	if last < 1 {
		return heading{}, false
	}
	if isDigits(tokens[0]) {
		if kind := groupWords[tokens[1]]; kind != "" { // 1. Rep Zeit
			if found, ok := try(kind, tokens[0], without(0, 2)); ok {
				return found, true
			}
		}
		if found, ok := try(byRep, tokens[0], tokens[1:]); ok {
			return found, true
		}
	}
	if isDigits(tokens[last]) {
		return try(byRep, tokens[last], tokens[:last])
	}
	return heading{}, false
}

// mostGroups bounds the repeats side by side in one row.
const mostGroups = 200

// groupNumber reads the label of a group of columns: Rep 1, 1, #1, 1. rep.
func groupNumber(label string) (kind groupKind, number int, ok bool) {
	tokens := headerTokens(label)
	kind = byRep
	switch {
	case len(tokens) == 1 && isDigits(tokens[0]):
	case len(tokens) == 2 && groupWords[tokens[0]] != "" && isDigits(tokens[1]):
		kind, tokens = groupWords[tokens[0]], tokens[1:]
	case len(tokens) == 2 && groupWords[tokens[1]] != "" && isDigits(tokens[0]):
		kind = groupWords[tokens[1]]
	default:
		return "", 0, false
	}
	n, err := strconv.Atoi(tokens[0])
	return kind, n, err == nil && n >= 1 && n <= mostGroups
}

// headerTokens cuts a header into its words and numbers, without case, accents
// and signs: Rep1_HR (10 s) gives rep, 1, hr, 10, s.
func headerTokens(header string) []string {
	var tokens []string
	var token strings.Builder
	kind := 0 // of the token: 1 letters, 2 digits
	flush := func() {
		if token.Len() > 0 {
			tokens = append(tokens, token.String())
			token.Reset()
		}
	}
	for _, r := range norm.NFD.String(identity.Fold(header)) {
		now := 0
		switch {
		case unicode.Is(unicode.Mn, r):
			continue
		case unicode.IsLetter(r):
			now = 1
		case r >= '0' && r <= '9':
			now = 2
		}
		if now != kind {
			flush()
		}
		if kind = now; now != 0 {
			token.WriteRune(r)
		}
	}
	flush()
	return tokens
}

// headerKey is the header's words and numbers in one.
func headerKey(header string) string { return strings.Join(headerTokens(header), "") }

func isDigits(text string) bool {
	return text != "" && len(text) <= 9 && strings.Trim(text, "0123456789") == ""
}

package read

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"lengthwise/pipeline/identity"
)

// csvNumber reads a plain decimal number; a comma may stand for the point.
// Where commas separate cells, 1,500 may be either and is refused.
func (t *csvTable) csvNumber(cell string) (float64, bool) {
	text := strings.Replace(cell, "\u2212", "-", 1)
	if whole, part, found := strings.Cut(text, ","); found {
		if strings.ContainsAny(part, ",.") || strings.Contains(whole, ".") || t.comma == ',' && len(part) == 3 {
			return 0, false
		}
		text = whole + "." + part
	}
	if strings.Trim(strings.TrimPrefix(strings.TrimPrefix(text, "-"), "+"), "0123456789.") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

// longestSeconds bounds a time or a rest: six hours.
const longestSeconds = 6 * 3600

// csvSeconds reads seconds, m:ss.s or h:mm:ss, not below zero.
func (t *csvTable) csvSeconds(cell string) (float64, bool) {
	parts := strings.Split(cell, ":")
	if len(parts) > 3 {
		return 0, false
	}
	total := 0.0
	for i, part := range parts {
		if i < len(parts)-1 && (part == "" || strings.Trim(part, "0123456789") != "") {
			return 0, false
		}
		x, ok := t.csvNumber(part)
		if !ok || strings.ContainsAny(part, "+-\u2212") || i > 0 && x >= 60 {
			return 0, false
		}
		total = 60*total + x
	}
	return total, total <= longestSeconds
}

// csvWhole reads a whole number.
func (t *csvTable) csvWhole(cell string) (int, bool) {
	x, ok := t.csvNumber(cell)
	if !ok || x != math.Trunc(x) || math.Abs(x) > 1e6 {
		return 0, false
	}
	return int(x), true
}

// csvDate reads a date: 2026-03-02, 2026/03/02, or 2.3.2026 as day, month and
// year. 02/03/2026 means different days to different readers and is refused.
func csvDate(cell string) (string, bool) {
	for _, layout := range []string{time.DateOnly, "2006/01/02", "2.1.2006"} {
		if day, err := time.Parse(layout, cell); err == nil && day.Year() >= 1970 && day.Year() < 2200 {
			return day.Format(time.DateOnly), true
		}
	}
	return "", false
}

// csvWord gives the word in the form in which choices are compared.
func csvWord(cell string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '_' {
			return '-'
		}
		return r
	}, identity.Fold(cell))
}

// csvYes reads yes or no.
func csvYes(cell string) (is, ok bool) {
	switch csvWord(cell) {
	case "yes", "y", "true", "1":
		return true, true
	case "no", "n", "false", "0":
		return false, true
	}
	return false, false
}

// csvShown quotes a cell in a detail. Anything with letters may be somebody's
// name in the wrong column and stays out.
func csvShown(cell string) string {
	if len(cell) > 16 || strings.Trim(cell, "0123456789.,:;+-/ %") != "" {
		return "the text in it"
	}
	return strconv.Quote(cell)
}

// csvDetail says where in a table something was seen.
func csvDetail(row csvRow, column, format string, args ...any) string {
	where := fmt.Sprintf("line %d", row.line)
	if column != "" {
		where += ", column " + column
	}
	return where + ": " + fmt.Sprintf(format, args...)
}
